"""The job's keys as a JSON Schema, for editors that check and complete TOML: made from the keys, no second list.

What it can say of one key or one zone it says: types, choices, limits, what must be there, which keys go with a zone's
source. Rules between keys of different tables, files that must exist and devices' names are left to reading the job.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import MISSING, is_dataclass
from typing import Any

from ..base.plain import plain
from .keys import COLOR, FARTHEST, PRESS_WORDS, SLUG, Key, keys_of, longest_text
from .renames import JOB
from .schema import RETIRED, Job
from .toml_lines import Path
from .zone_keys import COMMON_ZONE_KEYS, ZONE_KEYS

DRAFT = "http://json-schema.org/draft-07/schema#"
_UNITS = {
    "_per_kg": "",
    "_mm3_s": "mm3/s",
    "_g_cm3": "g/cm3",
    "_mm_s": "mm/s",
    "_mm": "mm",
    "_kpa": "kPa",
    "_kg": "kg",
    "_pct": "%",
    "_n": "N",
}
"""What a key's name ends with and its unit, the longest first."""


def job_schema() -> dict[str, Any]:
    """Return the schema of a job's tables, JSON Schema draft-07."""
    return {
        "$schema": DRAFT,
        "title": "A Padwright job",
        "description": "Everything about one part. Points are in the scan file's own numbers; names that end in _mm "
        "are true mm.",
        **_table(Job, ()),
    }


def unit_of(name: str) -> str:
    """Return the unit that a key's name states; "" where it states none."""
    return next((unit for end, unit in _UNITS.items() if name.endswith(end)), "")


def _table(table: type, path: Path) -> dict[str, Any]:
    properties: dict[str, Any] = {}
    needed = []
    for name, (_, described, default) in keys_of(table).items():
        properties[name] = _described(name, described, default, (*path, name))
        if default is MISSING and not described.card and not _can_be_empty(described):
            needed.append(name)
    rules = _needed(needed, path)
    for once, now in _once_names(path).items():
        words = f"Once the name of {now}. Write {now}."
        properties[once] = {**properties[now], "description": words, "deprecated": True}
        rules.append({"not": {"required": [once, now]}})
    for retired, instead in RETIRED.items():
        if retired[:-1] == path:
            words = f"No longer a key, left out with a note: {instead}."
            properties[str(retired[-1])] = {"description": words, "deprecated": True}
    if path == ("zones",):
        rules += _zone_rules(properties, path)
    made: dict[str, Any] = {"type": "object", "properties": properties, "additionalProperties": False}
    return {**made, "allOf": rules} if rules else made


def _once_names(path: Path) -> dict[str, str]:
    """Return what keys of a table were called once -> what they are called now."""
    return {str(once[-1]): now for once, now in JOB.keys.items() if once[:-1] == path}


def _needed(names: Iterable[str], path: Path) -> list[dict[str, Any]]:
    """Return the rules that ask for keys, each under its name of today or an old one."""
    once = _once_names(path)
    old = {name: [each for each, now in once.items() if now == name] for name in sorted(names)}
    plain = [name for name, others in old.items() if not others]
    either = [{"anyOf": [{"required": [each]} for each in (name, *others)]} for name, others in old.items() if others]
    return [*([{"required": plain}] if plain else []), *either]


def _can_be_empty(described: Key) -> bool:
    """Say if a table may be left out, because all of its keys have a default."""
    return (
        described.kind == "table"
        and described.table is not None
        and all(default is not MISSING or inner.card for _, inner, default in keys_of(described.table).values())
    )


def _zone_rules(names: Iterable[str], path: Path) -> list[dict[str, Any]]:
    """Return, for each source of a zone, the keys it must have and those of all the names that it does not take."""
    once = _once_names(path)
    values = JOB.values[(*path, "source")]
    rules = []
    for source, (must, may) in ZONE_KEYS.items():
        takes = must | may | COMMON_ZONE_KEYS
        called = [source, *(each for each, now in values.items() if now == source)]
        then: dict[str, Any] = {"properties": {name: False for name in names if once.get(name, name) not in takes}}
        if must:
            then["allOf"] = _needed(must, path)
        rules.append({"if": {"properties": {"source": {"enum": called}}, "required": ["source"]}, "then": then})
    return rules


def _described(name: str, described: Key, default: Any, path: Path) -> dict[str, Any]:
    about = described.about[:1].upper() + described.about[1:]
    unit = unit_of(name) if described.kind in ("number", "integer", "numbers") else ""
    words = [f"{about}, {unit}." if unit else f"{about}."]
    if described.card:
        words.append("Default: from the part family card.")
    made = {"description": " ".join(words), **_kind(described, path)}
    if default is not MISSING and default is not None and not described.card and not is_dataclass(default):
        made["default"] = plain(default)
    return made


def _kind(described: Key, path: Path) -> dict[str, Any]:
    kind = described.kind
    if kind == "table" and described.table is not None:
        return _table(described.table, path)
    if kind == "tables" and described.table is not None:
        least, most = described.count
        made = {"type": "array", "items": _table(described.table, path), "maxItems": most}
        return {**made, "anyOf": [{"maxItems": 0}, {"minItems": least}]} if least else made
    made_of: dict[str, Callable[[], dict[str, Any]]] = {
        "number": lambda: {"type": "number", **_limits(described)},
        "integer": lambda: {"type": "integer", **_limits(described)},
        "flag": lambda: {"type": "boolean"},
        "text": lambda: _text(described),
        "slug": lambda: {"type": "string", "pattern": f"^{SLUG}$"},
        "choice": lambda: _choice(described, path),
        "file": lambda: {**_text(described), "pattern": r"\S"},
        "folder": lambda: {**_text(described), "pattern": r"\S"},
        "color": lambda: {"type": "string", "pattern": f"^({'|'.join((COLOR, *described.choices))})$"},
        "point": lambda: _point(),
        "points": lambda: _list(described, _point()),
        "direction": lambda: _point(),
        "press": lambda: {"anyOf": [{"enum": list(PRESS_WORDS)}, _point()]},
        "numbers": lambda: _list(described, {"type": "number", **_limits(described)}),
        "texts": lambda: _list(described, {"enum": list(described.choices)} if described.choices else _text(described)),
    }
    return made_of[kind]()


def _limits(described: Key) -> dict[str, Any]:
    limits: dict[str, Any] = {}
    if described.low is not None:
        limits["exclusiveMinimum" if described.above else "minimum"] = described.low
    if described.high is not None:
        limits["maximum"] = described.high
    return limits


def _text(described: Key) -> dict[str, Any]:
    made: dict[str, Any] = {"type": "string", "maxLength": longest_text(described)}
    return {**made, "pattern": r"\S"} if described.count[0] > 0 else made


def _choice(described: Key, path: Path) -> dict[str, Any]:
    now = {"enum": list(described.choices)}
    old = list(JOB.values.get(path, {}))
    return {"anyOf": [now, {"enum": old, "description": "Once their names.", "deprecated": True}]} if old else now


def _point() -> dict[str, Any]:
    number = {"type": "number", "minimum": -FARTHEST, "maximum": FARTHEST}
    return {"type": "array", "items": number, "minItems": 3, "maxItems": 3}


def _list(described: Key, item: dict[str, Any]) -> dict[str, Any]:
    least, most = described.count
    return {"type": "array", "items": item, "minItems": least, "maxItems": most}
