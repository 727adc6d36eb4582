"""Where each key of a TOML text stands: line numbers, which the standard reader does not give."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from ..base.errors import InputError
from .toml_slips import explain

Path = tuple[str | int, ...]

_DEEPEST = 40
"""Tables and lists within each other; a job needs six. Paths are kept for every key, so depth must have an end."""
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_TOO_DOTTED = re.compile(
    r"""(?<![A-Za-z0-9_-])(?:(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*)""" + f"{{{_DEEPEST}}}"
)
_SCALAR = re.compile(r"[^,\]}\n#]+")
_PLACE = re.compile(r"^(.*?) \(at (?:line (\d+), column (\d+)|end of document)\)$", re.DOTALL)


def show_path(path: Path) -> str:
    """Return a key path as a person writes it, e.g. `base.check_lengths[2].from` (lists count from 1)."""
    text = ""
    for part in path:
        if isinstance(part, str) and len(part) > 60:  # no key of ours; a message is for reading
            part = f"{part[:57]}..."
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


@dataclass(frozen=True)
class KeyPlaces:
    """Where the keys of a job stand, for messages about them."""

    name: str  # of the file
    lines: Mapping[Path, int]  # by key path; empty where there is no file
    # By key path: what the file calls a key that it gives under an old name
    once: Mapping[Path, str] = field(default_factory=dict)
    outside: frozenset[Path] = frozenset()  # set on the command line, not in the file

    def line(self, path: Path) -> int:
        """Return the line of a key, or of the table it should be in; 1 where neither stands in the file."""
        return self.lines.get(self._nearest(path), 1)

    def told(self, path: Path) -> str:
        """Return file and line (or --set) and the key, e.g. "job.toml:3: part.name"."""
        where = f"{self.name}:{self.line(path)}" if self.lines else self.name
        old = f" (here {self.once[path]})" if path in self.once else ""
        return f"{'--set' if self._nearest(path) in self.outside else where}: {show_path(path)}{old}"

    def _nearest(self, path: Path) -> Path:
        while path and path not in self.lines and path not in self.outside:
            path = path[:-1]
        return path


def parse_toml(
    data: bytes, name: str, whole: Mapping[str, str] = MappingProxyType({})
) -> tuple[dict[str, Any], dict[Path, int]]:
    """Return the tables of a TOML file, UTF-8 with or without a byte order mark, and the line of every key.

    For messages `whole` has the keys that take whole numbers alone, and the one that they take; "" for more than one.

    Raises InputError when the text is not UTF-8 or not TOML; it gives line and column.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(f"{name}:{line}: the text is not UTF-8.", hint="Save the file as UTF-8.") from None
    dotted = _TOO_DOTTED.search(text)
    if dotted is not None:  # the standard reader's time grows with the square of a key's parts
        raise _too_deep(name, text.count("\n", 0, dotted.start()) + 1)
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = _PLACE.match(str(error))
        what = found.group(1) if found else str(error)
        line = int(found.group(2)) if found and found.group(2) else text.count("\n") + 1
        slip = explain(text, line, str(error), whole)
        if slip:
            raise InputError(f"{name}:{slip[0]}: {slip[1]}") from None
        column = f", column {found.group(3)}" if found and found.group(3) else ""
        raise InputError(
            f"{name}:{line}{column}: this is not valid TOML: {what}.",
            hint='A line is: key = value. Text stands in "straight quotes", numbers stand bare, lists in [ ].',
        ) from None
    except RecursionError:
        raise InputError(f"{name}: lists are nested too deeply.") from None
    except ValueError as error:  # a whole number of thousands of digits, which Python does not read
        raise InputError(f"{name}: a number in it has more digits than any number of a job.") from error
    try:
        return tables, locate_keys(text)
    except _DeepError as deep:
        raise _too_deep(name, deep.line) from None


def _too_deep(name: str, line: int) -> InputError:
    return InputError(f"{name}:{line}: a key lies more than {_DEEPEST} tables deep; no job goes that deep.")


def locate_keys(text: str) -> dict[Path, int]:
    """Return the line (from 1) of every table, key and list element of a valid TOML text.

    Notes
    -----
    Grammar: TOML 1.0.0 (toml.io/en/v1.0.0). The text must have passed the standard reader; nothing is checked here.
    """
    return _Scanner(text.replace("\r\n", "\n")).scan()


def locate_values(text: str) -> tuple[dict[Path, tuple[int, int]], dict[Path, int]]:
    """Return where values and tables stand in a valid TOML text whose lines end in a line feed alone, by path.

    First the begin and end of each value; then, for each table with a header of its own, the end of the last value
    below it, or of the header where it has none.
    """
    scanner = _Scanner(text)
    scanner.scan()
    return scanner.values, scanner.table_ends


class _DeepError(Exception):
    """A key lies deeper than any; its path would be long, and so would that of every key below it."""

    def __init__(self, line: int) -> None:
        super().__init__()
        self.line = line


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}
        self.values: dict[Path, tuple[int, int]] = {}
        self.table_ends: dict[Path, int] = {}
        self._counted_to = 0
        self._line = 1

    def scan(self) -> dict[Path, int]:
        table: Path = ()
        while self._skip(" \t\n"):
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self.table_ends[table] = self.at
        return self.lines

    def _mark(self, path: Path) -> None:
        self._line += self.text.count("\n", self._counted_to, self.at)
        self._counted_to = self.at
        if len(path) > _DEEPEST:
            raise _DeepError(self._line)
        self.lines.setdefault(path, self._line)

    def _skip(self, blanks: str) -> bool:
        """Go past blanks and comments; False at the end of the text."""
        while self.at < len(self.text):
            if self.text[self.at] in blanks:
                self.at += 1
            elif self.text[self.at] == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            else:
                return True
        return False

    def _header(self) -> Path:
        is_list = self.text.startswith("[[", self.at)
        self.at += 2 if is_list else 1
        keys = self._key()
        self._skip(" \t")
        path: Path = ()
        for key in keys[:-1]:
            self._mark((*path, key))
            path = self._inside((*path, key))
        path = (*path, keys[-1])
        if is_list:
            self._mark(path)
            count = self.counts.get(path, 0)
            self.counts[path] = count + 1
            path = (*path, count)
        self._mark(path)
        self.at += 2 if is_list else 1
        return path

    def _inside(self, path: Path) -> Path:
        """Return the last element where the path is a list of tables, else the path."""
        return (*path, self.counts[path] - 1) if path in self.counts else path

    def _key(self) -> list[str]:
        """Read a dotted key."""
        keys = []
        while True:
            self._skip(" \t")
            if self.text[self.at] in "\"'":
                start = self.at
                self._string()
                keys.append(str(tomllib.loads("k = " + self.text[start : self.at])["k"]))
            else:
                found = _BARE.match(self.text, self.at)
                if found is None:  # cannot happen in a text that the standard reader took
                    raise InputError(f"Unexpected character at position {self.at} of the TOML text.")
                keys.append(found.group())
                self.at = found.end()
            self._skip(" \t")
            if not self.text.startswith(".", self.at):
                return keys
            self.at += 1

    def _pair(self, table: Path) -> None:
        self._skip(" \t")
        start = self.at
        keys = self._key()
        end, self.at = self.at, start
        path = table
        for key in keys:
            path = (*path, key)
            self._mark(path)
        self.at = self.text.index("=", end) + 1
        self._skip(" \t")
        start = self.at
        self._value(path)
        self.values[path] = (start, self.at)

    def _value(self, path: Path) -> None:
        self._skip(" \t")
        first = self.text[self.at]
        if first == "[":
            self._list(path)
        elif first == "{":
            self.at += 1
            self._skip(" \t")
            while self.text[self.at] != "}":
                self._pair(path)
                self._skip(" \t,")
            self.at += 1
        elif first in "\"'":
            self._string()
        else:
            found = _SCALAR.match(self.text, self.at)
            self.at = found.end() if found else self.at + 1

    def _list(self, path: Path) -> None:
        self.at += 1
        index = 0
        self._skip(" \t\n,")
        while self.text[self.at] != "]":
            self._mark((*path, index))
            self._value((*path, index))
            index += 1
            self._skip(" \t\n,")
        self.at += 1

    def _string(self) -> None:
        quote = self.text[self.at]
        if self.text.startswith(quote * 3, self.at):
            self.at += 3
            while not self.text.startswith(quote * 3, self.at):
                self.at += 2 if quote == '"' and self.text[self.at] == "\\" else 1
            self.at += 3
            while self.text.startswith(quote, self.at):  # up to two quotes may end the content
                self.at += 1
            return
        self.at += 1
        while self.text[self.at] != quote:
            self.at += 2 if quote == '"' and self.text[self.at] == "\\" else 1
        self.at += 1
