"""Closed outlines filled on pixels, each pixel by how much of it they cover."""

from __future__ import annotations

import numpy as np

from ..base.mesh import Float

_ROWS = 8
"""Lines looked at in each row of pixels; along them the covered length is exact."""


def covered(outline: Float, width: int, height: int) -> Float:
    """Return how much of each pixel lies within closed outlines, (height, width), 0 to 1.

    Parameters
    ----------
    outline : (k, 2, 2) float
        Pieces from start to end in any order, x to the right and y down in pixels; ends that meet are the same number
        to the last bit. Within is to the left of each piece, as seen by who goes along it on the screen.

    Notes
    -----
    Along a line through a row each crossing adds or takes away all that lies to its right, so a closed outline leaves
    nothing behind itself: there are no streaks, and no cracks between pieces. Own derivation.
    """
    lines = outline * [1.0, _ROWS]
    start, end = lines[:, 0], lines[:, 1]
    # Lines run half a step below whole numbers; a corner on a line counts as below it.
    first = np.ceil(np.minimum(start[:, 1], end[:, 1]) - 0.5).astype(np.int64)
    last = np.ceil(np.maximum(start[:, 1], end[:, 1]) - 0.5).astype(np.int64)
    first, last = np.clip(first, 0, height * _ROWS), np.clip(last, 0, height * _ROWS)
    count = last - first
    owner = np.repeat(np.arange(len(lines)), count)
    row = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count) + first[owner]
    rise = end[owner, 1] - start[owner, 1]
    place = start[owner, 0] + (row + 0.5 - start[owner, 1]) / rise * (end[owner, 0] - start[owner, 0])
    place = np.clip(place, 0.0, width)
    column = np.minimum(np.floor(place).astype(np.int64), width - 1)
    sign = np.where(rise > 0.0, 1.0, -1.0) / _ROWS
    here = (row // _ROWS) * (width + 1) + column
    within = place - column
    total = np.bincount(here, sign * (1.0 - within), height * (width + 1))
    total += np.bincount(here + 1, sign * within, height * (width + 1))
    return np.clip(np.cumsum(total.reshape(height, width + 1), axis=1)[:, :width], 0.0, 1.0)
