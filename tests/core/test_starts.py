"""Lines to start drawing from, and the checks of an envelope."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.stages.pad.envelope import check_envelope
from padwright.core.stages.reading.starts import across, laid_on, outline_around


def disc(first: float, second: float, count: int = 9000) -> np.ndarray:
    """Return points spread evenly over an ellipse in the plane, on a shallow bowl."""
    chance = np.random.default_rng(3)
    radius, turn = np.sqrt(chance.uniform(size=count)), chance.uniform(0, 2 * np.pi, count)
    x, y = first * radius * np.cos(turn), second * radius * np.sin(turn)
    return np.stack([x, y, 0.002 * (x * x + y * y)], axis=1)


@pytest.mark.parametrize("turn", [np.eye(3), np.linalg.qr(np.random.default_rng(1).normal(size=(3, 3)))[0]])
def test_the_start_runs_along_the_edge_and_lies_above_it(turn: np.ndarray) -> None:
    line = outline_around(disc(130.0, 90.0) @ turn.T + 7.0, turn[:, 2], count=24, lift_mm=2.0)
    local = (line - 7.0) @ turn
    reach = np.hypot(local[:, 0] / 130.0, local[:, 1] / 90.0)
    assert reach.min() > 0.94 and reach.max() < 1.0  # 98 % of each sector's points, as is said
    height = local[:, 2] - 0.002 * (local[:, 0] ** 2 + local[:, 1] ** 2)
    assert height.min() > 1.0 and height.max() < 4.0  # the highest of the nearest eight, and the lift


def test_the_start_does_not_depend_on_the_order_of_the_points() -> None:
    points = disc(130.0, 90.0)
    other = points[np.random.default_rng(2).permutation(len(points))]
    assert np.allclose(outline_around(points, np.eye(3)[2]), outline_around(other, np.eye(3)[2]))


def test_a_sector_without_points_is_bridged() -> None:
    points = disc(100.0, 100.0)
    wedge = np.abs(np.arctan2(points[:, 1], points[:, 0])) < 0.3
    line = outline_around(points[~wedge], np.eye(3)[2], count=16)
    assert np.isfinite(line).all()


def test_too_few_points_are_refused() -> None:
    with pytest.raises(InputError, match="Only 5 points"):
        outline_around(np.zeros((5, 3)), np.eye(3)[2])


def test_a_figure_lies_on_the_points_around_its_place() -> None:
    points = disc(130.0, 90.0)
    frame = across(points, np.array([0.0, 0.0, 2.0]))
    assert np.allclose(np.abs(frame), np.eye(3), atol=0.02)
    middle = np.array([40.0, -10.0, 50.0])
    line = laid_on(points, frame, middle, np.array([[-20.0, 0.0], [20.0, 0.0]]), 1.0)
    assert np.allclose(line.mean(axis=0)[:2], middle[:2], atol=1e-9)
    assert line[0, 2] < 10.0 and line[1, 2] < 14.0


def plate() -> TriMesh:
    x, y = np.meshgrid(np.linspace(-100, 100, 41), np.linspace(-80, 80, 33), indexing="ij")
    index = np.arange(x.size).reshape(x.shape)
    corner = [index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]]
    first, second, third, fourth = (each.ravel() for each in corner)
    faces = np.concatenate([np.stack([first, second, third], axis=1), np.stack([first, third, fourth], axis=1)])
    return TriMesh(np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1), faces)


def block(low: float, high: float) -> TriMesh:
    corners = np.array([[x, y, z] for x in (-30, 30) for y in (-20, 20) for z in (low, high)], dtype=float)
    faces = [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
             [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3]]  # fmt: skip
    return TriMesh(corners, np.array(faces))


def test_an_envelope_over_the_base_is_measured() -> None:
    assert check_envelope(block(-5.0, 12.0), plate()) == pytest.approx(12.0)


@pytest.mark.parametrize(
    ("solid", "said"),
    [
        (block(-30.0, -5.0), r"stands out 0\.0 mm"),
        (block(400.0, 420.0), "is 400 mm away from the base and only 60 mm long"),
        (block(-5.0, 12.0).submesh(np.arange(12) > 1), "not closed: 4 open edges"),
        (block(-5.0, 12.0).scaled(25.4), r"is 1524 mm long and the base scan only \d+ mm"),
    ],
)
def test_an_envelope_of_no_use_is_refused(solid: TriMesh, said: str) -> None:
    with pytest.raises(InputError, match=said):
        check_envelope(solid, plate())
