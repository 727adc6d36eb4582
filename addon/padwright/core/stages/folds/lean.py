"""How far walls may lean: the fold stays inside the pad, and clear of the next wall's fold."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float
from .columns import PadColumns

LEAST_GAP_MM = 0.8
"""Walls come no nearer to each other: nearly two usual beads, so that print programs keep them apart (our choice)."""

_ALONG = 0.5
"""Most change of lean along a wall: the level cut turns by some 27 degrees at the fold, no more. A choice of ours."""


def lean_limit(columns: PadColumns, width_mm: float, pitch_mm: float) -> Float:
    """Return how far a wall standing at each cell may lean towards growing x at its fold, mm, (nx, ny).

    No farther than to the outline or to what is solid, and falling towards it so slowly that nested walls stay clear.
    """
    step = columns.step_mm
    is_free = columns.is_core | columns.is_flank
    room = np.zeros(is_free.shape)
    for i in range(len(room) - 2, -1, -1):
        room[i] = np.where(is_free[i], room[i + 1] + step, 0.0)
    return steady(np.maximum(room - 0.5 * step - 0.5 * width_mm - 0.5, 0.0), step, width_mm, pitch_mm)


def steady(lean_mm: Float, step: float, width_mm: float, pitch_mm: float) -> Float:
    """Return the lean, (nx, ny) mm, lowered where it changes too fast: the greatest steady one below it.

    Along x it falls by at most 1 - (w + gap) / p of the way: then a wall's fold keeps `LEAST_GAP_MM` from the next
    wall's. Along the walls it changes by at most `_ALONG` either way, and it rises along x at most as fast as x.
    """
    falls = max(1.0 - (width_mm + LEAST_GAP_MM) / pitch_mm, 0.0)
    lean = np.array(lean_mm, dtype=np.float64)
    for _ in range(2):  # the second round carries what the first found round corners
        for i in range(len(lean) - 2, -1, -1):
            np.minimum(lean[i], lean[i + 1] + falls * step, out=lean[i])
        for i in range(1, len(lean)):
            np.minimum(lean[i], lean[i - 1] + step, out=lean[i])
        turned = lean.T
        for j in range(len(turned) - 2, -1, -1):
            np.minimum(turned[j], turned[j + 1] + _ALONG * step, out=turned[j])
        for j in range(1, len(turned)):
            np.minimum(turned[j], turned[j - 1] + _ALONG * step, out=turned[j])
    return lean
