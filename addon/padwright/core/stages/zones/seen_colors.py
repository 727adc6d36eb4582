"""A scan's colors as the body sees them: a picture across the press direction, with the place of each pixel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.mesh import Bool, Float
from ...geometry.raster import rasterize
from ..scans.surface_colors import SurfaceColors
from .outlines import across_press

PIXEL_MM = 0.3
"""A pen's line of 1 mm is three pixels wide: ours."""
_MOST_PIXELS = 6e6
_AROUND_MM = 25.0
"""So far beyond the pad is looked: a ring around a place at its edge may run over it."""
_HOLE_MM2 = 1250.0
"""Holes of the scan up to 40 mm across are closed, as by the cleaning: a line that meets one goes on behind it."""


@dataclass(frozen=True, eq=False)
class SeenColors:
    """What each pixel shows of a scan, seen along the press direction."""

    across: Float  # (2, 3); unit vectors to the right and down
    press: Float  # (3,)
    start: Float  # (2,); where the first pixel begins along them, mm
    pixel_mm: float
    colors: NDArray[np.uint8]  # (h, w, 3)
    depth: Float  # (h, w); along the press direction, mm; not a number where nothing is seen and no hole is closed
    is_seen: Bool  # (h, w); pixels that show a colored place
    is_hole: Bool  # (h, w); pixels in a hole of the scan up to 40 mm across

    def pixels_of(self, points: Float) -> Float:
        """Return where points, (k, 3), are seen, (k, 2) row and column; pixel centers are whole numbers."""
        flat = (points @ self.across.T - self.start) / self.pixel_mm - 0.5
        return np.asarray(flat[:, ::-1])

    def place_of(self, row: float, column: float) -> Float:
        """Return the place that a pixel shows, (3,) mm; on the middle depth where it shows none."""
        flat = self.start + (np.array([column, row]) + 0.5) * self.pixel_mm
        depth = self.depth[round(row), round(column)]
        if not np.isfinite(depth):
            depth = float(np.nanmedian(self.depth))
        return np.asarray(flat @ self.across + depth * self.press)

    def values_at(self, image: Float, points: Float) -> Float:
        """Return an image's values, (h, w), where points, (k, 3), are seen; beyond it those of its edge."""
        place = self.pixels_of(points)
        return np.asarray(ndimage.map_coordinates(image, place.T, order=1, mode="nearest"))

    def is_beyond_reach(self, points: Float, reach_mm: float) -> Bool:
        """Say which points, (k, 3), lie farther than that, along the press direction, from what is seen before them."""
        row, column = np.rint(self.pixels_of(points)).astype(np.int64).T
        high, wide = self.depth.shape
        is_in = (row >= 0) & (row < high) & (column >= 0) & (column < wide)
        depth = np.full(len(points), np.nan)
        depth[is_in] = self.depth[row[is_in], column[is_in]]
        return np.abs(points @ self.press - depth) > reach_mm  # false where nothing is seen: a hole in the scan


def see_colors(surface: SurfaceColors, press: Float, around: Float, *, pixel_mm: float = PIXEL_MM) -> SeenColors:
    """Return the colors that are seen along the press direction, as the body comes, around some places.

    Holes of the scan up to 40 mm across take the depth at their edge, each place that of the nearest.

    Parameters
    ----------
    surface : SurfaceColors
        Part frame, mm.
    press : (3,) float
        Unit vector from the body into the part.
    around : (k, 3) float, mm
        The pad's body side.
    """
    across = across_press(press)
    flat = around @ across.T
    low, high = flat.min(axis=0) - _AROUND_MM, flat.max(axis=0) + _AROUND_MM
    pixel_mm = max(pixel_mm, float(np.sqrt(np.prod(high - low) / _MOST_PIXELS)))
    width, height = (int(each) for each in np.ceil((high - low) / pixel_mm))
    points = np.nan_to_num(surface.points)
    seen = np.column_stack([(points @ across.T - low) / pixel_mm, -(points @ press)])
    corner = seen[surface.faces][:, :, :2]
    is_near = (corner.max(axis=1) > 0).all(axis=1) & (corner.min(axis=1) < [width, height]).all(axis=1)
    chosen = np.flatnonzero(is_near & surface.is_finite)
    raster = rasterize(seen, surface.faces[chosen], width, height)
    is_hit = raster.is_hit.copy()
    is_hit[is_hit] = surface.is_colored[chosen[raster.face[is_hit]]]
    colors = np.zeros((height, width, 3), dtype=np.uint8)
    depth = np.full((height, width), np.nan)
    is_hole = np.zeros((height, width), dtype=bool)
    if is_hit.any():
        weights = raster.weights[is_hit].astype(np.float64)
        colors[is_hit] = surface.at(chosen[raster.face[is_hit]], weights)
        depth[is_hit] = -raster.depth[is_hit]
        is_hole = _holes(is_hit, _HOLE_MM2 / pixel_mm**2)
        near = ndimage.distance_transform_edt(~is_hit, return_distances=False, return_indices=True)
        from_row, from_column = near[0][is_hole], near[1][is_hole]
        depth[is_hole] = depth[from_row, from_column]
    return SeenColors(across, np.asarray(press, dtype=np.float64), low, pixel_mm, colors, depth, is_hit, is_hole)


def _holes(is_hit: Bool, most: float) -> Bool:
    """Return the pixels that show nothing and are surrounded by what does, in pieces of `most` pixels or less."""
    label, count = ndimage.label(~is_hit)
    size = np.bincount(label.ravel(), minlength=count + 1)
    is_open = np.zeros(count + 1, dtype=bool)
    is_open[np.unique(np.concatenate([label[0], label[-1], label[:, 0], label[:, -1]]))] = True
    is_open[0] = True
    return np.asarray(((size <= most) & ~is_open)[label])
