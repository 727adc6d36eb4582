"""Lines of very many corners: what they go around, and how long it takes."""

from __future__ import annotations

import time

import numpy as np
import pytest

from padwright.core.geometry.closed_lines import laid_along, turns_around
from padwright.core.geometry.through import body_side
from padwright.core.stages.zones.outlines import share_inside_drawn_line
from support.pad_shapes import sleeve_pad


def star(corners: int, jag_mm: float = 0.0) -> np.ndarray:
    """Return a closed five-armed line about (0, 0), its corners thrown in and out by up to so much."""
    angle = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False)
    radius = 80.0 * (1.0 + 0.1 * np.cos(5.0 * angle)) + jag_mm * np.random.default_rng(0).uniform(-1, 1, corners)
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)


PLACES = np.random.default_rng(1).uniform(-100.0, 100.0, (3000, 2))


@pytest.mark.parametrize("jag_mm", [0.0, 3.0])
def test_turns_are_those_of_the_angle_that_the_line_sweeps(jag_mm):
    # The winding number by its definition: the sum of the angles under which the sides are seen.
    line = star(500, jag_mm)
    seen = line[None] - PLACES[:300, None]
    after = np.roll(seen, -1, axis=1)
    swept = np.arctan2(seen[..., 0] * after[..., 1] - seen[..., 1] * after[..., 0], (seen * after).sum(axis=2))
    expected = np.rint(swept.sum(axis=1) / (2.0 * np.pi)).astype(int)
    assert (turns_around(line, PLACES[:300]) == expected).all()
    assert (turns_around(line[::-1], PLACES[:300]) == -expected).all()
    assert (expected == 1).any() and (expected == 0).any()


def test_a_line_that_runs_around_twice_counts_twice():
    twice = np.concatenate([star(40), 0.5 * star(40)])
    assert list(turns_around(twice, np.array([[0.0, 1.0], [60.0, 1.0], [99.0, 1.0]]))) == [2, 1, 0]


def test_corners_at_the_height_of_a_point_count_once():
    diamond = np.array([[10.0, 0.0], [0.0, 10.0], [-10.0, 0.0], [0.0, -10.0]])
    at = np.array([[0.0, 0.0], [-20.0, 0.0], [20.0, 0.0], [-20.0, 10.0], [-20.0, -10.0]])
    assert list(turns_around(diamond, at)) == [1, 0, 0, 0, 0]


def test_points_along_a_line_leave_no_gap_and_do_not_pile_up():
    coarse = laid_along(star(12), 2.0, is_closed=True)
    assert np.linalg.norm(coarse - np.roll(coarse, -1, axis=0), axis=1).max() <= 2.5
    fine = laid_along(star(200_000), 2.0, is_closed=True)
    length = np.linalg.norm(np.diff(star(5000), axis=0), axis=1).sum()
    assert length / 2.5 < len(fine) < 2.0 * length / 0.2  # some two cells of a tenth of a step side by side
    gaps = np.linalg.norm(fine - np.roll(fine, -1, axis=0), axis=1)
    assert gaps.max() <= 2.5
    open_line = laid_along(np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0]]), 2.0, is_closed=False)
    assert open_line[:, 0].tolist() == [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]


def test_a_line_of_100_000_corners_takes_no_seconds():
    places = np.tile(PLACES, (13, 1))
    began = time.process_time()
    turns_around(star(100_000), places)
    laid_along(star(100_000), 0.5, is_closed=True)
    assert time.process_time() - began < 2.0  # 0.1 s; corner by corner 20 s and more


def test_an_outline_of_very_many_corners_on_a_sleeve_is_the_line_they_lie_on():
    mesh = body_side(sleeve_pad()).mesh

    def region(corners: int) -> np.ndarray:
        turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
        points = np.stack([18 * np.cos(0.5 * np.cos(turn)), 18 * np.sin(0.5 * np.cos(turn)), 12 * np.sin(turn)], axis=1)
        # Thrown by 1 mm, so that one corner's nearest vertex is seldom the next one's.
        points += np.random.default_rng(0).uniform(-1.0, 1.0, points.shape) * (corners > 1000)
        return share_inside_drawn_line(mesh, points, 1.3)

    began = time.process_time()
    many = region(50_000)
    assert time.process_time() - began < 3.0  # 0.5 s; a search of its own from corner to corner takes a minute
    # The scattered line is some two edges wide; inside and outside of it nothing changes.
    assert np.mean(np.abs(many - region(200)) == 1.0) == 0.0
