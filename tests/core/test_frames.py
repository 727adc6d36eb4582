"""Rigid motions: exact where they can be, never a mirror, and refused where the points say nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from padwright.core.base.errors import InputError
from padwright.core.geometry.frames import (
    datum_frame,
    fit_similarity,
    inverse_rigid,
    motion_between,
    moved,
    rigid,
    rotation_angle_deg,
    rotations_from_vectors,
)

vectors = st.lists(st.floats(-3.0, 3.0), min_size=3, max_size=3).map(np.array)
shifts = st.lists(st.floats(-500.0, 500.0), min_size=3, max_size=3).map(np.array)


def cloud(seed: int = 0, count: int = 12) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=(count, 3)) * [120.0, 80.0, 30.0]


@given(vectors, shifts, st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_fit_finds_any_motion_exactly_in_any_order_of_points(turn: np.ndarray, shift: np.ndarray, seed: int) -> None:
    truth = rigid(rotations_from_vectors(turn), shift)
    points = cloud(seed)
    order = np.random.default_rng(seed).permutation(len(points))
    fit = fit_similarity(points[order], moved(truth, points)[order], with_scale=False)
    found = rigid(fit.rotation, fit.translation)
    # 500 mm with 53 bits leaves 1e-13 mm a number; a thousand roundings of that are 1e-10.
    assert motion_between(found, truth, points) < 1e-10
    assert np.linalg.det(found[:3, :3]) == pytest.approx(1.0, abs=1e-12)


@given(vectors, shifts)
@settings(max_examples=60, deadline=None)
def test_a_motion_and_its_inverse_leave_points_where_they_were(turn: np.ndarray, shift: np.ndarray) -> None:
    motion = rigid(rotations_from_vectors(turn), shift)
    np.testing.assert_allclose(moved(inverse_rigid(motion), moved(motion, cloud())), cloud(), atol=1e-9)


@pytest.mark.parametrize("angle", [0.0, 1e-9, 1e-4, 0.1, 1.0, 3.0, np.pi])
def test_angle_of_a_rotation_vector_comes_back(angle: float) -> None:
    axis = np.array([0.48, -0.6, 0.64])
    assert rotation_angle_deg(rotations_from_vectors(angle * axis)) == pytest.approx(np.degrees(angle), abs=1e-7)


def test_a_mirrored_cloud_gets_a_rotation_and_is_said_to_be_mirrored() -> None:
    points = cloud()
    fit = fit_similarity(points, points * [-1.0, 1.0, 1.0])
    assert np.linalg.det(fit.rotation) == pytest.approx(1.0, abs=1e-12)
    assert fit.would_mirror
    assert not fit_similarity(points, points + 3.0).would_mirror
    flat = points * [1.0, 1.0, 0.0]  # a mirror and half a turn do the same to a flat cloud
    assert not fit_similarity(flat, flat * [-1.0, 1.0, 1.0]).would_mirror


def test_pairs_of_one_point_are_refused() -> None:
    with pytest.raises(InputError, match="one and the same point"):
        fit_similarity(np.zeros((4, 3)), cloud(count=4))


def test_datum_lays_three_points_on_the_plane_two_on_the_line_one_at_the_end() -> None:
    motion = rigid(rotations_from_vectors(np.array([0.4, -1.1, 2.0])), np.array([50.0, -20.0, 7.0]))
    plane = moved(motion, np.array([[0.0, 0.0, 0.0], [200.0, 0.0, 0.0], [0.0, 150.0, 0.0]]))
    line = moved(motion, np.array([[10.0, 20.0, 5.0], [110.0, 20.0, 9.0]]))
    end = moved(motion, np.array([[-30.0, 64.0, 3.0]]))[0]
    frame = datum_frame(plane, line, end)
    np.testing.assert_allclose(moved(frame, plane)[:, 2], 0.0, atol=1e-9)
    np.testing.assert_allclose(moved(frame, line)[:, 1], 0.0, atol=1e-9)
    np.testing.assert_allclose(moved(frame, line)[:, 0], [40.0, 140.0], atol=1e-9)
    assert moved(frame, end[None])[0, 0] == pytest.approx(0.0, abs=1e-9)
    assert moved(frame, moved(motion, np.array([[0.0, 0.0, 30.0]])))[0, 2] == pytest.approx(30.0)
    under = datum_frame(plane, line, end, outside=moved(motion, np.array([[0.0, 0.0, -30.0]]))[0])
    assert moved(under, moved(motion, np.array([[0.0, 0.0, -30.0]])))[0, 2] == pytest.approx(30.0)


def test_datum_refuses_points_that_pin_nothing() -> None:
    line = np.array([[0.0, 0.0, 0.0], [100.0, 0.0, 0.0]])
    with pytest.raises(InputError, match="one line"):
        datum_frame(np.array([[0.0, 0, 0], [100.0, 0, 0], [200.0, 0.05, 0]]), line, line[0])
    upright = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 50.0]])
    with pytest.raises(InputError, match="upright"):
        datum_frame(np.array([[0.0, 0, 0], [100.0, 0, 0], [0.0, 100.0, 0]]), upright, line[0])
