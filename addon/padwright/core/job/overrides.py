"""Single keys of a job set from outside its file, as `--set pad.fit_gap_mm=0.5` does."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..base.errors import InputError
from .renames import JOB
from .toml_lines import Path, show_path
from .toml_values import toml_value

_SEGMENT = re.compile(r"([A-Za-z0-9_-]+)((?:\[[0-9]{1,6}\])*)")


@dataclass(frozen=True)
class Setting:
    """One key and its value, in TOML form.

    Attributes
    ----------
    path : tuple of str and int
        Lists count from 0 here, from 1 in what a person writes and reads.
    value : object
    """

    path: Path
    value: Any

    @property
    def text(self) -> str:
        """The key and its value as a line of TOML."""
        return f"{show_path(self.path)} = {toml_value(self.value)}"


def read_setting(text: str) -> Setting:
    """Return what a person set: `pad.fit_gap_mm=0.5`, `zones[2].level=3` or, without brackets, `zones.2.level=3`.

    A value that is no TOML value is taken as text, since shells take the quotes off.

    Raises
    ------
    InputError
        When there is no key or no value.
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
                raise InputError(f'--set "{text[:60]}": lists count from 1.')
            path.append(int(number) - 1)
    return Setting(_as_today(path), _value(value.strip()))


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
    """Return a job's tables with keys set in them; a list grows by one element at most.

    Parameters
    ----------
    tables : mapping
        In TOML form, under the names of today; left as they are.
    settings : sequence of Setting
    zones : sequence of mapping
        What the job has where it names no zones.

    Raises
    ------
    InputError
        When a key's way leads through what is no table or list, or past a list's end.
    """
    made = copy.deepcopy(dict(tables))
    if not made.get("zones") and any(each.path[:1] == ("zones",) and len(each.path) > 1 for each in settings):
        made["zones"] = [dict(zone) for zone in zones]
    for setting in settings:
        owner: Any = made
        path = setting.path
        for index, part in enumerate(path[:-1]):
            if _absent(owner, part, path[: index + 1]):
                _put(owner, part, [] if isinstance(path[index + 1], int) else {})
            owner = owner[part]
        _absent(owner, path[-1], path)
        _put(owner, path[-1], setting.value)
    return made


def _absent(owner: Any, part: str | int, path: Path) -> bool:
    """Say if a place is free, after checking that it can be one."""
    above = show_path(path[:-1]) or "the job"
    if isinstance(part, str):
        if not isinstance(owner, dict):
            raise InputError(f"--set {show_path(path)}: {above} is no table that has keys.", hint=_hint(owner, above))
        return part not in owner
    if not isinstance(owner, list):
        raise InputError(f"--set {show_path(path)}: {above} is no list.", hint="Leave the number out.")
    if part > len(owner):
        raise InputError(
            f"--set {show_path(path)}: {above} has {len(owner)} in this job; {part + 1} leaves a gap.",
            hint=f"Take a number from 1 to {len(owner) + 1}; {len(owner) + 1} adds one.",
        )
    return part == len(owner)


def _hint(owner: Any, above: str) -> str:
    return f"Say which by its number, from 1: {above}[1]" if isinstance(owner, list) else ""


def _put(owner: Any, part: str | int, value: Any) -> None:
    if isinstance(owner, list) and part == len(owner):
        owner.append(value)
    else:
        owner[part] = value
