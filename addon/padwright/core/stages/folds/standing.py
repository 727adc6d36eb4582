"""How walls stand in the end: the wished slope, lowered where there is no room or it changes too fast."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float
from .layout import FoldLayout
from .lean import steady


def standing_lean_mm(layout: FoldLayout, slope_deg: Float) -> Float:
    """Return how far folds stand out at each cell, (nx, ny) mm, for a wished slope from upright, (nx, ny) degrees."""
    columns = layout.columns
    limit = np.minimum(layout.slope_limit_deg, layout.most_slope_deg)
    slope = np.clip(slope_deg, 0.0, limit)
    lean = np.tan(np.radians(slope)) * layout.height_mm / (2.0 * layout.folds)
    lean = steady(np.where(columns.is_core, lean, np.inf), columns.step_mm, layout.width_mm, layout.pitch_mm)
    return np.where(columns.is_core & np.isfinite(lean), lean, 0.0)


def standing_slope_deg(layout: FoldLayout, slope_deg: Float) -> Float:
    """Return the slope that walls of a wished slope stand with, (nx, ny) degrees from upright; 0 where there are none.

    It is the wish or less: a fold stays inside the pad and clear of the next, and changes by so much a millimeter.
    """
    lean = standing_lean_mm(layout, slope_deg)
    return np.asarray(np.degrees(np.arctan2(2.0 * layout.folds * lean, np.maximum(layout.height_mm, 1e-9))))
