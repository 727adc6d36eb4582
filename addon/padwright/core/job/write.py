"""Write a job as TOML: one that reads back equal, or a commented one to start from."""

from __future__ import annotations

from dataclasses import MISSING
from typing import Any

from .cards import Family, load_family, material_names
from .given import changed_keys, frozen
from .keys import Key, expected, keys_of
from .schema import Job
from .toml_lines import Path, show_path
from .toml_values import toml_value

__all__ = ["new_job", "toml_value", "write_job"]


def write_job(job: Job, *, full: bool = False) -> str:
    """Return the job as TOML text that reads back equal.

    Parameters
    ----------
    job : Job
    full : bool
        Also write the keys that have their default, so that a later change of a card does not change the job, and
        `given`, the list of those that the person set; else of these only the ones that the person set.
    """
    family = load_family(job.part.family)
    lines: list[str] = []
    # What differs without being given, as a goal that follows from other keys, would count as given once read again.
    changed = (show_path(place) for place, _ in changed_keys(job, family)) if full else ()
    _write_table(lines, job, (), family, full, tuple(sorted({*job.given, *changed})))
    return "\n".join(lines).strip() + "\n"


def _write_table(lines: list[str], table: Any, path: Path, family: Family, full: bool, given: tuple[str, ...]) -> None:
    later: list[tuple[str, Key, Any]] = []
    plain_path = tuple(part for part in path if not isinstance(part, int))
    for name, (field_name, described, default) in keys_of(type(table)).items():
        value = getattr(table, field_name)
        if described.kind in ("table", "tables"):
            later.append((name, described, value))
        elif name == "given" and not path:
            lines += [f"given = {toml_value(given)}"] if full else []
        elif value is not None and (
            full
            or show_path((*plain_path, name)) in given
            or not _is_default(described, default, value, (*plain_path, name), family)
        ):
            lines.append(f"{name} = {toml_value(value)}")
    for name, described, value in later:
        header = ".".join(str(part) for part in (*plain_path, name))
        if described.kind == "table":
            if value is None:
                continue
            inner: list[str] = []
            _write_table(inner, value, (*path, name), family, full, given)
            if inner and header == "target" and not any(line.startswith("goal = ") for line in inner):
                inner.insert(0, f"goal = {toml_value(value.goal)}")  # a target without it would be read as a wish
            if inner:
                lines += ["", f"[{header}]", *inner]
        elif full or not _are_card_zones(plain_path, name, value, family):
            for index, item in enumerate(value):
                lines += ["", f"[[{header}]]"]
                _write_table(lines, item, (*path, name, index), family, full, given)


def _is_default(described: Key, default: Any, value: Any, path: Path, family: Family) -> bool:
    if path[0] == "zones":
        return False  # their defaults depend on the source; few keys, so all are written
    if described.card and path in family.defaults:
        return bool(frozen(family.defaults[path].value) == value)
    return default is not MISSING and bool(default == value)


def _are_card_zones(path: Path, name: str, value: Any, family: Family) -> bool:
    """Say if these are the very zones that a job without any gets."""
    if path or name != "zones":
        return False
    from .read import job_from_tables

    bare: dict[str, Any] = {
        "schema": 1,
        "part": {"name": "-", "number": "0", "family": family.id, "certified_gear": False},
        "base": {"scan": "-"},
        "impression": {"scan": "-"},
    }
    return bool(job_from_tables(bare).zones == value)


def new_job(family_id: str) -> str:
    """Return a commented job to start from; what a person must fill in is live, defaults are commented out.

    Raises
    ------
    InputError
        When there is no such family.
    """
    family = load_family(family_id)
    lines = [
        f"# {family.name}: a job to start from. {family.about}",
        "# Lines that begin with # are the defaults of the part family; take the # away to change one.",
        "# docs/job.md tells every key. Points are in the scan file's own numbers; lengths ending in _mm are true mm.",
    ]
    _describe(lines, Job, (), family, is_live=True)
    lines += ["", "# For your health, and that of whoever will use the part:"]
    lines += [f"# - {caution.text}" for caution in family.cautions]
    return "\n".join(lines) + "\n"


def _describe(lines: list[str], table: type, path: Path, family: Family, *, is_live: bool) -> None:
    inner: list[tuple[str, Key, Any]] = []
    for name, (_, described, default) in keys_of(table).items():
        if described.kind in ("table", "tables"):
            inner.append((name, described, default))
            continue
        if name == "given":
            continue  # for files that write out every key
        text, is_set = _sample(name, described, default, (*path, name), family)
        mark = "" if is_live and is_set else "# "
        lines.append(f"{mark}{name} = {text}  # {_meaning(described)}")
    for name, described, default in inner:
        if described.table is None or name == "places":
            continue
        here = (*path, name)
        if name == "zones":
            _describe_zones(lines, family)
            continue
        must = described.kind == "table" and (default is MISSING or name == "impression")
        header = ".".join(str(part) for part in here)
        lines.append("")
        lines.append(f"[{header}]" if described.kind == "table" else f"# [[{header}]]  # {described.about}")
        _describe(lines, described.table, here, family, is_live=must and is_live)


def _describe_zones(lines: list[str], family: Family) -> None:
    lines += ["", "# Zones: where two claim a place, the first has it. Sources: docs/job.md."]
    for level in family.levels:
        lines.append(f"# level {level.level} = {level.name}, about {level.target_modulus_kpa:g} kPa")
    for zone in family.zones:
        lines.append("[[zones]]")
        lines += [f"{name} = {toml_value(value)}" for name, value in zone.items()]


def _sample(name: str, described: Key, default: Any, path: Path, family: Family) -> tuple[str, bool]:
    """Return the text of a value and if it must be live."""
    if path == ("part", "family"):
        return toml_value(family.id), True
    if described.card and path in family.defaults:
        return toml_value(family.defaults[path].value), False
    if described.example is not None:
        return toml_value(described.example), True
    if default is MISSING or default is None:
        return "...", False
    return toml_value(default), False


def _meaning(described: Key) -> str:
    if described.kind == "file" and "card" in described.about:
        return f"{described.about}: {', '.join(material_names())}"
    later = "; not used yet" if described.later else ""
    wanted = "" if described.kind in ("text", "flag", "file", "point", "points") else f"; {expected(described)}"
    return f"{described.about}{wanted}{later}"
