"""A strip of triangles between two chains of points, with the rungs as short as can be."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..mesh import Float
from .surface_cut import Index

Squared = Callable[[Float, Float], Float]


def ladder(one: Index, two: Index, vertices: Float, squared: Squared) -> Index:
    """Fill the polygon one[0] ... one[-1], two[-1] ... two[0] with triangles, each with an edge on one of the chains.

    Parameters
    ----------
    one, two : (p,), (q,) int
        Vertices of the two chains, side by side from their first to their last.
    vertices : (n, 3) float, mm
    squared : callable
        Squared distances from one place (3,) to others (q, 3).

    Returns
    -------
    (p + q - 2, 3) int64

    Notes
    -----
    Of all such strips the one with the least sum of squared rungs, by dynamic programming over pairs of points
    (Fuchs, Kedem & Uselton 1977, doi 10.1145/359842.359846, with rungs in place of areas).
    """
    places = vertices[two]
    rungs = np.stack([squared(vertices[node], places) for node in one])
    # cost of (i, j) = rung + min(cost (i-1, j), cost (i, j-1)); a row at a time by a running minimum
    cost = np.zeros_like(rungs)
    cost[0] = np.cumsum(rungs[0])
    for row in range(1, len(one)):
        total = np.cumsum(rungs[row])
        cost[row] = total + np.minimum.accumulate(cost[row - 1] - np.concatenate([[0.0], total[:-1]]))
    faces = []
    row, column = len(one) - 1, len(two) - 1
    while row > 0 or column > 0:
        if column == 0 or (row > 0 and cost[row - 1, column] <= cost[row, column - 1]):
            faces.append((one[row - 1], one[row], two[column]))
            row -= 1
        else:
            faces.append((one[row], two[column], two[column - 1]))
            column -= 1
    return np.array(faces, dtype=np.int64).reshape(-1, 3)


def ring_ladder(one: Index, two: Index, vertices: Float, squared: Squared) -> Index:
    """Fill the ring between two closed loops that run opposite ways, each given without its repeated first vertex.

    Parameters
    ----------
    one, two : (p,), (q,) int
    vertices, squared
        As for `ladder`.

    Returns
    -------
    (p + q, 3) int64
    """
    back = two[::-1]
    least = [squared(vertices[node], vertices[back]) for node in one]
    start = int(np.argmin([row.min() for row in least]))
    other = int(np.argmin(least[start]))
    first, second = np.roll(one, -start), np.roll(back, -other)
    return ladder(np.append(first, first[0]), np.append(second, second[0]), vertices, squared)
