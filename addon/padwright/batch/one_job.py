"""One job of a batch, from its file to its part's files; what comes of it is a record, also where it fails."""

from __future__ import annotations

import hashlib
import os
import posixpath
import socket
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from functools import cache
from importlib.metadata import PackageNotFoundError
from importlib.metadata import version as library_version
from pathlib import Path
from typing import TYPE_CHECKING

from ..core.base.errors import ExportError, PadwrightError
from ..core.base.files import noting_reads
from ..core.base.progress import Progress, drain
from ..core.base.resources import shared_path, version
from .record import JobRecord, Read, failed, is_unchanged, read_records, write_record
from .stores import Store, open_store

if TYPE_CHECKING:
    from ..core.job.schema import Job
    from ..core.run.pipeline import RunResult
    from ..core.stages.packing.bundle import Bundle
    from .mirror import Brought

_EPOCH = "SOURCE_DATE_EPOCH"
_LIBRARIES = ("numpy", "scipy", "manifold3d", "libigl", "pillow")
_SURE_AFTER_S = 2.0
"""A file last changed so long before a job began did not change unseen since: some disks keep time by 2 s (FAT)."""


class OtherToolError(PadwrightError):
    """A worker has another Padwright than the machine that the batch was started on."""


@dataclass(frozen=True)
class Task:
    """A job as a worker takes it; it can be sent to another machine."""

    name: str
    path: str  # of its file, in the store of the jobs
    place: str  # folder of its files, from the root of the store of the parts
    jobs: str  # addresses of both stores
    parts: str
    settings: tuple[str, ...] = ()  # keys set from outside, KEY=VALUE
    epoch: str | None = None  # the time that goes into the files, where one is set
    tool: str = ""  # `tool_hash` where the batch was started
    need_bytes: int = 0  # memory that it is likely to take
    batch: str = ""  # a word for this batch alone

    @property
    def made_by(self) -> str:
        """All that a part depends on besides the files it is made from."""
        return repr((self.tool, self.settings, self.epoch, self.place))


@cache
def tool_hash() -> str:
    """Return a hash of the tool: its version, code and cards, and the libraries that calculate."""
    digest = hashlib.sha256(version().encode())
    package = Path(__file__).resolve().parents[1]
    for root, folder in ((package, package / "core"), (shared_path(), shared_path())):
        for path in sorted(folder.rglob("*")):
            if path.is_file() and path.suffix in (".py", ".js", ".css", ".toml", ".json", ".txt"):
                digest.update(f"{path.relative_to(root).as_posix()}\0".encode() + path.read_bytes() + b"\0")
    for name in _LIBRARIES:
        try:
            digest.update(f"{name} {library_version(name)}\0".encode())
        except PackageNotFoundError:  # one that came without its papers
            digest.update(f"{name}\0".encode())
    return digest.hexdigest()


def run_task(task: Task, on_step: Callable[[Progress], None] | None = None) -> JobRecord:
    """Make a job's part, put its files in place, and keep the record beside the batch's table.

    Of what a person can cause nothing is raised: it stands in the record. To stop it, raise from `on_step`.
    """
    begun, began = time.time(), time.perf_counter()
    _set_epoch(task.epoch)
    jobs, parts = open_store(task.jobs), open_store(task.parts)
    kept = read_records(parts, [task.name]).get(task.name)
    if kept is not None and kept.is_done and task.batch and kept.batch == task.batch:
        if is_unchanged(kept, task.made_by, task.path, jobs, parts):
            return kept  # done by a worker that died before it could say so
    with ExitStack() as stack:
        reads = stack.enter_context(noting_reads())
        room = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="padwright-"))).resolve()
        mirror = None if jobs.is_local else _mirror(jobs, room / "jobs")
        is_of_content = True  # else the same job may go well another time, and is tried again
        try:
            _refuse_other_tool(task)
            with _in_its_words(mirror):
                path = Path(task.path) if mirror is None else mirror.bring_job(task.path)
                out = (
                    Path(parts.join(task.place)) if parts.is_local else room / "parts" / posixpath.basename(task.place)
                )
                record = _made(task, path, out, parts, on_step)
        except PadwrightError as error:
            record = failed(task.name, error)
            is_of_content = not isinstance(error, ExportError | OtherToolError)
        except MemoryError:
            is_of_content = False
            hint = "Thin the scans out in the scan program, or let fewer jobs run at once (--jobs)."
            record = failed(task.name, PadwrightError("The memory of this machine does not suffice.", hint=hint))
        own = Path(os.path.realpath(parts.join(task.place))) if parts.is_local else room / "parts"
        found = _reads_of(reads, task, jobs, own, mirror, begun)
    record = replace(
        record,
        made_by=task.made_by if is_of_content else "",
        batch=task.batch,
        reads={**record.reads, **found},
        place=task.place,
        seconds=round(time.perf_counter() - began, 2),
        worker=f"{socket.gethostname()}, process {os.getpid()}",
    )
    try:
        write_record(parts, record)
    except PadwrightError as error:  # the part is there; that it is done cannot be kept
        return replace(record, code=error.exit_code, message=error.message, hint=error.hint)
    return record


def _mirror(jobs: Store, folder: Path) -> Brought:
    from .mirror import Brought  # here, so that a worker is there at once

    return Brought(jobs, folder)


