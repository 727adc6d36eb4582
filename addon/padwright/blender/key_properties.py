"""Properties made from the job's own keys: limits, choices, default and words stand with the key alone.

They come from the keys' JSON Schema, which lies with the shared data, not from the keys themselves: their many tables
would take as long to load as half of all the rest on enabling. A test holds the schema to the keys.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from bpy.props import BoolProperty, EnumProperty, FloatProperty, IntProperty, StringProperty

from ..core.base.resources import shared_path

LEAST = 0.001
"""What stands for "above 0" in a field, mm or the like: finer is neither measured nor printed."""
_UNITS = {"mm": "mm", "kg": "kg", "kpa": "kPa", "deg": "°", "pct": "%"}  # end of a key's name -> as it is written
_LEFT_OUT = "if not given"  # end of what is said of a key that Padwright chooses itself
_FROM_CARD = "Default: from the part family card."


@cache
def _schema() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(shared_path("schemas", "job.schema.json").read_text("utf-8"))
    return found


def key_at(place: str) -> dict[str, Any]:
    """Return what the schema says of a key, by its place with dots; through a list of tables its rows are meant."""
    found = _schema()
    for name in place.split("."):
        found = found.get("items", found)["properties"][name]
    return found


def words_of(place: str, *, can_be_unknown: bool = False) -> str:
    """Return a key's meaning as a tooltip: no full stop at the end, no word of the card, no unit: the title has it."""
    words = str(key_at(place)["description"]).replace(_FROM_CARD, "").strip().removesuffix(".")
    words = words.removesuffix(f", {_unit_of(place)}")
    if not can_be_unknown:
        return words
    return f"{words} (0)" if words.endswith(_LEFT_OUT) else f"{words}; 0 when not known"


def _unit_of(place: str) -> str:
    """Return the unit that a key's name ends with, or nothing."""
    return _UNITS.get(place.rpartition("_")[2], "")


def choices_of(place: str) -> list[str]:
    """Return what a key may be, as it is called today."""
    key = key_at(place)
    return list(key["enum"] if "enum" in key else key["anyOf"][0]["enum"])


def of_key(
    place: str,
    title: str,
    *,
    can_be_unknown: bool = False,
    words: dict[str, tuple[str, str]] | None = None,
    **more: Any,
) -> Any:
    """Return a property that holds a key of the job.

    Parameters
    ----------
    place : str
        Of the key, with dots; a row of a list of tables has no number.
    title : str
        Its name in the panel; a unit is added where the key's name ends with one.
    can_be_unknown : bool
        It is a number that may be left out of the job: 0 stands for that.
    words : dict, optional
        Choice -> (title, tooltip); one without is shown by its own name.
    more
        What the modeller is told besides: a default where the key has none, steps, digits.
    """
    key = key_at(place)
    told: dict[str, Any] = {"name": title, "description": words_of(place, can_be_unknown=can_be_unknown)}
    if _unit_of(place):
        told["name"] = f"{title} ({_unit_of(place)})"
    if "default" in key:
        told["default"] = key["default"]
    kind = key.get("type", "choice")
    if kind in ("number", "integer"):
        told |= _limits(key, can_be_unknown=can_be_unknown)
        told.setdefault("default", max(0, told.get("min", 0)))
        return (FloatProperty if kind == "number" else IntProperty)(**{**told, **more})
    if kind == "boolean":
        return BoolProperty(**{**told, **more})
    if kind == "string":
        return StringProperty(**{**told, **more})
    return EnumProperty(items=items_of(place, words or {}), **{**told, **more})


def items_of(place: str, words: dict[str, tuple[str, str]]) -> list[tuple[str, str, str]]:
    """Return a key's choices for the modeller: (choice, title, tooltip) each."""
    plain = {each: (each.replace("_", " ").title(), words_of(place)) for each in choices_of(place)}
    return [(each, *words.get(each, plain[each])) for each in plain]


def _limits(key: dict[str, Any], *, can_be_unknown: bool) -> dict[str, Any]:
    limits = {}
    if can_be_unknown:
        limits["min"] = 0
    elif "exclusiveMinimum" in key:
        limits["min"] = key["exclusiveMinimum"] + LEAST
    elif "minimum" in key:
        limits["min"] = key["minimum"]
    if "maximum" in key:
        limits["max"] = key["maximum"]
    return limits


UNIT_ITEMS = items_of(
    "base.unit",
    {
        "mm": ("Millimeters", "One unit of the scan is a millimeter"),
        "cm": ("Centimeters", "One unit of the scan is a centimeter"),
        "m": ("Meters", "One unit of the scan is a meter"),
        "in": ("Inches", "One unit of the scan is an inch"),
    },
)
