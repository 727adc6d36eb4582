"""A mat laid on a body side whose imprint is known: by places, by its load centers, by its outline; faults are said."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from tests.support.mats import TrueMat, mat_over

from padwright.core.base.errors import InputError, SolveError
from padwright.core.base.notes import Weight, weight_of
from padwright.core.job.mat_table import Mat
from padwright.core.stages.mats.find_pose import by_centers, by_pattern, size_by_spread
from padwright.core.stages.mats.mat_file import read_mat
from padwright.core.stages.mats.mat_pose import CellMap, map_by_places, plane_of, refuse_beyond
from padwright.core.stages.mats.mat_reading import MatReading
from padwright.core.stages.mats.pose_doubts import doubts_of_places, doubts_of_pose, refuse_unlike
from padwright.core.stages.mats.pressed_plan import PressedPlan, pressed_plan

PRESS = np.array([0.2, -0.3, -0.9]) / np.linalg.norm([0.2, -0.3, -0.9])
PITCH = (10.0, 10.0)
CENTERS = np.array([[-55.0, 8.0], [60.0, 0.0]])  # mm right and down; the one to the right bears less
CORNERS = np.array([[0, 0], [31, 0], [0, 35]])


def _heap(flat: np.ndarray, at: Any, deep: float, wide: float) -> np.ndarray:
    return deep * np.exp(-((flat - np.asarray(at)) ** 2).sum(axis=1) / (2.0 * wide**2))


@pytest.fixture(scope="module")
def imprint() -> tuple[np.ndarray, np.ndarray, PressedPlan]:
    """Return places of a body side, how deep it was pressed, and its plan; no turn or mirror leaves it as it is."""
    plane = plane_of(PRESS)
    right, down = np.meshgrid(np.arange(-150.0, 151.0, 3.0), np.arange(-110.0, 111.0, 3.0))
    flat = np.stack([right.ravel(), down.ravel()], axis=1)
    depth = (
        _heap(flat, CENTERS[0], 20.0, 26.0)
        + _heap(flat, CENTERS[1], 15.0, 22.0)
        + _heap(flat, (-10.0, 70.0), 7.0, 25.0)
    )
    depth = np.maximum(depth - 1.0, 0.0)
    vertices = flat @ plane + np.outer(0.05 * right.ravel(), PRESS) + np.array([10.0, 20.0, 30.0])
    shift = np.array([10.0, 20.0, 30.0]) @ plane.T
    spots = [SimpleNamespace(position_mm=(each + shift) @ plane) for each in CENTERS]
    reading: Any = SimpleNamespace(
        is_clay=np.ones(len(flat), bool), is_wall=np.zeros(len(flat), bool), imprint_depth=depth, load_centers=spots
    )
    plan = pressed_plan(reading, vertices, plane)
    assert plan is not None
    return vertices, depth, plan


def made(imprint: Any, **how: Any) -> TrueMat:
    return mat_over(imprint[0], imprint[1], PRESS, **{"noise": 0.1, **how})


def read(true: TrueMat, pitch: tuple[float, float] | None = PITCH) -> MatReading:
    text = "\n".join(",".join(f"{each:.3f}" for each in row) for row in true.kpa)
    return read_mat(text.encode(), "mat.csv", Mat(file="mat.csv", unit="kPa", pitch_mm=pitch))


def off_mm(found: CellMap, true: CellMap) -> float:
    """Return how far the farthest of three corners of the mat lies from where it truly lies."""
    return float(np.linalg.norm(found.flat_of(CORNERS) - true.flat_of(CORNERS), axis=1).max())


@pytest.mark.parametrize("turn", [0.0, 37.0, 90.0, 180.0, 263.0])
@pytest.mark.parametrize("flipped", [False, True])
def test_a_mat_is_found_by_its_outline_from_any_turn_also_seen_from_below(imprint, turn, flipped):
    true = made(imprint, turn_deg=turn, moved_mm=(25.0, -18.0), flipped=flipped)
    poses = by_pattern(true.kpa, PITCH, imprint[2], (False, True))
    assert poses[0].is_flipped == flipped
    # Half a cell at a corner 240 mm from the middle: about a degree.
    assert off_mm(poses[0].cells, true.cells) < 5.0
    assert poses[0].agreement > 0.95 > poses[1].agreement


@pytest.mark.parametrize("pitch", [(8.466, 8.466), (15.0, 12.0), (20.0, 20.0)])
def test_a_mat_of_any_pitch_is_found_by_its_outline(imprint, pitch):
    shape = (int(320 / pitch[0]), int(360 / pitch[1]))
    true = made(imprint, turn_deg=70.0, pitch=pitch, shape=shape)
    found = by_pattern(true.kpa, pitch, imprint[2], (False,))[0]
    corners = CORNERS * np.array(shape) / 32.0
    off = np.linalg.norm(found.cells.flat_of(corners) - true.cells.flat_of(corners), axis=1)
    assert off.max() < 0.5 * max(pitch) + 2.0


def test_a_mat_is_found_by_its_load_centers_and_tells_the_pitch(imprint):
    true = made(imprint, turn_deg=37.0, moved_mm=(25.0, -18.0))
    known = by_centers(true.kpa, PITCH, imprint[2], (False, True))[0]
    # A peak is known to a third of a cell at each end, 115 mm apart; corners are 240 mm away.
    assert not known.is_flipped and off_mm(known.cells, true.cells) < 18.0
    assert known.spacing_ratio == pytest.approx(1.0, abs=0.05)
    unknown = by_centers(true.kpa, None, imprint[2], (False,))[0]
    assert unknown.cells.cell_mm == pytest.approx(PITCH, rel=0.05)


def test_two_places_lay_it_and_three_tell_how_square_and_whether_flipped(imprint):
    true = made(imprint, turn_deg=20.0)
    cells = np.array([[2.0, 3.0], [28.0, 30.0], [29.0, 4.0]])
    points = true.cells.flat_of(cells) @ plane_of(PRESS)
    for count in (2, 3):
        assert off_mm(map_by_places(cells[:count], points[:count], PRESS), true.cells) < 1e-6
    below = made(imprint, turn_deg=20.0, flipped=True)
    points = below.cells.flat_of(cells) @ plane_of(PRESS)
    assert off_mm(map_by_places(cells, points, PRESS), below.cells) < 1e-6
    assert off_mm(map_by_places(cells[:2], points[:2], PRESS, flipped=True), below.cells) < 1e-6
    assert off_mm(map_by_places(cells[:2], points[:2], PRESS), below.cells) > 100.0
    with pytest.raises(InputError, match="lie on one line"):
        map_by_places(np.array([[0, 0], [5, 5], [9, 9]]), points, PRESS)
    with pytest.raises(InputError, match=r"cell \[3, 40\], but its rows go from 0 to 31"):
        refuse_beyond((32, 36), np.array([[3.0, 40.0]]))


@pytest.mark.parametrize(
    ("turns", "flip", "said"), [(2, False, "turned by half a turn"), (0, True, "looks flipped"), (1, False, "quarter")]
)
def test_a_mat_laid_the_wrong_way_round_by_its_places_is_told_how(imprint, turns, flip, said):
    true = made(imprint)
    mat = read(true)
    assert doubts_of_places(mat, true.cells, imprint[2], flipped=None) == []
    wrong = true.cells.turned(turns, flipped=flip, shape=mat.shape)
    notes = doubts_of_places(mat, wrong, imprint[2], flipped=None)
    assert said in notes[0] and weight_of(notes[0]) is Weight.ACT


def test_places_that_contradict_the_pitch_are_told(imprint):
    true = made(imprint)
    mat = read(true, pitch=(8.0, 8.0))
    notes = doubts_of_places(mat, true.cells, imprint[2], flipped=None)
    assert any("cells lie 10" in each and "the job says 8" in each for each in notes)


@pytest.mark.parametrize("wrong", [0.7, 1.4])
def test_a_wrong_pitch_is_told_with_the_one_that_fits(imprint, wrong):
    true = made(imprint)
    pitch = (wrong * 10.0, wrong * 10.0)
    mat = read(true, pitch=pitch)
    poses = by_pattern(mat.pressure, pitch, imprint[2], (False,))
    size = size_by_spread(mat.pressure, pitch, imprint[2])
    assert size * wrong == pytest.approx(1.0, abs=0.12)  # pressure is no depth: it is narrower
    notes = doubts_of_pose(mat, poses, 0, imprint[2], by_person=False)
    assert any("mm would fit the imprint. A wrong pitch" in each for each in notes)


def test_a_right_pose_raises_no_doubt_and_a_second_that_fits_does(imprint):
    mat = read(made(imprint, turn_deg=37.0))
    poses = by_pattern(mat.pressure, PITCH, imprint[2], (False, True))
    assert doubts_of_pose(mat, poses, 0, imprint[2], by_person=False) == []
    turned = replace(poses[0], cells=poses[0].cells.turned(2, flipped=False, shape=mat.shape))
    # A body whose thighs lay before its bones agreed by 0.04 more the wrong way round, on a round imprint.
    alike = [poses[0], replace(turned, agreement=poses[0].agreement - 0.04)]
    notes = doubts_of_pose(mat, alike, 0, imprint[2], by_person=False)
    assert "also fits turned by 180 degrees (pose 2" in notes[0] and weight_of(notes[0]) is Weight.ACT
    assert doubts_of_pose(mat, alike, 0, imprint[2], by_person=True) == []


def test_a_mat_that_fits_nowhere_is_refused():
    refuse_unlike(0.6)
    with pytest.raises(SolveError, match=r"at best they agree by 0.30 of 1"):
        refuse_unlike(0.3)
