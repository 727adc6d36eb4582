"""Turn TOML tables into frozen dataclasses, every key checked; all faults are told at once, each with its line."""

from __future__ import annotations

import difflib
import re
import tomllib
import types
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING
from pathlib import Path as FilePath
from typing import Any, TypeVar

from ..base.errors import InputError
from .guesses import has_all_words, in_its_unit, nearest_keys
from .guesses_of_values import likely_key, likely_value
from .keys import BadValueError, Key, check_value, expected, keys_of, walk_keys
from .mixed_up_files import NOT_KNOWN, no_scan
from .toml_lines import KeyPlaces, Path, show_path
from .toml_numbers import mended_row
from .toml_slips import bare_number

_MOST_SHOWN = 12
_MOST_MEANT = 3
_NUMBERS = ("number", "integer")
_SCANS = ("scan", "envelope")  # keys that name a mesh
Result = TypeVar("Result")


def _takes_all(_table: type, _data: Mapping[str, Any]) -> frozenset[str] | None:
    return None


class TableReader:
    """Reads the tables of one file and gathers what is wrong with them.

    Parameters
    ----------
    name : str
        The file's name for messages.
    folder : path, optional
        Where file names are relative to; without it files are not looked for.
    defaults : mapping of key path (no list indices) to value
        Defaults from a card, in TOML form.
    root : type
        The dataclass of the whole file, to tell a person in which table a misplaced key belongs.
    """

    def __init__(
        self,
        name: str,
        lines: Mapping[Path, int],
        root: type,
        *,
        folder: FilePath | None = None,
        defaults: Mapping[Path, Any] = types.MappingProxyType({}),
    ) -> None:
        self.name = name
        self.lines = lines
        self.folder = folder
        self.defaults = defaults
        self.root = root
        self.faults: list[tuple[int, str]] = []
        self.once: Mapping[Path, str] = {}  # what the file calls a key that it gives under an old name
        self.shared_files: Mapping[Path, Sequence[str]] = {}  # names that stand for files that ship
        self._found: set[str] = set()  # files that other keys name: never what a missing one was meant to be
        self.text: Sequence[str] = ()  # the file's lines, where there is a file
        self.scans = NOT_KNOWN  # which files are scans
        self.outside: frozenset[Path] = frozenset()  # set on the command line, not in the file
        # Of a table's keys those that it takes by what stands in it; None: all.
        self.takes: Callable[[type, Mapping[str, Any]], frozenset[str] | None] = _takes_all
        self.said: Callable[[Path, str], str] | None = None  # how a screen words a fault, from its place and text

    def fault(self, path: Path, text: str) -> None:
        """Note a fault at a key; the line, where lines are known, is its own or that of the table it should be in."""
        if self.said is not None:
            self.faults.append((1, self.said(path, text)))
            return
        places = self.places
        self.faults.append((places.line(path), f"{places.told(path)}: {text}"))

    @property
    def places(self) -> KeyPlaces:
        """Where the keys stand."""
        return KeyPlaces(self.name, self.lines, self.once, self.outside)

    def finish(self, value: Result | None) -> Result:
        """Return the value that was read, or stop when there were faults.

        Raises InputError with all of them, in the order of the file.
        """
        if not self.faults and value is not None:
            return value
        told = [text for _, text in sorted(self.faults, key=lambda fault: fault[0])]
        more = len(told) - _MOST_SHOWN
        if more > 0:
            told = [*told[:_MOST_SHOWN], f"... and {more} more."]
        raise InputError("\n".join(told))

    def read(self, table: type, data: Any, path: Path = ()) -> Any:
        """Return the table's dataclass, or None when a fault stands in the way (it is noted)."""
        if not isinstance(data, dict):
            self.fault(path, f"expected a table ([...] or {{ ... }}).{likely_key(table, data, show_path(path))}")
            return None
        if not path:  # files that any key names: never what a missing one was meant to be
            self._found |= {
                FilePath(each["scan"]).name
                for each in data.values()
                if isinstance(each, dict) and isinstance(each.get("scan"), str)
            }
        keys = keys_of(table)
        suggested = self._unknown_keys(table, data, path)
        values: dict[str, Any] = {}
        is_whole = not any(name not in keys for name in data)
        for name, (field_name, described, default) in keys.items():
            here = (*path, name)
            if name in data:
                value = self._value(described, data[name], here)
            else:
                value = self._absent(described, default, here, is_told=name in suggested)
            if value is MISSING:
                is_whole = False
            else:
                values[field_name] = value
        return table(**values) if is_whole else None

    def _unknown_keys(self, table: type, data: dict[str, Any], path: Path) -> set[str]:
        """Note every key that is not known, and return those which were meant."""
        keys = keys_of(table)
        taken = self.takes(table, data)
        likely = [key for key in keys if taken is None or key in taken]
        suggested = set()
        for name, value in data.items():
            if name in keys:
                continue
            near = nearest_keys(name, likely)
            away = self._elsewhere(name)
            if name in {place.rpartition(".")[2] for place in away}:  # a key as it is counts more than one like it
                near = [key for key in near if has_all_words(name, key)]
            if near:
                away = []
            suggested.update(near)
            meant = [*(show_path((*path, key)) for key in near), *away]
            if len(near) == 1 and near[0] in data:
                text = (
                    f"there is no such key; {near[0]}, given beside it, is the one that is read. Leave one of them out."
                )
            elif meant:
                there = " here" if away else ""
                text = f"there is no such key{there}; did you mean {' or '.join(meant[:_MOST_MEANT])}?"
                text += in_its_unit(name, near[0], value) if len(near) == 1 else ""
            else:
                text = f"there is no such key here; known are {', '.join(likely)}."
            self.fault((*path, name), text)
        return suggested

    def _elsewhere(self, name: str) -> list[str]:
        """Return where a key belongs that stands in the wrong table, or is misspelt there too."""
        known: dict[str, list[str]] = {}
        for where, _, _ in walk_keys(self.root):
            known.setdefault(str(where[-1]), []).append(show_path(where))
        near = [name] if name in known else nearest_keys(name, known, 0.75)
        return [place for key in near for place in known[key]][:_MOST_MEANT]

    def _absent(self, described: Key, default: Any, path: Path, *, is_told: bool) -> Any:
        plain = tuple(part for part in path if not isinstance(part, int))
        if described.card and plain in self.defaults:
            return self._value(described, self.defaults[plain], path)
        if default is not MISSING:
            return default
        if described.kind == "table" and described.table is not None and self._can_be_empty(described.table, plain):
            value = self.read(described.table, {}, path)
            return MISSING if value is None else value
        if not is_told:
            self.fault(path, f"this key is missing; expected {expected(described)}.")
        return MISSING

    def _can_be_empty(self, table: type, path: Path) -> bool:
        return all(
            default is not MISSING or (described.card and (*path, name) in self.defaults)
            for name, (_, described, default) in keys_of(table).items()
        )

    def _value(self, described: Key, value: Any, path: Path) -> Any:
        if described.kind == "table" and described.table is not None:
            made = self.read(described.table, value, path)
            return MISSING if made is None else made
        if described.kind == "tables" and described.table is not None:
            return self._tables(described, described.table, value, path)
        try:
            checked = check_value(described, value)
        except BadValueError as error:
            bare = bare_number(str(path[-1]), value) if described.kind in _NUMBERS and isinstance(value, str) else ""
            if bare:
                alone = f"a text; write the number alone, without quotes or unit: {bare}"
                self.fault(path, f'expected {expected(described)}; got "{value[:60]}", {alone}.')
                return MISSING
            near = likely_value(described, value, str(path[-1]))
            if error.at is None:
                self.fault(path, f"expected {expected(described)}; {error}.{near}{self._as_meant(described, path)}")
            else:
                at, point = (*path, error.at), Key("point", "")
                self.fault(at, f"expected {expected(point)}; {error}.{self._as_meant(point, at)}")
            return MISSING
        if described.kind == "file" and not self._is_there(checked, path):
            return MISSING
        return checked

    def _as_meant(self, described: Key, path: Path) -> str:
        """Return the line of a list with decimal commas as it should be; "" where that is not what is wrong with it."""
        line = self.lines.get(path, 0)
        given = self.text[line - 1] if 0 < line <= len(self.text) else ""
        mended = mended_row(given) if described.kind in ("point", "numbers", "direction", "press") else None
        if mended is None or mended == given.strip():
            return ""
        is_pair = not mended.startswith("[")
        try:
            found = tomllib.loads(mended if is_pair else f"row = [{mended}\n]").popitem()[1]
            check_value(described, found if is_pair else found[0])
        except (ValueError, tomllib.TOMLDecodeError):
            return ""
        return f" Write: {mended}" if is_pair else f" So with each row like it. Write: {mended}"

    def check(self, described: Key, value: Any, path: Path) -> bool:
        """Say if a single value is what a key expects; a fault is noted if not."""
        before = len(self.faults)
        self._value(described, value, path)
        return len(self.faults) == before

    def _tables(self, described: Key, table: type, value: Any, path: Path) -> Any:
        least, most = described.count
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.fault(path, f"expected a list of tables, [[{show_path(path)}]].")
            return MISSING
        if value and not least <= len(value) <= most:
            self.fault(path, f"expected {expected(described)}; got {len(value)}.")
            return MISSING
        made = [self.read(table, item, (*path, index)) for index, item in enumerate(value)]
        return MISSING if None in made else tuple(made)

    def _is_there(self, file: str, path: Path) -> bool:
        plain = tuple(part for part in path if not isinstance(part, int))
        shipped = self.shared_files.get(plain, ())
        if self.folder is None or file in shipped:
            return True
        place = self.folder / file
        try:
            what = no_scan(file, self.folder, self._found, self.scans) if path[-1] in _SCANS else ""
            if what:
                self.fault(path, what)
                return False
            if place.is_file():
                self._found.add(place.name)
                return True
        except OSError as error:
            self.fault(path, f'the file "{file[:60]}" cannot be looked for: {error.strerror}.')
            return False
        if place.exists():
            what = "a folder" if place.is_dir() else "a pipe or a device"
            self.fault(path, f'"{file}" is {what}; expected a file.')
            return False
        near: list[str] = []
        if place.parent.is_dir():
            names = [item.name for item in place.parent.iterdir() if item.is_file()]
            near = difflib.get_close_matches(place.name, [name for name in names if name not in self._found], 1, 0.6)
        near = near or difflib.get_close_matches(re.sub(r"[^a-z0-9]+", "_", file.lower()), shipped, 1, 0.6)
        hint = f' Did you mean "{near[0]}"?' if near else f" What ships: {', '.join(shipped)}." if shipped else ""
        self.fault(path, f'the file "{file}" is not there (looked in {place.parent}).{hint}')
        return False
