"""The roof over each space between walls: level from wall to wall, a flat bridge under a sloping skin too."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.mesh import Bool, Float
from ..folds.columns import PadColumns
from ..folds.layout import FoldLayout
from .ring_roofs import roofed_between_rings
from .spaces import FINE_MM, Spaces, resampled_to

_WIDEST = 1.7  # pitches: what is wider from wall to wall in both ways is no gap between two walls

_WIDE = 1.1  # longest bridges along x: over that a roof's edge would hang too far, with a raster's cell or two to spare

_RAGGED = 7  # cells along the rows, two millimeters
_MOST_EVERY = 3
"""Cells of the spaces' raster to one of the roof's along y: along rows it is smooth. From gap to gap it steps over one
of its cells, which is half as wide as a wall: a longer one would leave a slit beside the wall."""


@dataclass(frozen=True, eq=False)
class Roof:
    """How high the void may be, on a raster from the columns' origin."""

    height_mm: Float  # (nx, ny)
    head_mm: Float  # (nx, ny); the lower of the roofs on both sides: so high walls lean, above they stand upright
    step_mm: tuple[float, float]

    def resampled(self, columns: PadColumns, raster: Float) -> Float:
        """Return a raster of the columns on the roof's."""
        return resampled_to(raster, self.height_mm.shape, self.step_mm, columns.step_mm)

    def heads(self, columns: PadColumns, points: Float) -> Float:
        """Return how high heads are at points (n, 2), (n,) mm."""
        index = ((points - columns.origin) / self.step_mm).T
        return np.asarray(ndimage.map_coordinates(self.head_mm, index, order=1, mode="nearest"))


def level_roof(layout: FoldLayout, spaces: Spaces) -> Roof:
    """Return the roof over spaces between walls.

    Between two rings it is as low as the core's upper face is lowest from one to the other; in every other gap, as it
    is lowest along x, and one level where that is too far for a bridge. What is no gap takes what lies nearest, so that
    the roof steps where a wall stands.
    """
    columns, label = layout.columns, spaces.label
    fine = (FINE_MM, FINE_MM)
    high = resampled_to(columns.core_high_mm, label.shape, fine, columns.step_mm)
    core = resampled_to(columns.is_core.astype(np.float64), label.shape, fine, columns.step_mm) > 0.01
    low, length = _least_along(high, label)
    is_gap = core & (label > 0) & (length * FINE_MM <= _WIDEST * layout.pitch_mm)
    level = high
    if is_gap.any():
        along_x, far_x = _nearest_along(low, is_gap)
        near = ndimage.distance_transform_edt(~is_gap, return_distances=False, return_indices=True)
        carried = np.where(far_x <= 0.5 * layout.width_mm / FINE_MM + 3.0, along_x, low[tuple(near)])
        # Ragged ends of the gaps' raster stretch over a cell or two along the rows.
        carried = ndimage.grey_closing(ndimage.grey_opening(carried, (1, _RAGGED)), (1, _RAGGED))
        level = np.where(core, np.minimum(carried, high), carried)
    every = (1, max(1, min(int(0.5 * layout.width_mm / FINE_MM + 0.5), _MOST_EVERY)))
    level, is_between = roofed_between_rings(layout, level, high, label > 0)
    is_wide = is_gap & ~is_between & (length * FINE_MM > _WIDE * layout.wishes.longest_bridge_mm)
    level = _even_where_wide(level, is_wide, layout.width_mm)[:: every[0], :: every[1]]
    step = (FINE_MM * every[0], FINE_MM * every[1])
    reach = [2 * int(np.ceil((0.5 * layout.width_mm + FINE_MM) / each)) + 1 for each in step]
    return Roof(level, np.asarray(ndimage.minimum_filter(level, size=reach, mode="nearest")), step)


def _even_where_wide(level: Float, is_wide: Bool, width_mm: float) -> Float:
    """Return the level with each wide place, and a wall's width about it, no higher than the lowest there.

    Beyond the end of a row or a ring the next wall along x is too far for the edge of a roof: it lies on that end.
    """
    number, count = ndimage.label(is_wide)
    if not count:
        return level
    least = np.concatenate([[np.inf], ndimage.minimum(level, number, np.arange(1, count + 1))])
    size = 2 * round(width_mm / FINE_MM) + 1
    return np.asarray(np.minimum(level, ndimage.minimum_filter(least[number], size, mode="nearest")))


def _nearest_along(level: Float, is_gap: Bool) -> tuple[Float, Float]:
    """Return the level of the nearest gap along the first axis, and how many cells it is away."""
    count = len(level)
    at = np.arange(count)[:, None]
    before = np.maximum.accumulate(np.where(is_gap, at, -4 * count), axis=0)
    behind = np.minimum.accumulate(np.where(is_gap, at, 4 * count)[::-1], axis=0)[::-1]
    is_before = at - before <= behind - at
    source = np.where(is_before, before, behind)
    far = np.abs(source - at).astype(np.float64)
    return np.take_along_axis(level, np.clip(source, 0, count - 1), axis=0), far


def _least_along(values: Float, label: NDArray[np.int32]) -> tuple[Float, Float]:
    """Return the least value of each unbroken stretch of one label along the first axis, and its length in cells."""
    change = np.ones(label.shape, dtype=bool)
    change[1:] = label[1:] != label[:-1]
    flat = change.T.ravel()
    start = np.flatnonzero(flat)
    least = np.minimum.reduceat(values.T.ravel(), start)
    length = np.diff(np.append(start, flat.size)).astype(np.float64)
    number = np.cumsum(flat) - 1
    shape = label.T.shape
    return least[number].reshape(shape).T, length[number].reshape(shape).T
