"""Where the body pressed the clay, as a raster seen along the press direction: what a mat's pattern is held against."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.mesh import Float
from ..reading.impression_reading import ImpressionReading
from .mat_pose import CellMap, at_cells

_STEP_MM = 4.0
_MOST_STEPS = 150  # across the longer side
_MARGIN_MM = 15.0  # around the clay: there the body bore nothing on it


@dataclass(frozen=True, eq=False)
class PressedPlan:
    """How deep the body pressed, on a raster across the press direction; beside the clay 0."""

    plane: Float  # (2, 3); right and down as seen from the body
    step_mm: float
    depth: Float  # (h, w), mm; 0 where it did not press
    is_near: Float  # (h, w) bool; clay, or not farther than the margin from it
    corner: Float  # (2,), mm right and down, of the first pixel's middle
    centers: Float  # (c, 2), mm right and down; the load centers, most prominent first

    @property
    def places(self) -> Float:
        """The places of the raster that count, (n, 2) mm right and down."""
        down, right = np.nonzero(self.is_near)
        return self.corner + self.step_mm * np.stack([right, down], axis=1)

    @property
    def pressed(self) -> Float:
        """How deep the body pressed there, (n,), mm."""
        return np.asarray(self.depth[self.is_near])

    def agreement(self, pressure: Float, cells: CellMap) -> float:
        """Return how alike a mat, (rows, columns), and the imprint are, 1 at most: the correlation of their roots.

        Roots, so that the shape of the whole counts and not the peaks alone; pressure and depth do not rise alike.
        """
        return correlated(np.sqrt(self.pressed), np.sqrt(at_cells(pressure, cells.flat_row_column(self.places))))


def correlated(one: Float, two: Float) -> float:
    """Return the correlation of two rows of values; 0 where one of them is all alike."""
    first, second = one - one.mean(), two - two.mean()
    size = float(np.sqrt((first @ first) * (second @ second)))
    return float(first @ second) / size if size > 0.0 else 0.0


def pressed_plan(reading: ImpressionReading, vertices: Float, plane: Float) -> PressedPlan | None:
    """Return the imprint of a reading seen along the press direction; None where nothing was pressed.

    `vertices`, (n, 3) mm, are those of the body side that was read.
    """
    is_clay = reading.is_clay & ~reading.is_wall & np.isfinite(reading.imprint_depth)
    depth = np.maximum(np.where(is_clay, reading.imprint_depth, 0.0), 0.0)
    if not is_clay.any() or depth.max() <= 0.0:
        return None
    flat = vertices[is_clay] @ plane.T
    low, high = flat.min(axis=0) - _MARGIN_MM, flat.max(axis=0) + _MARGIN_MM
    step = max(_STEP_MM, float((high - low).max()) / _MOST_STEPS)
    width, height = (np.ceil((high - low) / step).astype(int) + 1).tolist()
    right, down = np.meshgrid(np.arange(width), np.arange(height))
    places = low + step * np.stack([right.ravel(), down.ravel()], axis=1)
    away, nearest = cKDTree(flat).query(places, k=3)
    is_on = away[:, 0] <= 1.5 * step
    value = np.where(is_on, depth[is_clay][nearest].mean(axis=1), 0.0).reshape(height, width)
    is_near = ndimage.distance_transform_edt(~is_on.reshape(height, width)) * step <= _MARGIN_MM
    centers = np.array([each.position_mm for each in reading.load_centers]).reshape(-1, 3) @ plane.T
    return PressedPlan(plane, step, ndimage.gaussian_filter(value, 1.0), is_near, low, centers)
