"""The roof between two rings: level from one to the other, as low as the core is anywhere across."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float
from ..folds.curves import WallCurve
from ..folds.layout import FoldLayout
from ..folds.level_lines import is_closed, level_lines, resampled
from .spaces import FINE_MM, resampled_to

_EVEN_MM = 1.5  # along the middle the level is the least within so much, and then eased: no steps from line to line
_NEAR_MM = 4.0  # so near to a ring its own line counts, not that of the distance field: its bends are rounded


def roofed_between_rings(layout: FoldLayout, level: Float, high: Float, is_space: Bool) -> tuple[Float, Bool]:
    """Return the level of a roof, (nx, ny) mm over the raster of the spaces, with that between rings set, and where.

    Parameters
    ----------
    high : (nx, ny) float
        The core's upper face.
    is_space : (nx, ny) bool
        Where no wall stands. A place of a wall takes what its nearest space has.
    """
    passed = _passed(layout, level.shape)
    passed[_beyond_ends(layout, passed)] = np.nan
    gap = np.where(np.isnan(passed), -1.0, np.floor(passed).clip(0))
    near = ndimage.distance_transform_edt(~is_space, return_distances=False, return_indices=True)
    gap = np.where(is_space, gap, gap[tuple(near)])
    out = level.copy()
    for number in range(int(gap.max()) + 1):
        cells = np.argwhere(gap == number)
        if len(cells):
            i, j = cells.T
            # Beside the outermost ring the core's face falls with the rim: that is no roof.
            counts = np.where(passed[i, j] >= 0.0, high[i, j], np.inf)
            out[i, j] = np.minimum(_levels(layout, number, cells, counts), high[i, j])
    return out, gap >= 0.0


def _passed(layout: FoldLayout, shape: tuple[int, ...]) -> Float:
    """Return how many pitches each cell lies inside the outermost ring, (nx, ny); nan where it is not between rings."""
    columns, border = layout.columns, layout.border
    distance, solid = (
        resampled_to(each, shape, (FINE_MM, FINE_MM), columns.step_mm)
        for each in (border.distance_mm - _off_line(layout), border.is_before_solid)
    )
    passed = (distance - 0.5 * layout.width_mm) / layout.pitch_mm
    return np.where((distance > -1.0) & (passed < layout.rings - 1) & (solid < 0.5), passed, np.nan)


def _beyond_ends(layout: FoldLayout, passed: Float) -> Bool:
    """Return the cells between rings, (nx, ny), that have a ring's end beside them on one side, or none at all.

    Before what is solid a ring ends earlier than its neighbor: what is roofed from one to the other ends there too.
    """
    columns, first = layout.columns, 0.5 * layout.width_mm
    rings = [wall for wall in layout.walls if wall.kind == "ring"]
    stands = [
        (float(np.median(columns.sample(layout.border.distance_mm, wall.points))) - first) / layout.pitch_mm
        for wall in rings
    ]
    out = np.zeros(passed.shape, dtype=bool)
    gap = np.where(np.isnan(passed), -1.0, np.floor(passed).clip(0))
    for number in range(int(gap.max()) + 1):
        cells = np.argwhere(gap == number)
        places = columns.origin + FINE_MM * cells
        for side in (number, number + 1):
            of_side = [wall for wall, at in zip(rings, stands, strict=True) if abs(at - side) < 0.25]
            if len(cells) and of_side:
                out[tuple(cells[_is_past(of_side, places, 2.0 * layout.pitch_mm)].T)] = True
    return out


def _is_past(rings: Sequence[WallCurve], places: Float, most_mm: float) -> Bool:
    """Return which places, (n, 2), are farther from all rings than a length, or have the end of one nearest to them."""
    lines = [resampled(ring.points, 0.5) for ring in rings]
    is_end = np.concatenate([np.zeros(len(line), dtype=bool) for line in lines])
    start = 0
    for ring, line in zip(rings, lines, strict=True):
        if not ring.is_closed:
            is_end[[start, start + len(line) - 1]] = True
        start += len(line)
    far, index = cKDTree(np.concatenate(lines)).query(places)
    return np.asarray(is_end[index] | (far > most_mm))


def _off_line(layout: FoldLayout) -> Float:
    """Return how much farther from the border than its line the nearest ring stands at each cell, (nx, ny) mm."""
    columns, border, first = layout.columns, layout.border, 0.5 * layout.width_mm
    rings = [resampled(wall.points, 0.5) for wall in layout.walls if wall.kind == "ring"]
    out = np.zeros(border.distance_mm.shape)
    if not rings:
        return out
    points = np.concatenate(rings)
    distance = columns.sample(border.distance_mm, points)
    number = np.rint((distance - first) / layout.pitch_mm)
    off = distance - first - number * layout.pitch_mm
    off = np.where(
        np.abs(off) < 0.25 * layout.pitch_mm, off, 0.0
    )  # one in the middle between two lines is none of them
    cells = np.argwhere(columns.is_footprint)
    far, index = cKDTree(points).query(columns.origin + columns.step_mm * cells)
    out[tuple(cells.T)] = np.where(far < _NEAR_MM, off[index], 0.0)
    return out


def _levels(layout: FoldLayout, number: int, cells: NDArray[np.int64], high: Float) -> Float:
    """Return the level at cells, (n,) mm: the least `high` of all that are nearest to one place of the middle line.

    It is inf where none of these counts.
    """
    columns = layout.columns
    middle = 0.5 * layout.width_mm + (number + 0.5) * layout.pitch_mm
    lines = [
        resampled(line, FINE_MM, round_mm=1.5)
        for line in level_lines(layout.border.distance_mm, middle, columns.origin, columns.step_mm)
        if len(line) > 3
    ]
    if not lines:
        return high
    _, index = cKDTree(np.concatenate(lines)).query(columns.origin + FINE_MM * cells)
    least = np.full(sum(map(len, lines)), np.inf)
    np.minimum.at(least, index, high)
    size = 2 * round(_EVEN_MM / FINE_MM) + 1
    start = 0
    for line in lines:
        here = slice(start, start + len(line))
        mode = "wrap" if is_closed(line) else "nearest"
        known = np.flatnonzero(np.isfinite(least[here]))
        if len(known):
            some = np.interp(np.arange(len(line)), known, least[here][known])
            some = ndimage.minimum_filter1d(some, size, mode=mode)
            # Its weights end where the filter does: what is eased is no higher than what was there.
            least[here] = ndimage.gaussian_filter1d(some, size / 6.0, mode=mode, radius=size // 2)
        start += len(line)
    return np.asarray(least[index])
