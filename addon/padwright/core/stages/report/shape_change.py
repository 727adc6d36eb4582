"""How the shape of a part changed from one revision to the next: its thickness along the press, place by place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import binary_erosion, map_coordinates, median_filter

from ...base.mesh import Bool, Float, TriMesh
from ...geometry.crossings import across
from ...geometry.raster import rasterize

_PIXEL_MM = 1.0
_RIM_PIXELS = (8, 4, 2, 0)
"""Pixels from the outline within which a difference of thickness tells more of the outline, or of walls that end
there, than of the pad; where a part is so narrow that nothing is left, fewer."""

_OPENING_PIXELS = 7
"""Side of the square whose middle value counts: air openings through a skin, 3 to 5 mm, are no change of thickness."""


@dataclass(frozen=True, eq=False)
class ShapeChange:
    """What changed from the shape before to the shape now, in the part frame."""

    volume_before_cm3: float
    volume_now_cm3: float
    # Largest changes of the thickness along the press away from the rim, mm, positive where it is thicker now, and
    # where; None where the two nowhere lie over each other.
    thicker_mm: float = 0.0
    thicker_at: Float | None = None  # (3,), on the body side of the shape now
    thinner_mm: float = 0.0
    thinner_at: Float | None = None
    # Both: area, seen along the press, that only one of the two covers.
    usual_mm: float = 0.0  # the middle one of all changes away from the rim
    gained_cm2: float = 0.0
    lost_cm2: float = 0.0
    not_compared: str = ""  # why the shapes were not laid over each other; "" where they were
    change: ThicknessChange | None = None


@dataclass(frozen=True, eq=False)
class ThicknessChange:
    """The thickness now less that before, on pixels across the press."""

    axes: Float  # (3, 3); the last row is against the press
    corner: Float  # (2,), mm: the middle of pixel (0, 0) along the first two axes
    difference: Float  # (h, w), mm; nan where either shape is not

    def at(self, places: Float) -> tuple[Float, Bool]:
        """Return the change at places of the part frame, (n, 3) mm, and where it is known, (n,)."""
        flat = (places @ self.axes[:2].T - self.corner) / _PIXEL_MM
        is_known = np.isfinite(self.difference)
        order = [flat[:, 1], flat[:, 0]]
        filled = map_coordinates(np.where(is_known, self.difference, 0.0), order, order=1, mode="constant")
        share = map_coordinates(is_known.astype(np.float64), order, order=1, mode="constant")
        return np.where(share > 0.5, filled / np.maximum(share, 0.5), 0.0), np.asarray(share > 0.5)


def shape_change(before: TriMesh, now: TriMesh, press_direction: Float) -> ShapeChange:
    """Compare two shapes in one frame, mm, along the press direction, a unit vector (3,) from the body into the part.

    Thickness is from the uppermost to the lowest place over a pixel, so hollows between walls count as filled.
    """
    up = -np.asarray(press_direction, dtype=np.float64)
    axes = across(up)
    both = np.concatenate([before.vertices, now.vertices]) @ axes.T
    corner = both[:, :2].min(axis=0) - _PIXEL_MM
    wide, tall = (int(each) for each in np.ceil((both[:, :2].max(axis=0) - corner) / _PIXEL_MM) + 1)
    tops, thicknesses = zip(
        *(_top_and_thickness(each, axes, corner, wide, tall) for each in (before, now)), strict=True
    )
    difference = thicknesses[1] - thicknesses[0]
    filled = np.nan_to_num(difference)
    if filled.any():
        difference = np.where(np.isfinite(difference), median_filter(filled, size=_OPENING_PIXELS), np.nan)
    is_in = [np.isfinite(each) for each in thicknesses]
    volumes = float(before.volume) / 1000.0, float(now.volume) / 1000.0
    shared = is_in[0] & is_in[1]
    pixel_cm2 = _PIXEL_MM**2 / 100.0
    gained, lost = (pixel_cm2 * float((each & ~shared).sum()) for each in (is_in[1], is_in[0]))
    if not shared.any():
        why = "the two nowhere lie over each other"
        return ShapeChange(volumes[0], volumes[1], gained_cm2=gained, lost_cm2=lost, not_compared=why)
    inner = next((found for each in _RIM_PIXELS if (found := _without_rim(shared, each)).any()), shared)
    change = ThicknessChange(axes, corner + 0.5 * _PIXEL_MM, difference)
    thicker, thinner = (_largest(sign * difference, inner, tops[1], change) for sign in (1.0, -1.0))
    usual = float(np.median(difference[inner]))
    return ShapeChange(
        volumes[0], volumes[1], *thicker, *thinner, usual, gained_cm2=gained, lost_cm2=lost, change=change
    )


def _largest(size: Float, inner: Bool, top: Float, change: ThicknessChange) -> tuple[float, Float | None]:
    """Return the largest of some changes, mm, and where it is on the upper side; (0, None) where none is above zero."""
    found = np.where(inner, np.nan_to_num(size), 0.0)
    row, column = np.unravel_index(int(found.argmax()), found.shape)
    if found[row, column] <= 0.0:
        return 0.0, None
    flat = change.corner + _PIXEL_MM * np.array([column, row])
    return float(found[row, column]), np.asarray(np.append(flat, top[row, column]) @ change.axes)


def _without_rim(shared: Bool, pixels: int) -> Bool:
    return np.asarray(binary_erosion(shared, iterations=pixels)) if pixels else shared


def _top_and_thickness(mesh: TriMesh, axes: Float, corner: Float, wide: int, tall: int) -> tuple[Float, Float]:
    """Return height of the upper side and thickness over each pixel, (tall, wide) mm; nan beside the shape."""
    flat = mesh.vertices @ axes.T
    points = np.column_stack([(flat[:, :2] - corner) / _PIXEL_MM, flat[:, 2]])
    rise = mesh.face_normals @ axes[2]
    upper = rasterize(points, mesh.faces[rise > 0.0], wide, tall)
    lower = rasterize(points * [1.0, 1.0, -1.0], mesh.faces[rise < 0.0], wide, tall)
    hit = upper.is_hit & lower.is_hit
    top = np.where(hit, upper.depth, np.nan).astype(np.float64)
    return top, np.where(hit, upper.depth.astype(np.float64) + lower.depth, np.nan)
