"""Crumbs of a zone go to the zone around them; what a person asked for stays."""

from __future__ import annotations

import numpy as np
from tests.support.scanned import grid

from padwright.core.geometry.fields import pieces
from padwright.core.stages.regions.crumbs import LEAST_WIDTHS, without_crumbs

WIDTH = 0.9
LEAST = np.pi / 4.0 * (LEAST_WIDTHS * WIDTH) ** 2
SHEET = grid(np.arange(0, 60.1), np.arange(0, 40.1), lambda x, y: 0 * x)
X, Y = SHEET.vertices[:, 0], SHEET.vertices[:, 1]


def weights_of(label: np.ndarray, count: int) -> np.ndarray:
    return 0.7 * np.eye(count)[label] + 0.3 / count


def areas(weights: np.ndarray) -> list[tuple[int, float]]:
    label = weights.argmax(axis=1)
    part = pieces(SHEET, label)
    area = np.bincount(part, SHEET.vertex_areas)
    return [(int(label[part == number][0]), float(area[number])) for number in range(len(area))]


def disc(x: float, y: float, radius: float) -> np.ndarray:
    return (X - x) ** 2 + (Y - y) ** 2 <= radius**2


def test_a_crumb_goes_to_the_neighbor_with_the_longest_border():
    label = np.where(X < 30, 0, 1)
    label[disc(31, 10, 1.5)] = 2  # mostly within zone 1
    label[disc(10, 20, 6.0)] = 2
    joined = without_crumbs(SHEET, weights_of(label, 3), [False] * 3, WIDTH)
    assert joined.count == 1 and joined.given_mm2[2] > 0
    after = joined.weights.argmax(axis=1)
    assert (after[disc(31, 10, 1.5)] == 1).all() and (after[disc(10, 20, 6.0)] == 2).all()
    assert (after == label)[~disc(31, 10, 1.5)].all()


def test_a_zone_that_is_small_as_a_whole_stays_and_a_blend_step_does_not():
    label = np.zeros(len(X), dtype=int)
    label[disc(10, 10, 1.5)] = 1
    label[disc(30, 10, 1.2)] = 1
    label[disc(50, 30, 1.5)] = 2
    joined = without_crumbs(SHEET, weights_of(label, 3), [False, False, True], WIDTH)
    after = joined.weights.argmax(axis=1)
    assert joined.count == 2 and (after[disc(10, 10, 1.5)] == 1).all()
    assert sorted(number for number, _ in areas(joined.weights)) == [0, 1]


def test_no_piece_is_a_crumb_whatever_the_paint():
    for seed in range(20):
        rng = np.random.default_rng(seed)
        count = int(rng.integers(2, 5))
        cell = int(rng.integers(1, 9))
        coarse = rng.integers(0, count, (61 // cell + 1, 41 // cell + 1))
        label = coarse[(X // cell).astype(int), (Y // cell).astype(int)]
        may_vanish = rng.random(count) < 0.3
        joined = without_crumbs(SHEET, weights_of(label, count), may_vanish.tolist(), WIDTH)
        found = areas(joined.weights)
        small = [number for number, area in found if area < LEAST]
        alone = [number for number in small if sum(number == other for other, _ in found) == 1]
        assert small == alone and not may_vanish[small].any()
        assert {number for number, _ in found} >= set(np.unique(label[~may_vanish[label]]).tolist())


def test_where_there_is_nothing_to_join_the_weights_are_the_same_object():
    weights = weights_of(np.where(X < 30, 0, 1), 2)
    assert without_crumbs(SHEET, weights, [False, False], WIDTH).weights is weights
