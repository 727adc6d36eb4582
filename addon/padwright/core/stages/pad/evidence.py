"""What the evidence tells of the pad."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from ..stage import Results
from .pad import BuiltPad
from .work import ShapedPad


def pad_evidence(results: Results) -> dict[str, Any]:
    """Return the entry `pad`."""
    return {"pad": _pad(results.of(ShapedPad).pad)}


def _pad(pad: BuiltPad) -> dict[str, Any]:
    found = {f.name: getattr(pad, f.name) for f in dataclasses.fields(pad) if f.name not in ("mesh", "notes")}
    numbers = {name: value for name, value in found.items() if not isinstance(value, np.ndarray)}
    return {
        **numbers,
        "closed": pad.mesh.is_closed,
        "triangles": len(pad.mesh.faces),
        "size_mm": np.ptp(pad.mesh.bounds, axis=0),
        "notes": list(pad.notes),
    }
