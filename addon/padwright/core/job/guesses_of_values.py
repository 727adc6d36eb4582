"""What value a person meant by one that a key does not take: other words for a choice, blanks in a part number."""

from __future__ import annotations

import difflib
import re

from .keys import Key

_WORDS = {
    "millimeter": "mm", "millimetre": "mm", "centimeter": "cm", "centimetre": "cm", "meter": "m", "metre": "m",
    "inch": "in", "inche": "in", "remaining": "rest", "everything": "rest", "other": "rest", "all": "rest",
    "hole": "opening", "cutout": "opening", "groove": "channel", "drawn": "outline", "polygon": "outline",
}  # fmt: skip
_AXES = {"x": 0, "y": 1, "z": 2}


def likely_value(described: Key, value: object, name: str) -> str:
    """Return a question or a line with the value that was likely meant, with a blank before; "" where none is known.

    Parameters
    ----------
    described : Key
    value : object
        As given; the key does not take it.
    name : str
        Of the key.
    """
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
    if described.kind == "press":
        axis = re.fullmatch(r"\s*([+-]?)\s*([xyzXYZ])\s*", value)
        if axis is None:
            return f' To have it found from the clay write: {name} = "auto"'
        row = ["0", "0", "0"]
        row[_AXES[axis[2].lower()]] = "-1" if axis[1] == "-" else "1"
        return f" Write: {name} = [{', '.join(row)}]"
    return ""