def fault_of(task: Task) -> PadwrightError | None:
    """Return what is wrong with a job's file, found without running it; None where nothing is, or it lies elsewhere."""
    if not open_store(task.jobs).is_local:
        return None
    from ..core.job.overrides import read_setting
    from ..core.job.read import read_job
    from ..core.stages.scans.known_formats import scan_kinds

    try:
        read_job(task.path, [read_setting(each) for each in task.settings], scan_kinds())
    except PadwrightError as error:
        return error
    return None


def put_in_order(task: Task) -> None:
    """Bring the folder of a job that was stopped in the middle to a whole state; the next try mends a storage's."""
    parts = open_store(task.parts)
    if parts.is_local:
        from ..core.stages.packing.bundle import mend_folder

        mend_folder(Path(parts.join(task.place)))


def _made(task: Task, path: Path, out: Path, parts: Store, on_step: Callable[[Progress], None] | None) -> JobRecord:
    from ..core.job.overrides import read_setting
    from ..core.job.read import read_job, tell_place
    from ..core.run.into_folder import put_result, ready_folder
    from ..core.run.pipeline import run_job
    from ..core.run.revisions import refuse_previous
    from ..core.stages.scans.known_formats import scan_kinds

    job = read_job(path, [read_setting(each) for each in task.settings], scan_kinds())
    try:
        refuse_previous(job, path.parent, out)
        if not parts.is_local:
            from .mirror import bring_documents

            bring_documents(parts, parts.join(task.place), out)
        ready_folder(out, job.part.number)
        result = _run(job, out, drain_steps=lambda: drain(run_job(job, path.parent), on_step), is_kept=parts.is_local)
        if not parts.is_local:
            for old in out.glob("*"):
                old.unlink()
        bundle = put_result(out, job.part.number, result)
    except PadwrightError as error:
        raise tell_place(error, job) from None
    record = _record(task.name, job, result, bundle)
    if not parts.is_local:
        from .mirror import put_part

        put_part(parts, parts.join(task.place), out, bundle.names[-1])
    return record


def _run(job: Job, out: Path, *, drain_steps: Callable[[], RunResult], is_kept: bool) -> RunResult:
    from ..cli.poses import tell_poses
    from ..core.stages.alignment.candidates import UnsurePoseError

    try:
        return drain_steps()
    except UnsurePoseError as error:
        if is_kept:
            raise tell_poses(error, job.part.number, out) from error
        raise


def _record(name: str, job: Job, result: RunResult, bundle: Bundle) -> JobRecord:
    from .row import part_facts, small_picture

    commit = bundle.names[-1]
    data = {each: (bundle.folder / each).read_bytes() for each in bundle.names}
    return JobRecord(
        name,
        0,
        reads={_trials(job): Read(None)},  # where it was there, it was read
        files={each: len(content) for each, content in data.items()},
        commit=commit,
        commit_sha256=hashlib.sha256(data[commit]).hexdigest(),
        part=part_facts(result),
        notes=bundle.notes,
        picture=small_picture(result.files),
    )


def _reads_of(
    noted: Mapping[Path, str | None], task: Task, jobs: Store, own: Path, mirror: Brought | None, begun: float
) -> dict[str, Read]:
    """Return what was read, by path from the job's folder; the part's own folder and the tool's cards are left out."""
    package = Path(__file__).resolve().parents[1]
    folder = Path(task.path).parent if mirror is None else mirror.here(task.path).parent
    found: dict[str, Read] = {}
    for path, digest in noted.items():
        whole = Path(os.path.realpath(path))
        if any(whole.is_relative_to(each) for each in (package, shared_path(), own)):
            continue
        is_brought = mirror is not None and whole.is_relative_to(mirror.folder)
        if mirror is not None and not is_brought:  # a part's folder while it was here
            continue
        name = Path(os.path.relpath(path, folder)).as_posix()
        stamp = jobs.stamp(jobs.join(posixpath.dirname(task.path.replace("\\", "/")), name))
        is_old = not jobs.is_local or (stamp is not None and int(stamp.mark) < (begun - _SURE_AFTER_S) * 1e9)
        known = stamp if is_old else None
        found[name] = Read(digest) if known is None else Read(digest, known.size, known.mark)
    return found


def _trials(job: Job) -> str:
    """Return the name of the file of a part's trials, which is looked for beside each job."""
    from ..core.stages.trials.reading import trials_name

    return trials_name(job.part.number)


@contextmanager
def _in_its_words(mirror: Brought | None) -> Iterator[None]:
    """Let an error name files as the person does, not as they lie here for a while."""
    try:
        yield
    except PadwrightError as error:
        if mirror is not None:
            error.message, error.hint = mirror.told(error.message), mirror.told(error.hint)
        raise


def _refuse_other_tool(task: Task) -> None:
    if task.tool and task.tool != tool_hash():
        raise OtherToolError(
            f"The worker on {socket.gethostname()} has another Padwright (it says version {version()}), or other "
            f"libraries, than the machine the batch was started on (Python {sys.version.split()[0]}).",
            hint="Install the same on every worker; a part must not depend on who made it.",
        )


def _set_epoch(epoch: str | None) -> None:
    if epoch is None:
        os.environ.pop(_EPOCH, None)
    else:
        os.environ[_EPOCH] = epoch
