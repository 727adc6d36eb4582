"""What the part's properties stand for: a value as it was typed, and a scan's own numbers in mm."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..core.base.units import mm_per_unit

SCANS = ("base", "impression")


def unit_mm(part: Any, scan: str) -> float:
    """Return how many mm one of a scan's own numbers is."""
    return mm_per_unit(getattr(part, f"{scan}_unit"))


def as_typed(value: Any) -> Any:
    """Return a property's value as it was typed: the shortest number that the modeller's 32 bits stand for."""
    if isinstance(value, float):
        return float(str(np.float32(value)))
    if isinstance(value, (str, bool, int)):
        return value
    return [as_typed(float(each)) for each in value]
