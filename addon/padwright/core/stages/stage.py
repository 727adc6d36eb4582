"""What a stage is: one record that says what it takes, what it does, and where it tells what it found.

The records load nothing of what the work needs, so that panels can ask at every redraw what a stage reads: functions
are named here and loaded when they are called.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, fields
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, cast

from ..base.errors import InputError
from ..base.files import MOST_SCAN_BYTES, MOST_TABLE_BYTES, InputFile, read_named

if TYPE_CHECKING:  # its many tables take longer to load than the modeller may take to enable the add-on
    from ..job.schema import Job

Kind = TypeVar("Kind")


@dataclass(frozen=True)
class Step:
    """A piece of a stage whose seconds stand in the evidence."""

    title: str  # its name in the evidence
    share: float  # of the progress of a whole run
    work: str  # "file.function" of the room: (given, the result so far or None) -> Steps of the result
    is_wanted: Callable[[Job], bool] = lambda _: True


@dataclass(frozen=True)
class Stage:
    """A stage of the work; it stands in the `__init__` of its room, as `STAGE`."""

    room: str  # `__name__` of the room's package; the last step of it is the stage's name
    title: str  # what it makes, in the person's words, with its article
    after: tuple[str, ...]  # names of the stages whose results it takes
    reads: tuple[str, ...]  # places of the job, with dots: a key, or a table with all its keys
    steps: tuple[Step, ...]
    evidence: str  # "file.function" of the room: (results) -> dict, the entries that its result gives
    files: tuple[str, ...] = ()  # places of file names: their contents count, not what they are called
    # "file.function" of the room: (job, folder) -> paths of files that no key names and that count by content
    beside: str = ""
    recalled: str = ""  # "file.function": (result, job) -> result, where a remembered one takes words from the job

    @property
    def name(self) -> str:
        """The name of its room."""
        return self.room.rpartition(".")[2]

    def rests(self, job: Job) -> bool:
        """Say if a job wants none of its steps: then what others read too is for them to list."""
        return not any(step.is_wanted(job) for step in self.steps)

    def holds(self, place: str) -> bool:
        """Say if a place of a job is one that the stage reads, or inside one."""
        return any(_is_in(place, each) for each in (*self.reads, *self.files))

    def function(self, name: str) -> Callable[..., Any]:
        """Return a function of the room by its "file.function"."""
        file, _, function = name.rpartition(".")
        return cast(Callable[..., Any], getattr(import_module(f"{self.room}.{file}"), function))

    def depends_on(self, job: Job, folder: Path) -> list[object]:
        """Return what it takes beside other stages' results: values whose `repr` tells them apart, digests of files.

        A file that cannot be read counts as such: the stage itself tells that. Where a job wants none of its steps,
        nothing of the job changes what it gives.
        """
        if self.rests(job):
            return []
        values: list[object] = [(place, found_at(job, place)) for place in self.reads]
        paths = [folder / str(name) if name else None for place in self.files for name in found_at(job, place)]
        paths += self.function(self.beside)(job, folder) if self.beside else []
        for path in paths:
            try:
                data = read_named(path, "The file", most_bytes=MOST_SCAN_BYTES) if path is not None else b""
            except InputError:
                data = b"unreadable"
            values.append(hashlib.sha256(data).digest())
        return values


def found_at(job: Job, place: str) -> list[object]:
    """Return what a job has at a place with dots; more than one where a table on the way is a list, none without it."""
    found: list[object] = [job]
    for name in place.split("."):
        tables = [inner for each in found for inner in (each if isinstance(each, tuple) else (each,))]
        found = [getattr(table, name) for table in tables if table is not None]
    return found


def _is_in(place: str, other: str) -> bool:
    return place == other or place.startswith(f"{other}.")


class Results:
    """What stages found, asked for by its type."""

    job: Job
    found: Mapping[str, object]  # by the stage's name

    def find(self, kind: type[Kind]) -> Kind | None:
        """Return the result of a type, or None where no stage has left one."""
        return next((each for each in self.found.values() if isinstance(each, kind)), None)

    def of(self, kind: type[Kind]) -> Kind:
        """Return the result of a type. Raises LookupError where the stage does not name in `after` whose it is."""
        found = self.find(kind)
        if found is None:
            raise LookupError(f"no {kind.__name__} among the results of: {', '.join(self.found)}")
        return found


class Given(Results):
    """All that a stage is handed: results of the stages it comes after, its places of the job, its files.

    File names start from `folder`. `look` takes the scans as they were read and raises where later stages would refuse
    them; no result depends on it.
    """

    def __init__(
        self,
        places: Collection[str],
        job: Job,
        found: Mapping[str, object],
        folder: Path,
        look: Callable[..., None] | None = None,
    ) -> None:
        self.job = cast("Job", _Only(job, "", tuple(places)))
        self.found = found
        self.folder = folder
        self.look = look or (lambda *_: None)

    def read(self, name: str, what: str, role: str = "other") -> tuple[bytes, InputFile]:
        """Return a file's bytes and its record, by what it is to the person and as `InputFile.role`.

        Raises InputError when it cannot be read.
        """
        most = MOST_TABLE_BYTES if role == "other" else MOST_SCAN_BYTES
        data = read_named(self.folder / name, f"The {what}", most_bytes=most)
        return data, InputFile(role, name, hashlib.sha256(data).hexdigest(), len(data))


class _Only:
    """A table of a job that shows what a stage lists and nothing else."""

    def __init__(self, table: object, place: str, places: tuple[str, ...]) -> None:
        self._table, self._place, self._places = table, place, places

    def __getattr__(self, name: str) -> Any:
        place = f"{self._place}.{name}".lstrip(".")
        if any(_is_in(place, each) for each in self._places):
            return getattr(self._table, name)
        if name not in {each.name for each in fields(cast(Any, self._table))}:
            return getattr(self._table, name)  # not a key: what a table says of itself
        if not any(_is_in(each, place) for each in self._places):
            raise LookupError(f"{place} of the job is read, but the stage does not list it")
        value = getattr(self._table, name)
        if isinstance(value, tuple):
            return tuple(_Only(each, place, self._places) for each in value)
        return None if value is None else _Only(value, place, self._places)


def known_places(stages: Iterable[Stage], last: Stage, job: Job) -> set[str]:
    """Return the places that a stage may read: its own, and those of the stages at work whose results it takes."""
    by_name = {stage.name: stage for stage in stages}
    found: set[str] = set()
    asked = [last]
    while asked:
        stage = asked.pop()
        if stage is last or not stage.rests(job):
            found |= {*stage.reads, *stage.files}
        asked += [by_name[name] for name in stage.after]
    return found
