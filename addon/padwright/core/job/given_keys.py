"""Which keys of a job the person gave: in its file, beside it, or by changing them on a screen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass
from typing import Any

from .cards import Family, load_family
from .keys import Key
from .schema import Job
from .toml_lines import Path, show_path

Place = tuple[str, ...]


def given_keys(job: Job, tables: Mapping[str, Any], outside: Iterable[Path] = ()) -> tuple[str, ...]:
    """Return the keys that the person gave a job, with dots ("printer.nozzle_mm"); a list of tables is one key.

    All keys of the tables it was read from are given, unless their key `given` lists those that are: then the others
    were written out with their default, and of them only those count that were changed since. Keys set `outside` come
    beside.
    """
    places = {tuple(name for name in path if isinstance(name, str)) for path in outside}
    if "given" not in tables:
        places |= _places(tables)
    names = {show_path(place) for place in places} - {"given"}
    if "given" in tables:
        names |= set(job.given)
        names |= {show_path(place) for place, _ in changed_keys(job, load_family(job.part.family))}
    return tuple(sorted(names))


def _places(tables: Mapping[str, Any]) -> set[Place]:
    def walk(table: Mapping[str, Any], path: Place) -> Iterator[Place]:
        for name, value in table.items():
            if isinstance(value, Mapping):
                yield from walk(value, (*path, name))
            else:
                yield (*path, name)

    return set(walk(tables, ()))


def changed_keys(job: Job, family: Family) -> Iterator[tuple[Place, Key]]:
    """Yield the keys of a job whose value is not that of the card or their own; lists of tables count as one key."""

    def walk(table: Any, path: Place) -> Iterator[tuple[Place, Key]]:
        for item in fields(table):
            described: Key | None = item.metadata.get("key")
            if described is None or item.name == "given":
                continue
            value = getattr(table, item.name)
            here = (*path, described.toml or item.name)
            if is_dataclass(value):
                yield from walk(value, here)
                continue
            card = family.defaults.get(here)
            if card is None and described.card:
                continue  # zones: the card's are no plain value to compare with
            default = frozen(card.value) if card else None if item.default is MISSING else item.default
            if value != default:
                yield here, described

    return walk(job, ())


def frozen(value: Any) -> Any:
    """Return a value of a card in the form a job holds it in: lists as tuples."""
    return tuple(frozen(item) for item in value) if isinstance(value, list) else value
