"""Where virtual clay ends: a smooth line around what the body touched, and the wall of clay on it."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from ...base.mesh import Bool, Float

EVEN_MM = 5.0
"""Standard deviation of the Gaussian over which the line is evened out. A contact's own edge wanders by some
millimeters, as flesh lies flat there; a knife would cut clay straighter than that. Our choice."""

WALL_STEPS = 1.5
"""So many places the wall is wide. A wall of one place or less would run where places lie, not where the line does."""


def clay_share(is_clay: Bool, is_touched: Bool, step_mm: float, margin_mm: float) -> Float:
    """Return how much of the clay's height stands at each place of the grid, (nx, ny): 1 on the clay, 0 beside it.

    The clay, (nx, ny), ends at its own edge or the margin, mm, around what was touched, (nx, ny), whichever is nearer
    (an infinite margin: at its own edge). The line is evened out over `EVEN_MM` but never cuts into what was touched;
    the wall lies outside of it.
    """
    away = step_mm * ndimage.distance_transform_edt(~is_touched)
    # Half way between the last place of the clay and the first beside it.
    wide = np.pad(is_clay, 1)
    edge = ndimage.distance_transform_edt(wide) - ndimage.distance_transform_edt(~wide)
    inside = np.minimum(step_mm * (edge - 0.5 * np.sign(edge))[1:-1, 1:-1], margin_mm - away)
    even = ndimage.gaussian_filter(inside, EVEN_MM / step_mm, mode="nearest")
    return np.asarray(np.clip(1.0 + np.maximum(even, -away) / (WALL_STEPS * step_mm), 0.0, 1.0))


def with_wall(clay_mm: Float, base_mm: Float, share: Float) -> Float:
    """Return heights, (nx, ny), mm, of the clay where its share is 1, of the base where it is 0, of its wall between.

    The clay's heights are NaN where it was not laid: there its wall is as high as the clay next to it. NaN where no
    base is seen; next to that the base is bare, so that the wall ends on it.
    """
    is_inner = ndimage.binary_erosion(np.isfinite(base_mm), np.ones((3, 3)))
    nearest = ndimage.distance_transform_edt(np.isnan(clay_mm), return_distances=False, return_indices=True)
    return np.asarray(base_mm + np.where(is_inner, share, 0.0) * (clay_mm[tuple(nearest)] - base_mm))
