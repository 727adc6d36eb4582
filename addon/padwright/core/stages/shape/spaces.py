"""The spaces between walls in plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.mesh import Float
from ..folds.columns import PadColumns
from ..folds.level_lines import resampled

FINE_MM = 0.3
"""Step of the raster of spaces, under a single bead."""

Labels = NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Spaces:
    """The spaces between walls as they stand on the base skin; raster (nx, ny) of `FINE_MM`."""

    origin: Float
    label: Labels  # 0 where there is a wall or something solid
    is_open: NDArray[np.bool_]  # (labels + 1,); spaces that reach the outside by themselves

    def at(self, points: Float) -> Labels:
        """Return the space at each point (n, 2)."""
        index = np.rint((points - self.origin) / FINE_MM).astype(np.int64)
        i, j = np.clip(index, 0, np.array(self.label.shape) - 1).T
        return np.asarray(self.label[i, j])


def spaces_between(columns: PadColumns, lines: Sequence[Float], width_mm: float) -> Spaces:
    """Return the spaces between walls that stand on lines in plan, each (n, 2)."""
    extent = columns.step_mm * (np.array(columns.low_mm.shape) - 1)
    shape = tuple(np.ceil(extent / FINE_MM).astype(int) + 1)
    is_line = np.zeros(shape, dtype=bool)
    for line in lines:
        index = np.rint((resampled(line, 0.1) - columns.origin) / FINE_MM).astype(np.int64)
        is_line[tuple(index.T)] = True
    is_wall = ndimage.distance_transform_edt(~is_line) * FINE_MM <= 0.5 * width_mm + 0.5 * FINE_MM
    cell = [np.rint(np.arange(count) * FINE_MM / columns.step_mm).astype(np.int64) for count in shape]
    cell = [np.minimum(each, size - 1) for each, size in zip(cell, columns.low_mm.shape, strict=True)]
    is_solid = columns.is_solid[np.ix_(*cell)]
    label, count = ndimage.label(~is_wall & ~is_solid)
    is_open = np.zeros(count + 1, dtype=bool)
    for edge in (label[0], label[-1], label[:, 0], label[:, -1]):
        is_open[edge] = True
    is_open[0] = False
    return Spaces(columns.origin, label.astype(np.int32), is_open)


def resampled_to(raster: Float, shape: tuple[int, ...], step: tuple[float, float], own_step: float) -> Float:
    """Return a raster at another step from the same origin, bilinear."""
    out = raster
    for axis in (0, 1):
        at = np.minimum(np.arange(shape[axis]) * (step[axis] / own_step), raster.shape[axis] - 1.0)
        low = np.minimum(at.astype(np.int64), raster.shape[axis] - 2)
        share = (at - low).reshape((-1, 1) if axis == 0 else (1, -1))
        out = out.take(low, axis) * (1.0 - share) + out.take(low + 1, axis) * share
    return np.asarray(out)
