"""Set keys in the TOML text of a job and leave all else as the person wrote it: comments, order, blanks."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from ..base.errors import InputError
from .toml_lines import Path, locate_values, show_path
from .toml_values import toml_value

_NOWHERE = object()


def with_keys(text: str, values: Mapping[Path, Any]) -> str:
    """Return a valid TOML text with keys set, each by its path (lists count from 0); all else stays byte for byte.

    A key that is there gets its new value in its place. A new one comes behind the last of its table; a table that is
    not there comes at the end of the text.

    Raises InputError when a path leads through an element of a list that is not there, or through what is no table.
    """
    is_dos = "\r\n" in text
    made = text.replace("\r\n", "\n")
    for path, value in values.items():
        made = _with_key(made, path, value)
        try:
            is_set = _found(tomllib.loads(made), path) == _thawed(value)
        except tomllib.TOMLDecodeError:  # its table is spelled with dots, or there is a value where a table would be
            is_set = False
        if not is_set:
            raise InputError(
                f"{show_path(path)} cannot be set in this file.", hint=f"Write it yourself: {_line(path, value)}"
            )
    return made.replace("\n", "\r\n") if is_dos else made


def _with_key(text: str, path: Path, value: Any) -> str:
    spans, ends = locate_values(text)
    if path in spans:
        begin, end = spans[path]
        return text[:begin] + toml_value(value) + text[begin:end][len(text[begin:end].rstrip(" \t")) :] + text[end:]
    table = path[:-1]
    around = next((table[:count] for count in range(len(table), 0, -1) if _is_inline(text, spans, table[:count])), None)
    if around is not None:  # an inline table: the new key goes behind its last
        begin, end = spans[around]
        inside = text[begin:end].rstrip()[:-1].rstrip()
        comma = "" if inside.endswith("{") else ","
        rest = path[len(around) :]
        return f"{text[:begin]}{inside}{comma} {_dotted(rest)} = {toml_value(value)} }}{text[end:]}"
    line = f"{_dotted(path[-1:])} = {toml_value(value)}"
    if table in ends:
        at = text.find("\n", ends[table])
        at = len(text) if at < 0 else at
        return f"{text[:at]}\n{line}{text[at:]}"
    if not table:  # plain keys of the job come before its tables
        return f"{line}\n{text}"
    if any(isinstance(part, int) for part in table):
        raise InputError(f"{show_path(table)} is not in this file, so {show_path(path)} cannot be set in it.")
    return f"{text.rstrip()}\n\n[{_dotted(table)}]\n{line}\n"


def _is_inline(text: str, spans: Mapping[Path, tuple[int, int]], path: Path) -> bool:
    return path in spans and text[spans[path][0]] == "{"


def _dotted(path: Path) -> str:
    """Return a path of names as TOML has it; a name that is not bare goes in quotes."""
    bare = [str(part) for part in path]
    return ".".join(
        each if each.replace("-", "").replace("_", "").isalnum() and each.isascii() else toml_value(each)
        for each in bare
    )


def _line(path: Path, value: Any) -> str:
    return f"{show_path(path)} = {toml_value(value)}"


def _found(tables: Any, path: Path) -> Any:
    """Return what stands at a path of read tables."""
    for part in path:
        has_it = (
            isinstance(tables, dict) and part in tables
            if isinstance(part, str)
            else (isinstance(tables, list) and part < len(tables))
        )
        if not has_it:
            return _NOWHERE
        tables = tables[part]
    return tables


def _thawed(value: Any) -> Any:
    return [_thawed(each) for each in value] if isinstance(value, (list, tuple)) else value
