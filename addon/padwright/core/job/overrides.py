"""Single keys of a job set from outside its file, as `--set pad.fit_gap_mm=0.5` does."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, dataclass
from typing import Any

from ..base.errors import InputError
from .keys import keys_of, walk_keys
from .renames import JOB
from .schema import Job
from .toml_lines import Path, show_path
from .toml_values import toml_value

_SEGMENT = re.compile(r"([A-Za-z0-9_-]+(?: [A-Za-z0-9_-]+)*)((?:\[[0-9]{1,6}\])*)")  # names may have blanks
_SECOND = re.compile(r"\s*([^,;=]+?)\s*[,;]\s*([A-Za-z][\w.\[\]]*\s*=.*)")
_MOST_NAMED = 12


@dataclass(frozen=True)
class Setting:
    """One key and its value, in TOML form."""

    path: Path  # lists count from 0 here, from 1 in what a person writes and reads
    value: Any

    @property
    def text(self) -> str:
        """The key and its value as a line of TOML."""
        return f"{show_path(self.path)} = {toml_value(self.value)}"


def read_setting(text: str) -> Setting:
    """Return what a person set: `pad.fit_gap_mm=0.5`, `zones[2].level=3` or, without brackets, `zones.2.level=3`.

    A value that is no TOML value is taken as text, since shells take the quotes off.

    Raises InputError when there is no key or no value.
    """
    name, equals, value = text.partition("=")
    if not equals or not value.strip():
        raise InputError(f'--set "{text[:60]}" has no value.', hint="Write it as --set pad.fit_gap_mm=0.5")
    path: list[str | int] = []
    for segment in name.strip().split("."):
        found = _SEGMENT.fullmatch(segment.strip())
        if found is None:
            raise InputError(
                f'--set "{text[:60]}" names no key: "{name[:60]}".', hint="Write it as --set pad.fit_gap_mm=0.5"
            )
        numbers = re.findall(r"[0-9]+", found.group(2))
        if path and found.group(1).isdecimal():
            numbers.insert(0, found.group(1))
        else:
            path.append(found.group(1))
        for number in numbers:
            if int(number) < 1:
                raise InputError(f'--set "{text[:60]}": lists count from 1.', hint="The first of a list is number 1.")
            path.append(int(number) - 1)
    _refuse_second(text, value)
    return Setting(_as_today(path), _value(value.strip()))


def _refuse_second(text: str, value: str) -> None:
    """Refuse a second key behind a value that is no text: "0.5, pad.least_thickness_mm=5" is two settings."""
    second = _SECOND.fullmatch(value)
    if second is not None and not isinstance(_value(second[1]), str):
        raise InputError(
            f'--set "{text[:60]}" sets more than one key.',
            hint=f"Each has its own --set: --set {text[: -len(value)]}{second[1].strip()} --set {second[2]}",
        )


def _as_today(path: Sequence[str | int]) -> Path:
    """Return a path with the names that keys have now."""
    now: list[str | int] = []
    for part in path:
        plain = tuple(each for each in (*now, part) if isinstance(each, str))
        now.append(JOB.keys.get(plain, part) if isinstance(part, str) else part)
    return tuple(now)


def _value(text: str) -> Any:
    try:
        found = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):  # a wrong TOML text is a ValueError
        return text
    return found["value"] if list(found) == ["value"] else text


def with_settings(
    tables: Mapping[str, Any], settings: Sequence[Setting], zones: Sequence[Mapping[str, Any]]
) -> dict[str, Any]:
    """Return a job's tables, under the names of today, with keys set in them; a list grows by one element at most.

    The zones are those that the job has where it names none.

    Raises InputError when a key's way leads through what is no table or list, or past a list's end.
    """
    made = copy.deepcopy(dict(tables))
    if not made.get("zones") and any(each.path[:1] == ("zones",) and len(each.path) > 1 for each in settings):
        made["zones"] = [dict(zone) for zone in zones]
    added: dict[Path, Any] = {}
    for setting in settings:
        owner: Any = made
        path = setting.path
        for index, part in enumerate(path[:-1]):
            if _absent(owner, part, path[: index + 1]):
                _put(owner, part, [] if isinstance(path[index + 1], int) else {})
                if isinstance(part, int):
                    added[path[: index + 1]] = owner
            owner = owner[part]
        _absent(owner, path[-1], path)
        _put(owner, path[-1], setting.value)
    for path, owner in added.items():
        _refuse_half_added(path, owner)
    return made


def _refuse_half_added(path: Path, owner: list[Any]) -> None:
    """Refuse one more of a list that lacks what each must have: most likely the number is one too high."""
    plain = tuple(part for part in path if isinstance(part, str))
    table = next((key.table for where, key, _ in walk_keys(Job) if where == plain), None)
    new = owner[-1]
    if table is None or len(owner) == 1 or not isinstance(new, dict):
        return
    missing = [name for name, (_, _, default) in keys_of(table).items() if default is MISSING and name not in new]
    if missing:
        above = show_path(path[:-1])
        raise InputError(
            f"--set {show_path(path)}: {above} has {len(owner) - 1} in this job ({_numbered(path[:-1], owner[:-1])}); "
            f"a new one lacks {', '.join(missing)}.",
            hint="To change one that is there take its number; for a new one set those keys too.",
        )


def _absent(owner: Any, part: str | int, path: Path) -> bool:
    """Say if a place is free, after checking that it can be one."""
    above = show_path(path[:-1]) or "the job"
    if isinstance(part, str):
        if not isinstance(owner, dict):
            raise InputError(
                f"--set {show_path(path)}: {above} is no table that has keys.", hint=_hint(owner, path[:-1], part)
            )
        return part not in owner
    if not isinstance(owner, list):
        raise InputError(f"--set {show_path(path)}: {above} is no list.", hint="Leave the number out.")
    if part > len(owner):
        raise InputError(
            f"--set {show_path(path)}: {above} has {len(owner)} in this job; {part + 1} leaves a gap.",
            hint=f"Take a number from 1 to {len(owner) + 1}; {len(owner) + 1} adds one.",
        )
    return part == len(owner)


def _hint(owner: Any, above: Path, wanted: str) -> str:
    """Return which number a person must give for a name, or all numbers with their names."""
    if not isinstance(owner, list):
        return ""
    names = [each.get("name") if isinstance(each, dict) else None for each in owner]
    if names.count(wanted) == 1:
        return f'Lists go by number: "{wanted}" is {show_path((*above, names.index(wanted)))}.'
    return f"Say which by its number, from 1: {_numbered(above, owner) or show_path((*above, 0))}."


def _numbered(above: Path, owner: list[Any]) -> str:
    """Return the places of a list, each with its name where it has one: "zones[1] "heel", zones[2] "rest""."""
    names = [each.get("name", "") if isinstance(each, dict) else "" for each in owner]
    places = [show_path((*above, index)) for index in range(len(owner))]
    told = [f'{place} "{name}"' if name else place for place, name in zip(places, names, strict=True)]
    return ", ".join([*told[:_MOST_NAMED], *(["..."] if len(told) > _MOST_NAMED else [])])


def _put(owner: Any, part: str | int, value: Any) -> None:
    if isinstance(owner, list) and part == len(owner):
        owner.append(value)
    else:
        owner[part] = value
