"""Zones painted raggedly: they are cut into sound regions all the same, or told by name with what to do."""

import numpy as np
import pytest

from padwright.core.errors import InputError, SolidError
from padwright.core.firmness.zone_sources import Rest, Weights
from padwright.core.firmness.zones import ZonePlan, ZoneRequest, plan_zones
from padwright.core.output import settling
from padwright.core.output.regions import cut_regions
from padwright.core.progress import drain
from support.pad_shapes import ShapedPad, seat_pad, sleeve_pad

SEAT, SLEEVE = seat_pad(step=2.0), sleeve_pad()


def squares(pad: ShapedPad, size: float, axes: int = 3) -> np.ndarray:
    return (np.floor(pad.mesh.vertices[:, :axes] / size).sum(axis=1) % 2 == 0).astype(float)


def planned(pad: ShapedPad, weights: np.ndarray) -> ZonePlan:
    painted = ZoneRequest("painted", 4.0, Weights(pad.mesh.vertices, weights))
    return plan_zones(pad, None, [painted, ZoneRequest("rest", 2.0, Rest())])


# The first two made walls that touch themselves, the third a piece turned inside out.
@pytest.mark.parametrize(
    ("pad", "weights"),
    [
        (SEAT, squares(SEAT, 6.0)),
        (SEAT, squares(SEAT, 10.0, axes=2)),
        (SLEEVE, squares(SLEEVE, 6.0)),
        (SEAT, (np.arange(len(SEAT.mesh.vertices)) % 2).astype(float)),
        (SLEEVE, np.random.default_rng(3).random(len(SLEEVE.mesh.vertices))),
    ],
    ids=["squares", "wide squares", "squares on a sleeve", "every second vertex", "noise on a sleeve"],
)
def test_ragged_paint_is_cut_into_solids_that_add_up(pad, weights):
    found = drain(cut_regions(pad, planned(pad, weights), least_width_mm=1.0))
    assert all(region.mesh.is_closed for region in found.regions)
    # the walls cancel in the sum: only rounding is left
    assert sum(region.mesh.volume for region in found.regions) == pytest.approx(pad.mesh.volume, rel=1e-9)


def test_what_cannot_be_settled_names_the_zones_the_place_and_the_cure(monkeypatch):
    monkeypatch.setattr(settling, "_ATTEMPTS", 1)
    with pytest.raises(SolidError, match=r'The border of "painted" and "rest" is too ragged .* near \(') as caught:
        drain(cut_regions(SEAT, planned(SEAT, squares(SEAT, 6.0)), least_width_mm=1.0))
    assert caught.value.hint.startswith("Smooth the paint")


def test_paint_too_faint_to_count_is_said_with_its_weight():
    with pytest.raises(InputError, match=r'"painted" covers nothing .* its largest weight is 0\.49') as caught:
        planned(SEAT, np.full(len(SEAT.mesh.vertices), 0.49))
    assert "0.5" in caught.value.hint


def test_paint_over_everything_leaves_no_rest_and_says_so():
    plan = planned(SEAT, np.full(len(SEAT.mesh.vertices), 0.5))
    assert [zone.name for zone in plan.zones] == ["painted"]
    assert 'Nothing is left for the zone "rest"' in plan.notes[-1]
