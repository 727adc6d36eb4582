"""Whether a pad prints the way it is pressed: folded walls stand on the bed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.errors import InputError
from ...geometry.through import BODY_SIDE
from ..pad.pad import BuiltPad
from ..printing.orientation import BASE_SIDE_DOWN, choose_orientation, lying

_MOST_DEG = 20.0
"""A wall that leans 45 degrees on the pad leans 65 where the pad lies so far off: about where single beads no longer
hold on each other. A choice of ours."""


def refuse_unless_upright(pad: BuiltPad, bed_mm: Sequence[float]) -> None:
    """Refuse a pad that is not printed base side down, or not nearly so.

    Raises InputError with what turns it.
    """
    if pad.press_direction is None:
        return  # the layout tells that in its own words
    up = -np.asarray(pad.press_direction, dtype=np.float64)
    is_body = (pad.side == BODY_SIDE)[pad.mesh.faces].all(axis=1)
    best, looked = choose_orientation(pad.mesh, is_body, bed_mm, lying(up), BASE_SIDE_DOWN)
    off = float(np.degrees(np.arccos(np.clip(best.turn[2] @ up / np.linalg.norm(up), -1.0, 1.0))))
    if off <= _MOST_DEG:
        return
    flat = looked[0]
    size = " x ".join(f"{value:.0f}" for value in flat.size_mm)
    if not flat.fits:
        why = f"base side down it is {size} mm and does not fit the bed of {' x '.join(f'{x:g}' for x in bed_mm)} mm"
    elif not flat.stands:
        why = "base side down it would topple"
    else:
        why = f"base side down {flat.body_support_cm2:.1f} cm2 of its body side would need support"
    raise InputError(
        f"Folded walls are printed standing, base side down, but this pad lies {off:.0f} degrees off: {why}.",
        hint='Use [fill] kind = "settings" for it, or change what turns it ([printer] bed_mm, the press direction).',
    )
