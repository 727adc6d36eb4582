"""A scan given for a job, a job or a folder given for a scan, one scan given twice: what it is, and what to write."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path

from ..base.errors import InputError
from .schema import Job

_TEXTS = {
    "toml": "a job or a card (TOML)",
    "json": "a JSON document",
    "txt": "a text",
    "csv": "a table",
    "3mf": "a print file (3MF)",
    "zip": "an archive: unpack it first",
}
_MOST_LISTED = 4


@dataclass(frozen=True)
class ScanKinds:
    """Which files are scans, by what reads them: a job knows no format."""

    words: str = "a mesh"  # "GLB, OBJ or STL"
    kind_of: Callable[[bytes, str], str] = lambda start, name: ""  # of first bytes and name: "STL"; "" for no scan


NOT_KNOWN = ScanKinds()


def refuse_no_job(data: bytes, path: Path, scans: ScanKinds) -> None:
    """Refuse a file given for a job that is a scan, an archive, a run's document or the notes of trials.

    Raises InputError with what it is, and what to run instead.
    """
    name = path.name
    kind = scans.kind_of(data, name)
    if kind and not re.match(rb"\s*(schema\s*=|\[)", data):
        raise InputError(
            f'"{name}" is a scan ({kind}), not a job file: the job is a text that names the scans.',
            hint=_use_job_beside(path)
            or f'Write one with: python -m padwright new --family seat_pad --out job.toml. Put scan = "{name}" under '
            f"[base] or [impression] of it, then: python -m padwright run job.toml. What the scan is says: python -m "
            f"padwright look {name}",
        )
    if data.startswith(b"PK"):
        raise InputError(f'"{name}" is an archive or a 3MF, not a job file.', hint=_use_job_beside(path) or _WRITE_ONE)
    if data.lstrip()[:1] == b"{":
        raise InputError(
            f'"{name}" is a JSON document, not a job file: a job is TOML.', hint=_use_job_beside(path) or _WRITE_ONE
        )
    if re.search(rb"(?m)^\s*\[\[\s*trial\s*\]\]", data) and not _SCHEMA.search(data):
        jobs = _jobs_in(path.parent)
        raise InputError(
            f'"{name}" holds the notes of trials, not a job.',
            hint=f"Give the job of the print that was worn: {_these(jobs)}" if jobs else _WRITE_ONE,
        )


_SCHEMA = re.compile(rb"(?m)^\s*schema\s*=")
_WRITE_ONE = "Write one with: python -m padwright new --family seat_pad --out job.toml"


def refuse_folder(path: Path) -> None:
    """Refuse a folder given for a job, and name the job in it.

    Raises InputError.
    """
    if path.is_dir():
        jobs = _jobs_in(path)
        raise InputError(
            f'"{path}" is a folder; the job is a file.',
            hint=f"Give the file: python -m padwright run {_these(jobs)}"
            if jobs
            else f"No job lies in it. {_WRITE_ONE}",
        )


def _use_job_beside(path: Path) -> str:
    jobs = _jobs_in(path.parent)
    return f"Beside it lies a job: python -m padwright run {_these(jobs)}" if jobs else ""


def _these(jobs: list[Path]) -> str:
    return " or ".join(str(each) for each in jobs[:_MOST_LISTED])


def _jobs_in(folder: Path) -> list[Path]:
    """Return the files of a folder that look like jobs, by name."""
    return [path for path in _listed(folder) if path.suffix.lower() == ".toml" and _is_job(path)]


def _is_job(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return _SCHEMA.search(file.read(4096)) is not None
    except OSError:
        return False


def no_scan(file: str, folder: Path, named: Collection[str], scans: ScanKinds) -> str:
    """Return what to say of a file given for a scan that is none by its name, or of a folder; "" for any other.

    What is `named` elsewhere in the job is no scan that could have been meant.
    """
    place = folder / file
    if place.is_dir():
        return f'"{file}" is a folder; expected the file of a scan.{scans_beside(place, folder, named, scans)}'
    what = _TEXTS.get(place.suffix.lower().lstrip("."))
    if what is None or not place.is_file():
        return ""
    beside = scans_beside(place.parent, folder, named, scans)
    return f'"{file}" is {what}; expected the file of a scan: {scans.words}.{beside}'


def same_scan(job: Job, folder: Path | None, scans: ScanKinds) -> str:
    """Return what to say where both scans of a job are one file; "" where they are two, or lie nowhere."""
    if job.impression is None or job.impression.scan is None or folder is None:
        return ""
    ways = [Path(os.path.normpath(folder / file)) for file in (job.base.scan, job.impression.scan)]
    if ways[0] != ways[1]:
        return ""
    said = (
        f'"{job.impression.scan}" is the base scan too; the impression is the scan of the base under the pressed clay.'
    )
    return said + scans_beside(ways[0].parent, folder, [ways[0].name], scans)


def scans_beside(place: Path, folder: Path, named: Collection[str], scans: ScanKinds) -> str:
    """Return which scans lie in a folder, as a job in another folder would name them, without those it names."""
    found = [path for path in _listed(place) if scans.kind_of(b"", path.name) and path.name not in named]
    if not found:
        return " Give its file name."
    names = [Path(os.path.relpath(path, folder)).as_posix() for path in found[:_MOST_LISTED]]
    if len(found) == 1:
        return f' Did you mean "{names[0]}"?'
    return f" Scans there are: {', '.join(names)}{' and more' if len(found) > _MOST_LISTED else ''}."


def _listed(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.is_file())
    except OSError:
        return []
