"""What a batch will do: which jobs lie there, and which of them are done and unchanged."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from ..core.base.errors import ExportError, InputError
from ..core.stages.packing.all_or_nothing import close_stage, open_stage
from ..core.stages.packing.bundle import check_folder
from .job_list import ListedJob, double_numbers, listed_jobs
from .memory import need_bytes
from .one_job import Task, tool_hash
from .record import JobRecord, is_unchanged, read_records
from .stores import STATE_FOLDER, Store, open_store

_JOB_FAULT = 2
"""Exit code of a job whose file is wrong: that is found in no time, so such a job is always tried again."""


@dataclass(frozen=True)
class BatchPlan:
    """A batch before its work."""

    jobs: Store
    parts: Store
    listed: tuple[ListedJob, ...]
    known: Mapping[str, JobRecord]  # by name: what is done or was tried, and unchanged since
    tasks: tuple[Task, ...]  # what is to do
    doubles: Mapping[str, Sequence[str]]  # numbers that several jobs make, with their names

    @property
    def after(self) -> dict[str, str]:
        """Which job comes after which."""
        return {each.name: each.after for each in self.listed if each.after}


def plan_batch(
    folder: str, out: str | None = None, settings: Sequence[str] = (), *, retry_failed: bool = False, anew: bool = False
) -> BatchPlan:
    """Return what a batch will do; nothing is written.

    Raises InputError when the folder is not there or holds no job, or the parts cannot go where they should.

    Parameters
    ----------
    folder, out : str
        Folders or addresses; without `out` parts go beside their jobs.
    settings : sequence of str
        Keys set from outside, KEY=VALUE.
    retry_failed : bool
        Try also what failed before and is unchanged.
    anew : bool
        Make everything again.
    """
    jobs = open_store(folder)
    if jobs.is_local and not os.path.isdir(jobs.root):
        is_file = os.path.exists(jobs.root)
        raise InputError(
            f'"{folder}" is a file; a batch takes the folder that the jobs lie in.'
            if is_file
            else f'The folder "{folder}" is not there.',
            hint=f"For one job: python -m padwright run {folder}"
            if is_file
            else "Name the folder that holds the jobs.",
        )
    parts = jobs if out is None else open_store(out)
    if parts.is_local:
        check_folder(Path(parts.root))
    listed = listed_jobs(jobs, is_elsewhere=out is not None)
    batch = uuid.uuid4().hex[:12]
    epoch, tool = os.environ.get("SOURCE_DATE_EPOCH"), tool_hash()
    tasks = {
        each.name: Task(
            each.name,
            each.path,
            each.place,
            jobs.shown() if not jobs.is_local else jobs.root,
            parts.shown() if not parts.is_local else parts.root,
            tuple(settings),
            epoch,
            tool,
            need_bytes(each.files, jobs),
            batch,
        )
        for each in listed
    }
    known = {} if anew else read_records(parts, tasks)
    kept = {}
    for name, record in known.items():
        is_asked = record.is_done or not (retry_failed or record.code == _JOB_FAULT)
        if is_asked and is_unchanged(record, tasks[name].made_by, tasks[name].path, jobs, parts):
            kept[name] = record
    # Who comes after a job that is made again is compared with what it leaves, so it is made again as well.
    after = {each.name: each.after for each in listed if each.after}
    for name in list(kept):
        step = after.get(name)
        while step is not None:
            if step not in kept:
                kept.pop(name, None)
            step = after.get(step)
    todo = tuple(task for name, task in tasks.items() if name not in kept)
    return BatchPlan(jobs, parts, listed, kept, todo, double_numbers(listed))


@contextmanager
def only_batch(parts: Store) -> Iterator[None]:
    """Let no second batch work into the same folder meanwhile; a storage has no such lock.

    Raises ExportError when one does.
    """
    if not parts.is_local:
        yield
        return
    folder = Path(parts.root)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = open_stage(folder / STATE_FOLDER, wait=True)
    except OSError as error:
        raise ExportError(
            f'Nothing can be written into "{folder}": {error.strerror}.', hint="Check its rights, or give --out."
        ) from None
    if lock is None:
        raise ExportError(f'Another batch is at work in "{folder}".', hint="Wait until it is done.")
    try:
        yield
    finally:
        close_stage(folder / STATE_FOLDER, lock)
