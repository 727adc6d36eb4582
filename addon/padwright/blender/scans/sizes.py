"""How large a scan is in the unit that is chosen, and whether such a part can be; cheap enough to draw by."""

from __future__ import annotations

from typing import Any

import bpy

from ...core.base.errors import PadwrightError
from .. import reporting, state


def size_mm(part: Any, scan: str) -> tuple[float, float, float] | None:
    """Return how long a scan is along its own axes in the unit that is chosen, before its size is corrected."""
    from .. import bridge  # not on enabling: it needs numpy

    obj = getattr(part, scan)
    if obj is None or obj.type != "MESH" or state.unusable(obj):
        return None
    unit = bridge.unit_mm(part, scan)
    factors = reporting.or_none(bridge.scan_factors, obj, bpy.context.scene, unit)
    if factors is None:
        return None
    box = list(zip(*obj.bound_box, strict=True))
    return tuple((max(side) - min(side)) * abs(float(each)) * unit for side, each in zip(box, factors, strict=True))


def in_words(size: tuple[float, float, float]) -> str:
    """Return "420 x 310 x 80 mm"."""
    return " x ".join(f"{each:.0f}" if each >= 10.0 else f"{each:.2g}" for each in size) + " mm"


def doubt(part: Any, scan: str) -> str:
    """Return why a scan's size cannot be right for such a part, most likely its unit, or nothing."""
    from ...core.job.card_sizes import check_plausible_size
    from ...core.job.cards import load_family

    size = size_mm(part, scan)
    if size is None or (scan == "impression" and part.shows_body):
        return ""
    unit = getattr(part, f"{scan}_unit")
    try:
        said = check_plausible_size(((0.0, 0.0, 0.0), size), load_family(part.family), unit=unit, what=f"{scan} scan")
    except PadwrightError as error:
        said = (f"{error.message} {error.hint}",)
    return reporting.in_window(" ".join(said))
