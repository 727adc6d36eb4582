"""What value a person meant by one that a key does not take: other words for a choice, blanks in a part number."""

from __future__ import annotations

import difflib
import re

from .keys import BadValueError, Key, check_value, keys_of
from .toml_values import toml_value

_WORDS = {
    "millimeter": "mm", "millimetre": "mm", "centimeter": "cm", "centimetre": "cm", "meter": "m", "metre": "m",
    "inch": "in", "inche": "in", "remaining": "rest", "everything": "rest", "other": "rest", "all": "rest",
    "hole": "opening", "cutout": "opening", "groove": "channel", "drawn": "outline", "polygon": "outline",
}  # fmt: skip
_FLAGS = {"yes": "true", "on": "true", "y": "true", "no": "false", "off": "false", "n": "false"}
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_AXES = {"x": 0, "y": 1, "z": 2}


def likely_value(described: Key, value: object, name: str) -> str:
    """Return, after a blank, what was likely meant by a value that its key does not take; "" where none is known."""
    if not isinstance(value, str):
        return ""
    if described.choices:
        word = value.strip().lower()
        meant = _WORDS.get(word.rstrip("s"), word)
        near = [meant] if meant in described.choices else difflib.get_close_matches(word, described.choices, 1, 0.5)
        return f' Did you mean "{near[0]}"?' if near else ""
    if described.kind == "slug":
        slug = re.sub(r"[^A-Za-z0-9._-]+", "-", value).strip("-._")[:40].rstrip(".")
        return f' Write: {name} = "{slug}"' if slug and slug != value else ""
    if described.kind == "flag":
        meant = _FLAGS.get(value.strip().lower(), "")
        return f" Write: {name} = {meant}" if meant else ""
    if described.kind in ("numbers", "point"):
        row = _NUMBER.findall(value)
        is_row = not re.sub(r"[\sxX*,;/()\[\]]|mm", "", _NUMBER.sub("", value))
        least, most = (3, 3) if described.kind == "point" else described.count
        return f" Write: {name} = [{', '.join(row)}]" if is_row and least <= len(row) <= most and row else ""
    if described.kind in ("direction", "press"):
        axis = re.fullmatch(r"\s*([+-]?)\s*([xyzXYZ])\s*", value)
        if axis is None:
            return "" if described.kind == "direction" else f' To have it found from the clay write: {name} = "auto"'
        row = ["0", "0", "0"]
        row[_AXES[axis[2].lower()]] = "-1" if axis[1] == "-" else "1"
        return f" Write: {name} = [{', '.join(row)}]"
    return ""


def likely_key(table: type, value: object, path: str) -> str:
    """Return which key of a table a value given for the table was likely meant for, or its keys, with a blank before.

    The table is given by its dataclass, and by its path with dots.
    """
    keys = {name: described for name, (_, described, _) in keys_of(table).items()}
    for name, described in keys.items():
        takes_any_text = described.kind in ("text", "texts", "folder") or (
            described.kind == "file" and not described.card
        )
        if takes_any_text or described.table is not None:
            continue
        try:
            check_value(described, value)
        except BadValueError:
            continue
        return f" Did you mean {path}.{name} = {toml_value(value)}?"
    return f" Its keys are {', '.join(keys)}."
