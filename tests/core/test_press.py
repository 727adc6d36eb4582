"""The press direction found from the clay, where noise makes it hard."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.cases import make_case
from tests.support.slabs import noisy, sheet

from padwright.core.base.errors import InputError
from padwright.core.stages.reading.impression import read_impression
from padwright.core.stages.reading.press import clay_side
from support.pressed_slabs import DOWN, Dimple, pressed, together

LEFT, RIGHT = Dimple(-30.0, 4.0, 9.0, 16.0), Dimple(30.0, 4.0, 9.0, 16.0)
TWO = together(LEFT, RIGHT)


def test_auto_direction_holds_on_a_scan_so_dense_that_noise_turns_its_triangles():
    base = noisy(sheet(lambda x, y: np.zeros_like(x), (25.0, 20.0), 0.2), 0.3, 1)

    def clay(x, y):
        edge = np.minimum(18.0 - np.abs(x), 14.0 - np.abs(y))
        return np.clip(edge / 2.0 + 0.5, 0.0, 1.0) * (10.0 - 4.0 * np.exp(-(x**2 + y**2) / 100.0))

    impression = noisy(sheet(clay, (25.0, 20.0), 0.2), 0.3, 2)
    reading = read_impression(base, impression, press_direction="auto", compare_sides=False)
    assert reading.press_direction is not None
    # The stated uncertainty of at least one degree must hold it.
    turn = np.degrees(np.arccos(np.clip(-reading.press_direction[2], -1.0, 1.0)))
    assert turn <= reading.press.plus_minus_deg


def test_the_clays_side_does_not_depend_on_how_the_scan_is_turned():
    mesh = pressed(TWO)
    is_clay = mesh.vertices[:, 2] > 1.0
    outward = np.tile(-DOWN, (len(mesh.vertices), 1))
    for turned in (mesh, mesh.flipped()):
        np.testing.assert_allclose(clay_side(turned, is_clay, outward)[0], DOWN, atol=0.02)


@pytest.mark.parametrize(("lean", "said"), [(4.0, False), (24.0, True), (50.0, True)])
def test_a_given_direction_is_held_against_the_clays_side(lean, said):
    base, impression = leaning_scans()
    direction = (np.sin(np.radians(lean)), 0.0, -np.cos(np.radians(lean)))
    reading = read_impression(base, impression, press_direction=direction, compare_sides=False)
    # A slab with even walls: its vector area points straight up.
    assert reading.press.off_deg == pytest.approx(lean, abs=0.5)
    told = [note for note in reading.notes if f"{lean:.0f} degrees off the way the clay's body side faces" in note]
    assert (reading.notes[0] in told) == said


def test_a_direction_far_off_the_clays_side_is_refused():
    base, impression = leaning_scans()
    direction = (np.sin(np.radians(72.0)), 0.0, -np.cos(np.radians(72.0)))
    with pytest.raises(InputError, match="72 degrees off the way the clay's body side faces"):
        read_impression(base, impression, press_direction=direction, compare_sides=False)


@pytest.mark.parametrize("direction", [(0.0, 0.0, -1.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)])
def test_a_direction_for_clay_all_around_a_handle_is_refused_whichever_way_it_points(direction):
    case = make_case("grip", triangles=6_000, pose="none", debris=False, turntable=False)
    told = 'write: press_direction = "inward"'
    with pytest.raises(InputError, match="The clay lies all around the base") as raised:
        read_impression(case.base_mm, case.impression_aligned, press_direction=direction, compare_sides=False)
    assert told in str(raised.value).lower()


def leaning_scans():
    def clay(x, y):
        edge = np.minimum(40.0 - np.abs(x), 30.0 - np.abs(y))
        return np.clip(edge / 3.0, 0.0, 1.0) * (16.0 - 6.0 * np.exp(-(x**2 + y**2) / 300.0))

    return sheet(lambda x, y: 0.0 * x, (60.0, 50.0), 2.0), sheet(clay, (60.0, 50.0), 2.0)
