"""Points that a job gives beside the part: where that lies in the same numbers, and how far to move them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.mesh import Float
from ...base.units import mm_per_unit
from ...job.schema import Point
from .placed_scans import PlacedScans, typed_points


def way_onto(scans: PlacedScans, points: Sequence[Point], on: str, places: Float, what: str) -> str:
    """Return where a part of the pad lies in a scan file's own numbers, and what to add to points to bring them there.

    The points, (3,) each, are as the job gives them, in the numbers of the file of the scan they lie on; places, (k, 3)
    mm of the part frame, are what they should have been drawn on, called `what` with its article.
    """
    there = typed_points(scans, places, on)
    scan = scans.base if on == "base" or scans.impression is None else scans.impression
    middle = there[np.argmin(np.linalg.norm(there - there.mean(axis=0), axis=1))]
    given = np.asarray(points, dtype=np.float64)
    low, high, at, shift = (
        _row(each, scan.unit)
        for each in (there.min(axis=0), there.max(axis=0), given.mean(axis=0), middle - given.mean(axis=0))
    )
    return (
        f'In the numbers of the {on} scan\'s file ("{scan.unit}") {what} lies from {low} to {high}, the points around '
        f"{at}: pick them again on it, or add {shift} to each, which brings them to its middle."
    )


def _row(point: Float, unit: str) -> str:
    """Return a point as a job has it, to a tenth of a mm."""
    decimals = max(0, round(np.log10(mm_per_unit(unit))) + 1)
    return "[" + ", ".join(f"{value + 0.0:.{decimals}f}" for value in np.round(point, decimals)) + "]"
