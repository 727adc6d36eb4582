"""Records and arrays as what JSON knows."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np


def picked(record: object, *names: str) -> dict[str, Any]:
    """Return some of a record's values by their names."""
    return {name: getattr(record, name) for name in names}


def plain(value: Any, told: Callable[[float], float] = float) -> Any:
    """Return dataclasses, mappings, sequences and arrays as dicts, lists and numbers; a number not finite as null.

    What is told of a number `told` says; the entries of a (4, 4) motion, which stays rigid, keep 12 decimals.
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: plain(getattr(value, item.name), told) for item in fields(value)}
    if isinstance(value, dict):
        return {str(name): plain(item, told) for name, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item, told) for item in value]
    if isinstance(value, np.ndarray) and value.shape == (4, 4):
        return (np.round(value, 12) + 0.0).tolist()
    if isinstance(value, (np.ndarray, np.generic)):
        return plain(value.tolist(), told)
    if isinstance(value, float):
        return told(value) if math.isfinite(value) else None
    return value
