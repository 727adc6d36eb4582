"""The mat of the panel as the table of a job, and back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy

from .foil_file import is_picture
from .mat_units import AS_FILE

_SEEN = {"found": None, "body": False, "below": True}
_PLAIN = {
    "mat_frames": "frames",
    "mat_laid": "laid",
    "mat_measured_on": "measured_on",
    "mat_for_load": "use_for_load",
    "mat_accuracy": "accuracy_percent",
    "mat_dark_bears": "dark_bears",
}
MOST_PLACES = 3
KEY_OF = {"cell": "cell", "ruler": "at_mm", "pixel": "pixel"}  # of a place, by how it is told on the mat


def has_mat(part: Any) -> bool:
    """Say if the part has a mat."""
    return bool(part.mat_file.strip())


def places_on(part: Any) -> str:
    """Return the scan that the points of places lie on: without clay the base."""
    return "base" if part.impression is None or part.shows_body else part.mat_places_on


def missing(part: Any) -> str:
    """Return in words that a place has no point on the scan yet, or nothing."""
    for number, place in enumerate(part.mat_places, 1):
        if not place.has_point:
            return f"Place {number} of the mat has no point on the scan: pick it, or remove the place"
    return ""


def cell_at(numbers: Any) -> list[float]:
    """Return row and column, to a tenth, of a place on the mat's picture: there x is the column, -y the row."""
    return [max(round(-float(numbers[1]), 1), 0.0), max(round(float(numbers[0]), 1), 0.0)]


def on_picture(cell: Any) -> list[float]:
    """Return the place of a row and column on the mat's picture."""
    return [float(cell[1]), -float(cell[0]), 0.0]


def add_table(part: Any, tables: dict[str, Any]) -> None:
    """Set the table of the mat from the panel; what no panel shows stays as an opened job says."""
    from ..bridge import as_typed  # not on enabling: it needs numpy

    if not has_mat(part):
        tables.pop("mat", None)
        return
    kept = tables.setdefault("mat", {})
    kept["file"] = str(Path(bpy.path.abspath(part.mat_file.strip())).resolve())
    for name, key in _PLAIN.items():
        kept[key] = as_typed(getattr(part, name))
    down, across = as_typed(part.mat_pitch_mm)
    width, height = as_typed(part.mat_sheet_mm)
    if is_picture(part):
        kept |= {"frames": "mean"}
        down = across = 0.0
    else:
        kept |= {"dark_bears": True}
        width = height = 0.0
        kept.pop("sheet_corners", None)
    has_sheet = bool(width and height)
    found = {
        "unit": None if part.mat_unit == AS_FILE or is_picture(part) else part.mat_unit,
        "dpi": as_typed(part.mat_dpi) if part.mat_dpi and is_picture(part) and not has_sheet else None,
        "sheet_mm": [width, height] if has_sheet else None,
        "pitch_mm": [down, across] if down and across else [down or across] if down or across else None,
        "frame": part.mat_frame if kept["frames"] == "one" else None,
        "flipped": _SEEN[part.mat_seen],
        "pose": part.mat_pose or None,
        "places": [_place(each) for each in part.mat_places] or None,
        "places_on": places_on(part) if len(part.mat_places) else None,
    }
    for key, value in found.items():
        kept.pop(key, None)
        if value is not None:
            kept[key] = value


def _place(place: Any) -> dict[str, Any]:
    from ..bridge import as_typed

    key = KEY_OF[place.by]
    return {key: as_typed(getattr(place, key)), "point": as_typed(place.point)}


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
    part.mat_dpi = mat.get("dpi", 0.0)
    part.mat_sheet_mm = mat.get("sheet_mm", (0.0, 0.0))
    part.mat_frame = mat.get("frame", 1)
    part.mat_seen = next(name for name, value in _SEEN.items() if value is mat.get("flipped"))
    part.mat_pose = mat.get("pose", 0)
    part.mat_places.clear()
    for table in mat.get("places", ()):
        place = part.mat_places.add()
        place.by, key = next(each for each in KEY_OF.items() if table.get(each[1]) is not None)
        setattr(place, key, table[key])
        place.point, place.has_point = table["point"], True
    part.mat_place_index = 0
    part.mat_places_on = mat.get("places_on", "impression")
