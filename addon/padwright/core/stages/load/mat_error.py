"""What a mat may be wrong by: how that shifts the load it shows, and what it does to numbers taken from it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from ...base.estimate import Estimate
from ...base.mesh import Float

WAYS = 3
"""Ways in which a mat's error is uneven: by how hard a cell is pressed, across it, and along it."""

AS_SHOWN = (0.0,) * WAYS
"""Between the low (-1) and the high (1) of each way: just as the mat showed it."""


def error_ways(position: Float, area: Float, kpa: Float, plane: Float, accuracy: float) -> Float:
    """Return how a mat that is good to so much, a share, may err from place to place: logarithms of factors, (3, n).

    Position (n, 3) and area (n,) in mm, pressure (n,) in kPa; plane, (2, 3), the axes across the press direction.
    Pressures times the exponential of a way are what may truly have borne in place of what was shown, at the 95th
    percentile; with the way's sign turned, at the 5th.

    Notes
    -----
    An error that all cells share says nothing of where a load bears: pressures are scaled to a force that is known
    otherwise. What is left are errors that differ: sensors that read too much where they are pressed hard (they are not
    straight, they creep), and cells that were calibrated otherwise on one side than on the other. Each goes evenly
    from one end to the other and is 0 in the middle of the load; together, weighed by the load, their root of mean
    square is the whole of the mat's accuracy. Errors of single cells are left out: over a zone's many cells they
    cancel. The split into these three is our choice.
    """
    load = np.maximum(kpa, 0.0) * area
    load = load / load.sum()
    places = np.vstack([kpa, plane @ np.asarray(position).T])
    off = (places - (places @ load)[:, None]) * (load > 0.0)
    reach = np.abs(off).max(axis=1, keepdims=True)
    way = off / np.where(reach > 0.0, reach, 1.0)
    size = float(np.sqrt((way**2).sum(axis=0) @ load))
    return np.asarray(way * (np.log1p(accuracy) / size if size > 0.0 else 0.0))


def erred(kpa: Float, area: Float, ways: Float, at: Sequence[float]) -> Float:
    """Return pressures, (n,), with each of the ways so far towards its low (-1) or high (1), adding up to as much."""
    moved = kpa * np.exp(np.asarray(at) @ ways)
    return np.asarray(moved * (float(kpa @ area) / float(moved @ area)))


def with_error(measure: Callable[[Float], float], kpa: Float, area: Float, ways: Float, note: str) -> Estimate:
    """Return a number, 0 or more, worked out from a mat's pressures, (n,), with what the mat's error makes of it.

    The ways are independent of each other: what they move it by adds as the root of the sum of squares.
    """
    value = measure(kpa)
    ends = [[measure(erred(kpa, area, ways, sign * one)) - value for sign in (-1.0, 1.0)] for one in np.eye(len(ways))]
    down = float(np.linalg.norm([min(*pair, 0.0) for pair in ends]))
    up = float(np.linalg.norm([max(*pair, 0.0) for pair in ends]))
    return Estimate(value, max(value - down, 0.0), value + up, "measured", note)
