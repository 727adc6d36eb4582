"""Lines of many points in the plane or in space: what a closed one goes around, and points laid evenly along it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ..base.mesh import Float

_PAIRS = 2_000_000
"""Sides and points looked at together: some 100 MB of work space."""

_THINNED = 0.1
"""Points along a line are thinned to one in each cell of so many steps: what is finer adds time and nothing else."""


def turns_around(line: Float, points: Float) -> NDArray[np.int64]:
    """Return how often a closed line, (k, 2), goes around each point, (n, 2); counter-clockwise counts up.

    A point on the line may count either way. The even-odd rule has those inside with an odd number.

    Notes
    -----
    Crossings of a ray along x, counted with their sign (Sunday 2001, "Inclusion of a point in a polygon"). With points
    in the order of y each side meets one run of them, so the time goes with the line's whole rise and not with its
    corners times the points.
    """
    order = np.argsort(points[:, 1], kind="stable")
    x, y = points[order].T
    after = np.roll(line, -1, axis=0)
    low, high = np.minimum(line[:, 1], after[:, 1]), np.maximum(line[:, 1], after[:, 1])
    first, last = np.searchsorted(y, low), np.searchsorted(y, high)
    side = np.flatnonzero(last > first)
    turns = np.zeros(len(points), dtype=np.int64)
    for some in _shares(last[side] - first[side]):
        chosen = side[some]
        count = last[chosen] - first[chosen]
        owner = np.repeat(chosen, count)
        point = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count - first[chosen], count)
        start, end = line[owner], after[owner]
        meets = start[:, 0] + (y[point] - start[:, 1]) * (end[:, 0] - start[:, 0]) / (end[:, 1] - start[:, 1])
        sign = np.where(end[:, 1] > start[:, 1], 1, -1)
        is_right = x[point] < meets
        turns += np.bincount(point[is_right], sign[is_right], len(points)).astype(np.int64)
    result = np.zeros_like(turns)
    result[order] = turns
    return result


def _shares(count: NDArray[np.int64]) -> Iterator[slice]:
    """Return runs of sides whose points together are not many more than is held at once."""
    total = np.cumsum(count)
    begin = 0
    while begin < len(count):
        done = total[begin - 1] if begin else 0
        end = max(begin + 1, int(np.searchsorted(total, done + _PAIRS, side="right")))
        yield slice(begin, end)
        begin = end


def laid_along(points: Float, step: float, *, is_closed: bool) -> Float:
    """Return points along a line through `points` (k, d), (n, d).

    Neighbors are at most a step and a quarter apart; where the line has many points within a tenth of a step of each
    other, one of them is left.
    """
    ends = np.roll(points, -1, axis=0) if is_closed else points[1:]
    starts = points if is_closed else points[:-1]
    count = np.maximum(np.ceil(np.linalg.norm(ends - starts, axis=1) / step).astype(np.int64), 1)
    piece = np.repeat(np.arange(len(starts)), count)
    share = (np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)) / count[piece]
    line = np.concatenate([starts[piece] + (ends - starts)[piece] * share[:, None], ends[-1:]])
    cell = np.floor((line - line.min(axis=0)) / (_THINNED * step)).astype(np.int64)
    key = np.ravel_multi_index(tuple(cell.T), tuple(cell.max(axis=0) + 1))
    return np.asarray(line[np.sort(np.unique(key, return_index=True)[1])])
