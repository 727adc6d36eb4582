"""A small JSON Schema checker (2020-12, the keywords our schema uses), so that no package is needed at run time."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

_SILENT = {"$schema", "$id", "$defs", "title", "description"}
_TYPES: dict[str, Any] = {
    "object": (dict,),
    "array": (list,),
    "string": (str,),
    "boolean": (bool,),
    "null": (type(None),),
    "number": (int, float),
    "integer": (int, float),
}
_KNOWN = _SILENT | {
    "$ref", "type", "const", "enum", "anyOf", "properties", "patternProperties", "additionalProperties", "required",
    "items", "minItems", "maxItems", "uniqueItems", "minimum", "maximum", "exclusiveMinimum", "pattern", "minLength",
    "maxLength",
}  # fmt: skip


class SchemaChecker:
    """Checks documents against one schema.

    Parameters
    ----------
    schema : mapping
        A JSON Schema 2020-12 document.

    Raises
    ------
    ValueError
        When the schema uses a keyword this checker does not know: better no checker than one that overlooks a rule.
    """

    def __init__(self, schema: Mapping[str, Any]) -> None:
        self._schema = schema
        _refuse_unknown(schema, "#")

    def faults(self, document: Any) -> list[str]:
        """Return what is wrong, each with its place ("regions/0/id: ..."); empty when the document is valid."""
        return list(self._check(document, self._schema, ""))

    def _check(self, value: Any, schema: Any, place: str) -> Iterator[str]:
        if isinstance(schema, bool):
            if not schema:
                yield f"{place or 'document'}: is not allowed"
            return
        if "$ref" in schema:
            yield from self._check(value, self._target(schema["$ref"]), place)
        if "type" in schema and not _has_type(value, schema["type"]):
            yield f"{place or 'document'}: {_short(value)} is not {schema['type']}"
            return
        if "const" in schema and not _same(value, schema["const"]):
            yield f"{place or 'document'}: {_short(value)} is not {_short(schema['const'])}"
        if "enum" in schema and not any(_same(value, each) for each in schema["enum"]):
            yield f"{place or 'document'}: {_short(value)} is none of {_short(schema['enum'])}"
        if "anyOf" in schema and all(next(self._check(value, each, place), None) for each in schema["anyOf"]):
            yield f"{place or 'document'}: {_short(value)} fits none of {len(schema['anyOf'])} forms"
        if isinstance(value, dict):
            yield from self._check_object(value, schema, place)
        elif isinstance(value, list):
            yield from self._check_array(value, schema, place)
        elif isinstance(value, str):
            yield from _check_text(value, schema, place)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            yield from _check_number(value, schema, place)

    def _check_object(self, value: dict[str, Any], schema: Mapping[str, Any], place: str) -> Iterator[str]:
        for name in schema.get("required", ()):
            if name not in value:
                yield f'{place or "document"}: "{name}" is missing'
        properties = schema.get("properties", {})
        patterns = schema.get("patternProperties", {})
        for name, item in value.items():
            here = f"{place}/{name}" if place else name
            rules = [properties[name]] if name in properties else []
            rules += [rule for pattern, rule in patterns.items() if re.search(pattern, name)]
            for rule in rules or [schema.get("additionalProperties", True)]:
                yield from self._check(item, rule, here)

    def _check_array(self, value: list[Any], schema: Mapping[str, Any], place: str) -> Iterator[str]:
        if not schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", len(value)):
            yield f"{place}: has {len(value)} items"
        if schema.get("uniqueItems") and any(
            _same(one, other) for index, one in enumerate(value) for other in value[:index]
        ):
            yield f"{place}: has an item twice"
        for index, item in enumerate(value):
            yield from self._check(item, schema.get("items", True), f"{place}/{index}")

    def _target(self, reference: str) -> Any:
        target: Any = self._schema
        for step in reference.removeprefix("#/").split("/"):
            target = target[step]
        return target


def _check_text(value: str, schema: Mapping[str, Any], place: str) -> Iterator[str]:
    if not schema.get("minLength", 0) <= len(value) <= schema.get("maxLength", len(value)):
        yield f"{place}: has {len(value)} characters"
    if "pattern" in schema and not re.search(schema["pattern"], value):
        yield f"{place}: {_short(value)} does not match {schema['pattern']}"


def _check_number(value: float, schema: Mapping[str, Any], place: str) -> Iterator[str]:
    if "minimum" in schema and value < schema["minimum"]:
        yield f"{place}: {value} is below {schema['minimum']}"
    if "exclusiveMinimum" in schema and value <= schema["exclusiveMinimum"]:
        yield f"{place}: {value} is not above {schema['exclusiveMinimum']}"
    if "maximum" in schema and value > schema["maximum"]:
        yield f"{place}: {value} is above {schema['maximum']}"


def _has_type(value: Any, wanted: str | Sequence[str]) -> bool:
    for name in [wanted] if isinstance(wanted, str) else wanted:
        if not isinstance(value, _TYPES[name]) or (isinstance(value, bool) and name != "boolean"):
            continue
        # JSON knows one kind of number: 1.0 is an integer too (2020-12 core, section 4.2.3).
        if name != "integer" or not isinstance(value, float) or value.is_integer():
            return True
    return False


def _same(one: Any, other: Any) -> bool:
    """Compare as JSON does: true is not 1, 1 is 1.0."""
    if isinstance(one, bool) != isinstance(other, bool):
        return False
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(_same(a, b) for a, b in zip(one, other, strict=True))
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    return bool(one == other)


def _short(value: Any) -> str:
    text = json.dumps(value, default=repr)
    return text if len(text) <= 60 else text[:57] + "..."


def _refuse_unknown(schema: Any, place: str) -> None:
    if isinstance(schema, bool):
        return
    unknown = set(schema) - _KNOWN
    if unknown:
        raise ValueError(f"schema keyword {sorted(unknown)} at {place} is not supported")
    if not schema.get("$ref", "#/").startswith("#/"):
        raise ValueError(f"reference {schema['$ref']} at {place} leads outside the schema")
    for group in ("properties", "patternProperties", "$defs"):
        for name, part in schema.get(group, {}).items():
            _refuse_unknown(part, f"{place}/{group}/{name}")
    for index, part in enumerate(schema.get("anyOf", ())):
        _refuse_unknown(part, f"{place}/anyOf/{index}")
    for name in ("items", "additionalProperties"):
        _refuse_unknown(schema.get(name, True), f"{place}/{name}")
