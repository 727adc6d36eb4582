"""A job saved with the files it names beside it: all of them or none, and nothing that is not ours is replaced.

The job's first lines list the files that were written with it, by their SHA-256. On saving again only these, unchanged,
are replaced or removed; the job file itself is the one whose name the person chose.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Mapping
from pathlib import Path

from ...base.errors import ExportError
from ...base.text import counted
from .all_or_nothing import sha256_of
from .bundle import Bundle, mend_folder, put_files

_HEAD = "# Saved from a scene by Padwright. Written with it, and replaced when it is saved again:"
_LINE = re.compile(r"^#   ([0-9a-f]{64})  (.+)$")
_MOST_BYTES = 20_000_000


def write_saved_job(path: Path, text: str, files: Mapping[str, bytes]) -> Bundle:
    """Put a job and the files it names into its folder, all or none.

    Raises ExportError when a file of one of these names is there that was not saved with this job, was changed since,
    or belongs to another job of the folder too; when the disk refuses. The folder then holds what it held before.

    Parameters
    ----------
    path : Path
        Of the job file. One that is there is replaced; the folder is made when it is not there.
    text : str
        The job as TOML.
    files : mapping of name to bytes
        What lies beside it. A file that is there with the same content is used as it is and stays whose it was.
    """
    folder, name = Path(os.path.realpath(path.parent)), path.name
    if any(each.casefold() == name.casefold() for each in files):
        raise ExportError(f'The job cannot be called "{name}": a file it names has that name.', hint="Choose another.")
    if folder.is_dir():
        mend_folder(folder)
    listed = _listed(folder / name)
    new = {
        each: data
        for each, data in files.items()
        if each in listed or not _is_same(folder / each, hashlib.sha256(data).hexdigest())
    }
    hashes = {each: hashlib.sha256(data).hexdigest() for each, data in new.items()}
    rows = "".join(f"#   {value}  {each}\n" for each, value in sorted(hashes.items()))
    job = f"{_HEAD}\n{rows}\n{text}".encode()
    hashes[name] = hashlib.sha256(job).hexdigest()
    return put_files(folder, {**new, name: job}, hashes, name, _owned)


def _listed(job: Path) -> dict[str, str]:
    """Return name and SHA-256 of the files that were written with a job; none for a job that was not saved by us."""
    try:
        lines = job.read_bytes()[:_MOST_BYTES].decode("utf-8", "replace").splitlines()
    except OSError:
        return {}
    if not lines or lines[0] != _HEAD:
        return {}
    found: dict[str, str] = {}
    for line in lines[1:]:
        row = _LINE.match(line)
        if row is None:
            break
        found[row.group(2)] = row.group(1)
    return {name: value for name, value in found.items() if Path(name).name == name}


def _is_same(path: Path, value: str) -> bool:
    return path.is_file() and sha256_of(path) == value


def _owned(folder: Path, hashes: Mapping[str, str], job: str) -> tuple[dict[str, str], tuple[str, ...]]:
    """Return the files of the save before that may be replaced or removed, with their SHA-256, and notes.

    Raises ExportError when a file with one of our names is not ours as we wrote it, or another job names it; all are
    listed.
    """
    before = _listed(folder / job)
    owned: dict[str, str] = {}
    foreign, notes = [], []
    elsewhere = _other_jobs(folder, job)
    for name in sorted({*before, *hashes} - {job}):
        path = folder / name
        if not os.path.lexists(path):
            continue
        is_ours = name in before and not path.is_symlink() and _is_same(path, before[name])
        others = [other for other, text in elsewhere.items() if f'"{name}"' in text]
        if is_ours and (not others or hashes.get(name) == before[name]):
            owned[name] = before[name]
        elif name in hashes:
            foreign.append(f"{name} (named by {others[0]} too)" if is_ours else name)
        elif not others:
            notes.append(f"{name} was changed since it was saved and is kept.")
    if (folder / job).is_file():
        owned[job] = sha256_of(folder / job)
    elif os.path.lexists(folder / job):
        foreign.append(job)
    if foreign:
        raise ExportError(
            f'"{folder}" holds {counted(len(foreign), "file")} that was not saved by Padwright '
            f"with this job, or changed since: {', '.join(sorted(foreign))}.",
            hint="Choose another folder, or give the part another number.",
        )
    return owned, tuple(notes)


def _other_jobs(folder: Path, job: str) -> dict[str, str]:
    """Return the text of every other job file in a folder by its name."""
    found: dict[str, str] = {}
    if folder.is_dir():
        for path in sorted(folder.glob("*.toml")):
            if path.name != job and path.is_file() and path.stat().st_size <= _MOST_BYTES:
                found[path.name] = path.read_text("utf-8", "replace")
    return found
