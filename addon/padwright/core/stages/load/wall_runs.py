"""Where walls run, stretch by stretch, and their coarse raster: what holds the pad along its walls is summed on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Float
from ..folds.layout import FoldLayout


@dataclass(frozen=True, eq=False)
class Stretches:
    """Walls' lines in short pieces."""

    middle: Float  # (s, 2), plane frame
    along: Float  # (s, 2); from end to end
    cell: tuple[NDArray[np.int64], NDArray[np.int64]]  # of the layout, each (s,)

    @staticmethod
    def of(layout: FoldLayout) -> Stretches:
        """Return those of a layout that stand in its core."""
        middle = np.concatenate([0.5 * (wall.points[1:] + wall.points[:-1]) for wall in layout.walls])
        along = np.concatenate([np.diff(wall.points, axis=0) for wall in layout.walls])
        i, j = layout.columns.nearest(middle)
        keep = layout.height_mm[i, j] > 0.0
        return Stretches(middle[keep], along[keep], (i[keep], j[keep]))

    @property
    def run(self) -> Float:
        """Which way each runs, radians from the plane's x."""
        return np.arctan2(self.along[:, 1], self.along[:, 0])

    @property
    def length_mm(self) -> Float:
        """How long each is."""
        return np.hypot(*self.along.T)


@dataclass(frozen=True, eq=False)
class Coarse:
    """Cells of a layout taken together, `factor` to a side."""

    layout: FoldLayout
    factor: int

    @property
    def step_mm(self) -> float:
        """From cell to cell."""
        return self.factor * self.layout.step_mm

    @property
    def origin(self) -> Float:
        """Middle of the first cell, (2,), mm."""
        return self.layout.origin + 0.5 * (self.factor - 1) * self.layout.step_mm

    @property
    def shape(self) -> tuple[int, int]:
        """Cells along both axes."""
        nx, ny = (-(-n // self.factor) for n in self.layout.is_core.shape)
        return nx, ny

    def blocks(self, values: Float) -> Float:
        """Return the sums of a fine raster over the cells."""
        nx, ny = self.shape
        wide = np.zeros((nx * self.factor, ny * self.factor))
        wide[: values.shape[0], : values.shape[1]] = values
        return np.asarray(wide.reshape(nx, self.factor, ny, self.factor).sum(axis=(1, 3)))

    def spread(self, points: Float, values: Float) -> Float:
        """Return values (c, s) at points (s, 2) shared out among the four cells around each, (c, nx, ny)."""
        nx, ny = self.shape
        place = (points - self.origin) / self.step_mm
        first = np.floor(place).astype(np.int64)
        rest = place - first
        result = np.zeros((len(values), nx * ny))
        for corner in ((0, 0), (0, 1), (1, 0), (1, 1)):
            weight = np.prod(np.where(corner, rest, 1.0 - rest), axis=1)
            i, j = np.clip(first + corner, 0, np.array([nx, ny]) - 1).T
            for axis, each in enumerate(values):
                result[axis] += np.bincount(i * ny + j, weight * each, nx * ny)
        return result.reshape(-1, nx, ny)
