"""How far walls may lean: the fold stays inside the pad, and clear of the next wall's fold."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Float
from .columns import PadColumns
from .curves import Border, WallCurve, gallery_mm, is_far_rim, is_frame

LEAST_GAP_MM = 0.8
"""Walls come no nearer to each other: nearly two usual beads, so that print programs keep them apart (our choice)."""

_MOST_CHANGE = 0.5
"""Most change of lean for a way: level cuts turn by some 27 degrees at the fold, no more. A choice of ours."""


def lean_limit(
    columns: PadColumns,
    border: Border,
    rings: list[WallCurve],
    count: int,
    width_mm: float,
    pitch_mm: float,
    ring_mm: Float,
) -> Float:
    """Return how far a wall standing at each cell may lean at its fold, mm, (nx, ny).

    Rows no farther than to the far rim's innermost ring, to the outline or to what is solid; rings as `frame` says, and
    no farther than `ring_mm`, (nx, ny).
    """
    step = columns.step_mm
    framed = is_frame(columns, border, pitch_mm, width_mm, count)
    is_free = (columns.is_core | columns.is_flank) & ~(framed & is_far_rim(border))
    room = np.zeros(is_free.shape)
    for i in range(len(room) - 2, -1, -1):
        room[i] = np.where(is_free[i], room[i + 1] + step, 0.0)
    limit = np.maximum(room - 0.5 * step - gallery_mm(width_mm), 0.0)
    if rings:
        places = np.concatenate([each.points for each in rings])
        most = np.concatenate([each.most_mm for each in rings])
        cells = np.argwhere(framed)
        near = cKDTree(places).query(columns.origin + step * cells)[1]
        limit[framed] = np.minimum(most[near], ring_mm[framed])
    limit[~columns.is_core] = limit.max()  # no wall stands there: it must not hold the others back
    return np.where(columns.is_core, steady(limit, step, width_mm, pitch_mm), 0.0)


def steady(lean_mm: Float, step: float, width_mm: float, pitch_mm: float) -> Float:
    """Return the lean, (nx, ny) mm, lowered where it changes too fast: the greatest steady one below it.

    Along either axis it changes by at most 1 - (w + gap) / p of the way, so that a fold keeps `LEAST_GAP_MM` from the
    next wall's, and by at most a half.
    """
    most = step * min(max(1.0 - (width_mm + LEAST_GAP_MM) / pitch_mm, 0.0), _MOST_CHANGE)
    lean = np.array(lean_mm, dtype=np.float64)
    for each in (lean, lean.T):
        for i in range(len(each) - 2, -1, -1):
            np.minimum(each[i], each[i + 1] + most, out=each[i])
        for i in range(1, len(each)):
            np.minimum(each[i], each[i - 1] + most, out=each[i])
    return lean
