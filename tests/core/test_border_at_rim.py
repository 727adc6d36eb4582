"""A zone's border that comes to the pad's rim: what reaches over it in places is cut as the border of its own side."""

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.progress import drain
from padwright.core.geometry.through import BASE_SIDE, BODY_SIDE
from padwright.core.stages.regions.regions import cut_regions
from padwright.core.stages.zones.zone_sources import Rest, Weights
from padwright.core.stages.zones.zones import ZoneRequest, plan_zones
from support.pad_shapes import sleeve_pad


@pytest.mark.parametrize("turned", [0.1, 0.2])
def test_a_border_that_reaches_over_the_rim_in_places_is_paired_all_the_same(turned):
    sleeve = sleeve_pad()
    x, y, z = sleeve.mesh.vertices.T
    angle = np.abs(np.arctan2(y, x))
    inside = np.minimum(np.minimum(26.0 - z, z - 8.0), 16.0 * (1.2 - angle))
    # the sleeve's end bends over towards the hand there: the base's last millimeters face the body
    side = sleeve.side.copy()
    side[(side == BASE_SIDE) & (z > 25.0) & (angle < turned)] = BODY_SIDE
    pad = replace(sleeve, side=side)
    zones = [ZoneRequest("bearing", 4.0, Weights(pad.mesh.vertices, 1.0 / (1.0 + np.exp(-inside))))]
    plan = plan_zones(pad, None, [*zones, ZoneRequest("rest", 2.0, Rest())])
    found = drain(cut_regions(pad, plan, least_width_mm=0.9))
    assert [region.name for region in found.regions] == ["bearing", "rest"]
    assert found.notes == ()  # nothing had to be moved
    # the walls cancel in the sum: only rounding is left
    assert sum(region.mesh.volume for region in found.regions) == pytest.approx(pad.mesh.volume, rel=1e-9)
    # 18 mm of a wall of about 6 mm, 2.4 rad wide at a mean radius of 15 mm, rounded corners and waves aside
    assert found.regions[0].volume_cm3 == pytest.approx(18.0 * 6.0 * 2.4 * 15.0 / 1000.0, rel=0.15)
