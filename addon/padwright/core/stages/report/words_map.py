"""The words map: which names and units the person's own print program has for our settings, written once as TOML."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, make_dataclass
from pathlib import Path
from typing import Any

from ...base.errors import InputError
from ...base.files import MOST_TABLE_BYTES, read_named
from ...job.keys import key
from ...job.toml_lines import parse_toml
from ...job.toml_tables import TableReader
from .setting_words import BOTTOM, SETTING_KINDS, SIDES, TOP

_LONGEST = 60  # a column of a sheet takes no longer name
_FARTHEST = 1e6


@dataclass(frozen=True)
class StructureNames:
    """What a program calls the structures."""

    solid: str = key("text", "filled without a gap", default="", high=_LONGEST)
    gyroid: str = key("text", "waves that bend in all three directions", default="", high=_LONGEST)
    honeycomb: str = key("text", "hexagons, straight up", default="", high=_LONGEST)
    square_grid: str = key("text", "squares, straight up", default="", high=_LONGEST)
    none: str = key("text", "nothing inside", default="", high=_LONGEST)


@dataclass(frozen=True)
class SettingNames:
    """What a program makes of one of our settings."""

    name: str = key("text", "what your program calls it", default="", high=_LONGEST)
    unit: str = key("text", "the unit your program wants", default="", high=_LONGEST)
    times: float = key(
        "number",
        "a further factor, where your program means something else by its number",
        low=0,
        above=True,
        high=_FARTHEST,
        default=1.0,
    )
    decimals: int | None = key("integer", "how many decimals your program takes at most", low=0, high=6, default=None)
    unit_words: str | None = key("text", "what is written behind the number", default=None, high=20)
    where: str = key("text", "where in your program it stands", default="", high=_LONGEST)
    leave_out: bool = key("flag", "your program has no such setting", default=False)
    values: StructureNames = key(
        "table", "what it calls each structure", default=StructureNames(), table=StructureNames
    )


@dataclass(frozen=True)
class AlwaysLine:
    """A line that the person wants on every sheet."""

    name: str = key("text", "what your program calls it", count=(1, 1), high=_LONGEST, example="...")
    value: str = key("text", "what you always set", count=(1, 1), high=_LONGEST, example="...")


_TABLES = make_dataclass(
    "_TABLES",
    [
        ("program", str, key("text", "what you call your program; it heads the settings", default="", high=_LONGEST)),
        (
            "always",
            tuple,
            key("tables", "lines of your own on every sheet", default=(), table=AlwaysLine, count=(0, 20)),
        ),
        *(
            (each, SettingNames | None, key("table", kind.about, default=None, table=SettingNames))
            for each, kind in SETTING_KINDS.items()
        ),
    ],
    frozen=True,
)
"""The tables of a map: one for each setting."""


@dataclass(frozen=True)
class WordsMap:
    """The person's words for settings; what is not in it keeps our plain words."""

    program: str = ""  # what the person calls their program
    always: tuple[AlwaysLine, ...] = ()
    settings: Mapping[str, SettingNames] = field(default_factory=dict)  # by our keys, in the order of the map

    def of(self, setting: str) -> SettingNames:
        """Return what the map says of one of our settings."""
        return self.settings.get(setting, _SILENT)


def read_words(path: Path) -> WordsMap:
    """Return the words map of a file.

    Raises InputError when the file cannot be read or anything in it is wrong; all faults are told, each with its line.
    """
    data = read_named(path, "The words map", most_bytes=MOST_TABLE_BYTES, hint=_BLANK)
    return parse_words(data, path.name)


def parse_words(data: bytes, name: str) -> WordsMap:
    """Return the words map of a TOML text; errors are those of `read_words`, `name` is what the text is called."""
    tables, lines = parse_toml(data, name)
    if "schema" in tables and "part" in tables:
        raise InputError(f'"{name}" is a job, not a words map.', hint=_BLANK)
    reader = TableReader(name, lines, _TABLES)
    reader.text = data.decode("utf-8-sig").splitlines()
    read = reader.read(_TABLES, tables)
    for setting, kind in SETTING_KINDS.items():
        table = tables.get(setting)
        if isinstance(table, dict):
            _check_setting(reader, setting, table, tuple(kind.units))
    found = None
    if read is not None:
        said = {each: getattr(read, each) for each in tables if each in SETTING_KINDS}
        _check_names(reader, said)
        found = WordsMap(read.program, read.always, said)
    return reader.finish(found)


def _check_setting(reader: TableReader, setting: str, table: dict[str, Any], units: tuple[str, ...]) -> None:
    """Note what no single key shows: a unit that the setting has not, words that it cannot take."""
    unit = table.get("unit")
    if isinstance(unit, str) and unit and unit not in units:
        known = ", ".join(f'"{each}"' for each in units)
        told = f"expected one of {known}" if units else "this setting is a word and has no unit; leave it out"
        reader.fault((setting, "unit"), f'{told}; got "{unit[:60]}".')
    if not units:
        for name in ("times", "decimals", "unit_words"):
            if name in table:
                reader.fault((setting, name), "this setting is a word, no number; leave it out.")
    if "values" in table and setting != "fill_structure":
        reader.fault((setting, "values"), "only fill_structure has words for its values.")


def _check_names(reader: TableReader, said: Mapping[str, SettingNames]) -> None:
    """Note two settings under one name: nobody could tell which number is whose."""
    seen: list[tuple[str, str]] = []
    for setting, words in said.items():
        name = words.name.strip().casefold()
        others = [other for other, its in seen if name and its == name and not _is_either_or(setting, other)]
        if others:
            reader.fault((setting, "name"), f'"{words.name}" is the name of {others[0]} too; names must differ.')
        seen.append((setting, name))


def _is_either_or(first: str, second: str) -> bool:
    """Say if a sheet has only one of two settings: closed layers by top and bottom, or by the part's sides."""
    return len({first, second} & {TOP, BOTTOM}) == 1 and len({first, second} & set(SIDES)) == 1


_SILENT = SettingNames()
_BLANK = "Write a blank one with: python -m padwright map --blank"
