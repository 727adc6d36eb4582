"""What smoothing the body side says of itself is what it did."""

from __future__ import annotations

import re

import numpy as np
import pytest

from padwright.core.stages.reading.impression import read_impression
from padwright.core.stages.reading.seat_on_base import smooth_body_side
from support.pressed_slabs import DOWN, plate, pressed


def cliff(x, y):
    """A hollow 9 mm deep, its walls as steep as the mesh has them: on them nothing moves along the press direction."""
    return np.where(np.hypot(x, y) < 22.0, 9.0, 0.0)


@pytest.mark.parametrize("width", [3.0, 6.0])
def test_the_largest_change_told_is_one_that_was_made_and_where_it_was(width):
    mesh = pressed(cliff)
    reading = read_impression(plate(), mesh, press_direction=DOWN, clay_thickness_mm=20.0, compare_sides=False)
    settled = smooth_body_side(mesh, reading, width)
    made = np.abs(settled.mesh.vertices - mesh.vertices)[reading.is_contact].max()
    assert 0.5 * made < settled.largest_change_mm <= made
    places = re.findall(r"at most [\d.]+ mm at \((.*?)\) mm", settled.notes[0])
    assert len(places) == (made >= 0.5)
    for place in places:
        x, y, _ = (float(value) for value in place.split(","))
        assert np.hypot(x, y) == pytest.approx(22.0, abs=2 * width)  # at the cliff
