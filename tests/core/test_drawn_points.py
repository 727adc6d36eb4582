"""Drawn lines that miss the part are told with their key, and a grid is held against what a machine has."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from tests.support.slabs import reading_of, sheet

from padwright.core.base.errors import InputError
from padwright.core.base.progress import drain
from padwright.core.geometry.implicit import Grid
from padwright.core.job.schema import Pad, Relief
from padwright.core.stages.alignment.placed_scans import body_points
from padwright.core.stages.pad.pad import build_pad
from padwright.core.stages.pad.pad_settings import PadSettings
from padwright.core.stages.pad.work import pad_settings


def part(**pad) -> SimpleNamespace:
    mesh = sheet(lambda x, y: 0.0 * x, (100.0, 80.0), 10.0)
    wishes = {"fit_gap_mm": 0.4, "least_thickness_mm": 4.0, "cover_mm": 0.0, "rim_radius_mm": 2.0,
              "footprint_from": "clay", "contact_margin_mm": 10.0, **pad}  # fmt: skip
    base = SimpleNamespace(mesh=mesh, unit="mm", mm_per_number=1.0)
    return SimpleNamespace(base=base, aligned=None, impression=None, alignment=None, to_part=np.eye(4),
                           job=SimpleNamespace(pad=Pad(**wishes)))  # fmt: skip


def _settings(asked: SimpleNamespace) -> PadSettings:
    return pad_settings(asked, asked)[0]


NEAR = ((0.0, 0.0, 0.0), (50.0, 0.0, 0.0), (50.0, 150.0, 30.0))


def test_points_on_and_beside_the_scans_are_taken():
    assert body_points(part(), NEAR, "base") == pytest.approx(np.array(NEAR))


@pytest.mark.parametrize("far", [1e9, 400.0])
def test_points_far_away_are_refused_with_key_and_number(far):
    points = (*NEAR[:2], (0.0, far, 0.0))
    with pytest.raises(InputError, match=r"Point 3 at .* mm away from the base scan") as caught:
        _settings(part(footprint=points))
    assert caught.value.key == ("pad", "footprint")
    relief = Relief(kind="channel", points=points, width_mm=5.0, depth_mm=2.0, edge_radius_mm=1.0)
    with pytest.raises(InputError, match="Point 3 at") as caught:
        _settings(part(reliefs=(relief,)))
    assert caught.value.key == ("pad", "reliefs", 0, "points")


@pytest.mark.parametrize("high", [1e4, 1e12, np.inf])
def test_a_grid_that_would_take_too_much_is_refused(high):
    with pytest.raises(InputError, match="too fine for this part"):
        Grid.around(np.zeros(3), np.full(3, high), 1.0)


def test_an_outline_beside_the_clay_is_told():
    base, impression = sheet(lambda x, y: 0.0 * x, (40.0, 40.0), 2.0), sheet(slab, (40.0, 40.0), 2.0)
    outline = np.array([[30.0, 30.0, 0.0], [38.0, 30.0, 0.0], [38.0, 38.0, 0.0]])
    reading = reading_of(base, impression, (0.0, 0.0, -1.0))
    with pytest.raises(InputError, match=r"footprint around \(35, 33, 0\) mm lies beside the clay"):
        drain(build_pad(base, impression, reading, PadSettings(outline=outline)))


def slab(x, y):
    return np.where(np.maximum(np.abs(x), np.abs(y)) < 20.0, 12.0, 0.0)
