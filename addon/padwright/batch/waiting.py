"""The jobs of a batch that wait for a worker."""

from __future__ import annotations

from collections.abc import Generator, Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

from .one_job import Task
from .record import JobRecord

MOST_TRIES = 3
"""A job whose worker dies is begun so many times in all; the last time with nothing beside it."""


@dataclass(frozen=True)
class Ended:
    """A job that ended, or began again."""

    task: Task
    record: JobRecord | None  # None: its worker died, and it begins again
    why: str = ""


@dataclass(frozen=True)
class Lost:
    """Workers that are there no more; what they did goes to others."""

    workers: tuple[str, ...]
    left: int  # how many jobs can be done at once without them


class Workers(Protocol):
    """Whoever does the jobs."""

    @property
    def count(self) -> int:
        """How many jobs are done at once, now."""

    def work(self, waiting: Waiting) -> Generator[Ended | Lost, None, None]:
        """Do the jobs and yield each as it ends; closing the iterator stops what runs."""


class Waiting:
    """The jobs in order; one that comes after another waits for it."""

    def __init__(self, tasks: Iterable[Task], after: Mapping[str, str]) -> None:
        self._tasks = list(tasks)
        names = {each.name for each in self._tasks}
        self._after = {name: first for name, first in after.items() if first in names}

    def __bool__(self) -> bool:
        return bool(self._tasks)

    def take(self, room_bytes: float = float("inf")) -> Task | None:
        """Return the first job that may begin and is likely to fit, None where there is none now."""
        for index, task in enumerate(self._tasks):
            if task.name not in self._after and task.need_bytes <= room_bytes:
                return self._tasks.pop(index)
        return None

    def ended(self, task: Task) -> None:
        """Let those begin that waited for a job."""
        self._after = {name: first for name, first in self._after.items() if first != task.name}
