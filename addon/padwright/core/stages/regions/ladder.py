"""A strip of triangles between two chains of points, as well-shaped as can be."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float
from .surface_cut import Index

_ALIKE = 1e-9  # relative; far above what sums in another order change, far below what can be seen


def ladder(one: Index, two: Index, vertices: Float) -> Index:
    """Fill the polygon one[0] ... one[-1], two[-1] ... two[0] with triangles, each with an edge on one of the chains.

    The triangles are (p + q - 2, 3) int64. Of all such strips the best by dynamic programming over pairs of points
    (Fuchs, Kedem & Uselton 1977, doi 10.1145/359842.359846). The cost of a triangle is the sum of its squared edges
    over its area, least for an even one (Bank & Smith 1997, doi 10.1137/S0036142994265292, the inverse of their
    quality): it keeps the rungs straight across, and away from lying along the chains where these bend round the pad's
    rim. Of two that cost the same, as the diagonals of a rectangle do, the one that advances on `one` is taken: last
    bits do not decide.

    Parameters
    ----------
    one, two : (p,), (q,) int
        Vertices of the two chains, side by side from their first to their last.
    vertices : (n, 3) float, mm
    """
    places, others = vertices[one], vertices[two]
    rungs = ((places[:, None] - others[None]) ** 2).sum(axis=2)
    # advancing on `one` from (i, j) costs along_one[i, j], on `two` along_two[i, j]
    along_one = _unevenness(((places[1:] - places[:-1]) ** 2).sum(axis=1)[:, None], rungs[:-1], rungs[1:])
    along_two = _unevenness(((others[1:] - others[:-1]) ** 2).sum(axis=1)[None], rungs[:, :-1], rungs[:, 1:])
    # cost (i, j) = min(cost (i-1, j) + along_one, cost (i, j-1) + along_two); a row at a time by a running minimum
    total = np.concatenate([np.zeros((len(one), 1)), np.cumsum(along_two, axis=1)], axis=1)
    cost = total.copy()
    for row in range(1, len(one)):
        cost[row] = total[row] + np.minimum.accumulate(cost[row - 1] + along_one[row - 1] - total[row])
    faces = []
    row, column = len(one) - 1, len(two) - 1
    while row > 0 or column > 0:
        is_one = column == 0 or (
            row > 0
            and cost[row - 1, column] + along_one[row - 1, column]
            <= (cost[row, column - 1] + along_two[row, column - 1]) * (1.0 + _ALIKE)
        )
        if is_one:
            faces.append((one[row - 1], one[row], two[column]))
            row -= 1
        else:
            faces.append((one[row], two[column], two[column - 1]))
            column -= 1
    return np.array(faces, dtype=np.int64).reshape(-1, 3)


def ring_ladder(one: Index, two: Index, vertices: Float) -> Index:
    """Fill the ring between two closed loops that run opposite ways, each given without its repeated first vertex.

    The triangles are (p + q, 3) int64.

    Parameters
    ----------
    one, two : (p,), (q,) int
    vertices : (n, 3) float, mm
    """
    back = two[::-1]
    squared = ((vertices[one][:, None] - vertices[back][None]) ** 2).sum(axis=2)
    start, other = np.unravel_index(np.argmin(np.round(squared, 6)), squared.shape)
    first, second = np.roll(one, -start), np.roll(back, -other)
    return ladder(np.append(first, first[0]), np.append(second, second[0]), vertices)


def _unevenness(one: Float, two: Float, three: Float) -> Float:
    """Return the sum of squared edges over four times the area of triangles given by squared edges (Heron)."""
    total = one + two + three
    sixteen_squares = 2.0 * (one * two + two * three + three * one) - (one * one + two * two + three * three)
    return np.asarray(total / np.sqrt(np.maximum(sixteen_squares, 1e-12 * total * total + 1e-300)))
