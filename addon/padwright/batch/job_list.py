"""Which jobs lie below a folder, where the files of each go, and which must wait for another."""

from __future__ import annotations

import posixpath
import re
import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import Any

from ..core.base.errors import InputError
from ..core.job.files import named_files
from ..core.run.history import printed_name
from .stores import Store

_LOOKS_LIKE_A_JOB = re.compile(rb"(?m)^\s*\[\s*(part|base)\s*\]")
_NUMBERS = re.compile(r"(\d+)")


@dataclass(frozen=True)
class ListedJob:
    """A job of a batch."""

    name: str  # its file from the batch's folder, with /
    path: str  # the same in the store of the jobs
    place: str  # folder of its files, from the root of the store of the parts
    number: str  # of its part, "" where the file does not say
    files: tuple[str, ...]  # what it names, in the store of the jobs; as far as the file can be read
    after: str = ""  # name of the job that makes the revision before


def listed_jobs(jobs: Store, *, is_elsewhere: bool) -> tuple[ListedJob, ...]:
    """Return the jobs below the root of a store, in the order of their names with numbers as numbers.

    Each part goes to `out` beside its job; where several jobs of a folder would share it, all but job.toml get one
    named after the file (`out-<file>`). Where parts go elsewhere, a job has there the folder that it has here.

    Raises InputError when there is no job.
    """
    paths = sorted(jobs.below(".toml"), key=natural)
    found: list[tuple[str, str, Mapping[str, Any]]] = []
    root = jobs.root.replace("\\", "/").strip("/")
    for path, data in jobs.read_many(paths).items():
        name = path.replace("\\", "/").strip("/")[len(root) :].lstrip("/")
        tables = _tables(data)
        if tables is not None:
            found.append((name, path, tables))
    if not found:
        others = f" ({len(paths)} .toml are no jobs: a job has the tables [part] and [base])" if paths else ""
        raise InputError(
            f'No job lies below "{jobs.shown()}"{others}.',
            hint="Write one with: python -m padwright new --family seat_pad --out job.toml",
        )
    found.sort(key=lambda each: natural(each[0]))
    crowded = Counter(posixpath.dirname(name) for name, _, tables in found if not _previous(tables))
    listed: dict[str, ListedJob] = {}  # by the folder of its files
    for name, path, tables in found:
        place = _folder_there(name, crowded) if is_elsewhere else _own_folder(name, tables, crowded)
        if place in listed:  # two of a folder, with one revision's name
            place = f"{place}-{PurePosixPath(name).stem}"
        listed[place] = ListedJob(name, path, place, _text(tables, "number"), tuple(_named(jobs, path, tables)))
    before = {} if is_elsewhere else _before(listed, found)
    return tuple(replace(each, after=before.get(each.name, "")) for each in listed.values())


def natural(name: str) -> list[tuple[int, str | int]]:
    """Return a key that puts part-2 before part-10."""
    return [(0, int(each)) if each.isdigit() else (1, each.casefold()) for each in _NUMBERS.split(name) if each]


def double_numbers(listed: Sequence[ListedJob]) -> dict[str, list[str]]:
    """Return the numbers that more than one job makes a part of, with those jobs; revisions of a part share theirs."""
    by_number: dict[str, list[str]] = defaultdict(list)
    for each in listed:
        if each.number and not each.after:
            by_number[each.number].append(each.name)
    return {number: names for number, names in by_number.items() if len(names) > 1}


def _tables(data: bytes) -> Mapping[str, Any] | None:
    """Return the tables of a job, none of one that is no TOML (a run says what is wrong); None for another file."""
    try:
        tables = tomllib.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        return {} if _LOOKS_LIKE_A_JOB.search(data) else None
    is_job = ("part" in tables or "base" in tables) and not {"trial", "id"} & set(tables)
    return tables if is_job else None


def _text(tables: Mapping[str, Any], key: str) -> str:
    part = tables.get("part")
    value = part.get(key) if isinstance(part, dict) else None
    return value if isinstance(value, str) else ""


def _previous(tables: Mapping[str, Any]) -> str:
    return _text(tables, "previous")


def _own_folder(name: str, tables: Mapping[str, Any], crowded: Counter[str]) -> str:
    """Return the folder beside a job that its files go to, from the batch's folder; as `run` has it where it can."""
    path = PurePosixPath(name)
    folder = posixpath.dirname(name)
    own = printed_name(_previous(tables) or None, _text(tables, "revision") or "1")
    is_alone = _previous(tables) or crowded[folder] == 1 or path.name == "job.toml"
    return posixpath.join(folder, own if is_alone else f"{own}-{path.stem}")


def _folder_there(name: str, crowded: Counter[str]) -> str:
    """Return the folder of a job's files among the parts: that folder's name, and the file's where more lie in it."""
    path = PurePosixPath(name)
    folder = posixpath.dirname(name)
    is_alone = folder and (path.name == "job.toml" or crowded[folder] == 1)
    return folder if is_alone else posixpath.join(folder, path.stem)


def _named(jobs: Store, path: str, tables: Mapping[str, Any]) -> Iterator[str]:
    try:
        for table, key in named_files(tables):
            yield jobs.join(_folder_of(path), table[key])
    except (AttributeError, TypeError):  # a table that is none: the run tells what is wrong
        return


def _folder_of(path: str) -> str:
    return posixpath.dirname(path.replace("\\", "/"))


def _before(listed: Mapping[str, ListedJob], found: Sequence[tuple[str, str, Mapping[str, Any]]]) -> dict[str, str]:
    """Return which job makes the revision that another one names as the one before it."""
    before: dict[str, str] = {}
    for name, _, tables in found:
        place = posixpath.normpath(posixpath.join(posixpath.dirname(name), _previous(tables)))
        first = listed.get(place) if _previous(tables) else None
        if first is not None and not _comes_after(first.name, name, before):
            before[name] = first.name
    return before


def _comes_after(name: str, first: str, before: Mapping[str, str]) -> bool:
    """Say if a job is another one or waits for it: jobs that name each other in a circle wait for none."""
    step: str | None = name
    while step is not None:
        if step == first:
            return True
        step = before.get(step)
    return False
