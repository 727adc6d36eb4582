"""A value as TOML text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

_ESCAPES = {"\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r", '"': '\\"', "\\": "\\\\"}


def toml_value(value: Any) -> str:
    """Return a value as TOML text (TOML 1.0.0); floats so that they read back to the same bits."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + "".join(_ESCAPES.get(char) or _escaped(char) for char in value) + '"'
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{name} = {toml_value(item)}" for name, item in value.items()) + " }"
    return "[" + ", ".join(toml_value(item) for item in value) + "]"


def _escaped(char: str) -> str:
    return f"\\u{ord(char):04x}" if ord(char) < 0x20 or ord(char) == 0x7F else char
