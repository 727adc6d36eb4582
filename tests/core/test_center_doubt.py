"""How far load centers in virtual clay may lie off: round hollows whose lowest places are known."""

import numpy as np
import pytest

from padwright.core.stages.body.center_doubt import CenterDoubt
from padwright.core.stages.body.clay_bed import lay_clay
from support.scanned import grid

DOWN = np.array([0.0, 0.0, -1.0])
CURVE = 0.005  # per mm: a slope of 0.02 moves the lowest place by 4 mm
Z90 = 1.645


@pytest.fixture(scope="module")
def bed():
    ends = np.arange(-100.0, 100.1, 2.0)
    return lay_clay(grid(ends, ends, lambda x, y: 0.0 * x), DOWN, 20.0)


def hollows(bed, x, y=0.0):
    """Return two hollows over the bed's places, x to either side of the middle, in the part's axes."""
    flat = (bed.flat @ bed.axes)[:, :2]
    return 0.5 * CURVE * np.minimum(
        *(np.square(flat - [side * x, y]).sum(axis=1) for side in (-1.0, 1.0))
    )  # fmt: skip


PLACES = np.array([[-50.0, 0.0, 10.0], [50.0, 0.0, 10.0]])


def test_what_lies_apart_scatters_apart_and_what_moves_together_together(bed):
    """Bones 6 mm further out than the clay's hollows: the two move against each other, the spacing by 12."""
    left = hollows(bed, 50.0)
    scatter = CenterDoubt(bed, left, hollows(bed, 56.0), ()).scatter(PLACES)
    # A net of 1 mm tells a lowest place to half of one.
    assert np.sqrt(scatter[0, 0, 0, 0]) * Z90 == pytest.approx(6.0, abs=0.5)
    assert scatter[0, 0, 1, 0] == pytest.approx(-scatter[0, 0, 0, 0], rel=0.2)
    assert scatter[0, 1, 0, 1] < 0.5**2 and scatter[0, 2, 0, 2] == 0.0
    aside = CenterDoubt(bed, left, left, ((0.5, hollows(bed, 50.0, 7.0)), (0.5, hollows(bed, 50.0, -7.0)))).scatter(
        PLACES
    )
    assert np.sqrt(aside[1, 1, 1, 1]) * Z90 == pytest.approx(7.0, abs=0.5)
    assert aside[0, 1, 1, 1] == pytest.approx(aside[1, 1, 1, 1], rel=0.2)


def test_a_tilt_moves_the_lowest_place_by_slope_over_curvature(bed):
    left = hollows(bed, 50.0)
    scatter = CenterDoubt(bed, left, left, ()).tilted(0.02).scatter(PLACES)
    for axis in (0, 1):
        assert np.sqrt(scatter[0, axis, 0, axis]) * Z90 == pytest.approx(0.02 / CURVE, abs=0.7)


def test_without_load_centers_nothing_scatters(bed):
    assert CenterDoubt(bed, hollows(bed, 50.0), hollows(bed, 50.0), ()).scatter(np.zeros((0, 3))).shape == (0, 3, 0, 3)
