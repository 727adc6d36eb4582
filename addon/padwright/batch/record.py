"""What is known of a job of a batch, kept in a small file for each: what it was made from, what came of it."""

from __future__ import annotations

import hashlib
import json
import posixpath
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any

from ..core.base.errors import PadwrightError
from .stores import STATE_FOLDER, Stamp, Store

BUG = 1
"""Exit code of Python where a program stops with a traceback."""


@dataclass(frozen=True)
class Read:
    """A file that a job was made from."""

    sha256: str | None  # None where there was none, or none that could be read
    # Size and mark as they were, when it was old enough then that both tell of any later change.
    size: int = -1
    mark: str = ""

    @property
    def stamp(self) -> Stamp | None:
        """What tells without reading that it is the same."""
        return Stamp(self.size, self.mark) if self.mark else None


@dataclass(frozen=True)
class JobRecord:
    """How a job of a batch ended."""

    job: str  # its name in the batch
    code: int  # as of a single run: 0 done, 2, 3, 4; 1 a fault of the tool itself
    message: str = ""  # what went wrong, one sentence
    hint: str = ""  # what to do
    made_by: str = ""  # version, settings and folder; `Task.made_by`
    batch: str = ""  # word of the batch that it ended in
    reads: Mapping[str, Read] = field(default_factory=dict)  # by path from the job's folder, or whole
    place: str = ""  # folder of the files, from the root of the store of the parts
    files: Mapping[str, int] = field(default_factory=dict)  # names and bytes
    commit: str = ""  # name of the run document
    commit_sha256: str = ""
    seconds: float = 0.0
    tries: int = 1
    worker: str = ""
    part: Mapping[str, Any] = field(default_factory=dict)  # what the table tells of it
    notes: tuple[str, ...] = ()
    picture: str = ""  # small PNG, base64

    @property
    def is_done(self) -> bool:
        """Whether the part was made."""
        return self.code == 0


def failed(job: str, error: PadwrightError, **more: Any) -> JobRecord:
    """Return the record of a job that ended with an error."""
    return JobRecord(job, error.exit_code, error.message, error.hint, **more)


def record_path(store: Store, job: str) -> str:
    """Return where the record of a job lies in the store of the parts."""
    name = hashlib.sha256(job.encode()).hexdigest()[:20]
    return store.join(STATE_FOLDER, f"{name}.json")


def write_record(store: Store, record: JobRecord) -> None:
    """Keep a record. Raises ExportError when the disk or the storage refuses."""
    text = json.dumps(asdict(record), ensure_ascii=False, allow_nan=False, indent=1) + "\n"
    store.write(record_path(store, record.job), text.encode())


def read_records(store: Store, jobs: Iterable[str]) -> dict[str, JobRecord]:
    """Return what is known of jobs, by name; one that cannot be read counts as not known."""
    paths = {record_path(store, job): job for job in jobs}
    found = {}
    for path, data in store.read_many(paths).items():
        record = _record(data)
        if record is not None and record.job == paths[path]:
            found[record.job] = record
    return found


def forget(store: Store, job: str) -> None:
    """Remove the record of a job."""
    store.remove(record_path(store, job))


def is_unchanged(record: JobRecord, made_by: str, job_path: str, jobs: Store, parts: Store) -> bool:
    """Say if a job that was tried would be made from the same content now, and its files lie where they were put.

    A file whose size and time (or the storage's tag) are as they were is not read again; any other is, and its content
    counts.
    """
    if record.made_by != made_by:
        return False
    folder = posixpath.dirname(job_path.replace("\\", "/"))
    for name, read in record.reads.items():
        path = jobs.join(folder, name)
        stamp = jobs.stamp(path)
        if stamp is None or read.sha256 is None:
            if stamp is not None or read.sha256 is not None:
                return False
        elif stamp != read.stamp and _sha256(jobs, path) != read.sha256:
            return False
    return not record.is_done or _is_there(record, parts)


def _is_there(record: JobRecord, parts: Store) -> bool:
    folder = parts.join(record.place)
    there = parts.names(folder)
    if any(there.get(name) != size for name, size in record.files.items()):
        return False
    return _sha256(parts, parts.join(folder, record.commit)) == record.commit_sha256


def _sha256(store: Store, path: str) -> str | None:
    try:
        return hashlib.sha256(store.read(path)).hexdigest()
    except OSError:
        return None


def _record(data: bytes) -> JobRecord | None:
    known = {each.name for each in fields(JobRecord)}
    try:
        found = json.loads(data)
        reads = {str(name): Read(**each) for name, each in found["reads"].items()}
        values = {name: value for name, value in found.items() if name in known}
        return JobRecord(**{**values, "reads": reads, "notes": tuple(found["notes"])})
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
