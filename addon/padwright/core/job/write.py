"""Write a job as TOML: one that reads back equal, or a commented one to start from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, replace
from typing import Any

from .cards import Family, load_family
from .given_keys import changed_keys
from .keys import Key, expected, keys_of
from .material_cards import material_names
from .schema import Job
from .toml_lines import Path, show_path
from .toml_values import toml_value


def job_tables(job: Job) -> dict[str, Any]:
    """Return the job as tables in TOML form that read back equal.

    Every key is written, also those that have their default, so that a later change of a card does not change the job;
    `given` lists those that the person set. Plain values come before tables, as TOML wants them.
    """
    # What differs without being given, as a goal that follows from other keys, would count as given once read again.
    changed = (show_path(place) for place, _ in changed_keys(job, load_family(job.part.family)))
    return _tables(replace(job, given=tuple(sorted({*job.given, *changed}))))


def _tables(table: Any) -> dict[str, Any]:
    plain: dict[str, Any] = {}
    inner: dict[str, Any] = {}
    for name, (field_name, described, _) in keys_of(type(table)).items():
        value = getattr(table, field_name)
        if described.kind == "table":
            below = {} if value is None else _tables(value)
            inner |= {name: below} if below else {}
        elif described.kind == "tables":
            inner |= {name: [_tables(item) for item in value]} if value else {}
        elif value is not None:
            plain[name] = _thawed(value)
    return plain | inner


def _thawed(value: Any) -> Any:
    return [_thawed(item) for item in value] if isinstance(value, tuple) else value


def write_job(job: Job) -> str:
    """Return the job as TOML text that reads back equal: the text of its `job_tables`."""
    lines: list[str] = []
    _write_table(lines, job_tables(job), ())
    return "\n".join(lines).strip() + "\n"


def _write_table(lines: list[str], table: Mapping[str, Any], path: tuple[str, ...]) -> None:
    for name, value in table.items():
        header = ".".join((*path, name))
        if isinstance(value, dict):
            lines += ["", f"[{header}]"]
            _write_table(lines, value, (*path, name))
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for item in value:
                lines += ["", f"[[{header}]]"]
                _write_table(lines, item, (*path, name))
        else:
            lines.append(f"{name} = {toml_value(value)}")


def new_job(family_id: str) -> str:
    """Return a commented job to start from; what a person must fill in is live, defaults are commented out.

    Raises InputError when there is no such family.
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
    wanted = "" if described.kind in ("text", "flag", "file", "point", "points") else f"; {expected(described)}"
    return f"{described.about}{wanted}"
