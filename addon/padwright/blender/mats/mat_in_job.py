"""The mat of the panel as the table of a job, and back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy

from ..bridge import as_typed
from .mat_units import AS_FILE

_SEEN = {"found": None, "body": False, "below": True}
_PLAIN = {
    "mat_frames": "frames",
    "mat_laid": "laid",
    "mat_measured_on": "measured_on",
    "mat_for_load": "use_for_load",
}


def has_mat(part: Any) -> bool:
    """Say if the part has a mat."""
    return bool(part.mat_file.strip())


def add_table(part: Any, tables: dict[str, Any]) -> None:
    """Set the table of the mat from the panel; what no panel shows, as its places, stays as an opened job says."""
    if not has_mat(part):
        tables.pop("mat", None)
        return
    kept = tables.setdefault("mat", {})
    kept["file"] = str(Path(bpy.path.abspath(part.mat_file.strip())).resolve())
    for name, key in _PLAIN.items():
        kept[key] = getattr(part, name)
    down, across = as_typed(part.mat_pitch_mm)
    found = {
        "unit": None if part.mat_unit == AS_FILE else part.mat_unit,
        "pitch_mm": [down, across] if down and across else [down or across] if down or across else None,
        "frame": part.mat_frame if part.mat_frames == "one" else None,
        "flipped": _SEEN[part.mat_seen],
        "pose": part.mat_pose or None,
    }
    for key, value in found.items():
        kept.pop(key, None)
        if value is not None:
            kept[key] = value


def load(part: Any, tables: dict[str, Any]) -> None:
    """Set the panel's fields from the tables of an opened job, whose file has its whole path."""
    mat = tables.get("mat", {})
    part.mat_file = mat.get("file", "")
    for name, key in _PLAIN.items():
        part.property_unset(name)
        if key in mat:
            setattr(part, name, mat[key])
    part.mat_unit = mat.get("unit", AS_FILE)
    pitch = mat.get("pitch_mm", [0.0, 0.0])
    part.mat_pitch_mm = (pitch[0], pitch[-1])
    part.mat_frame = mat.get("frame", 1)
    part.mat_seen = next(name for name, value in _SEEN.items() if value is mat.get("flipped"))
    part.mat_pose = mat.get("pose", 0)
