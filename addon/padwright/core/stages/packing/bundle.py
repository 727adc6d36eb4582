"""A run's files put into a folder all at once or not at all, whenever the power, the disk or the person stops it.

Files are written into a staging folder beside the target, then renamed one by one under a journal; the run document
goes last and is the commit. What is found half done is rolled back before it, and finished after it. Only files that
a run document lists with their SHA-256, unchanged, are ever replaced or removed.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ...base.errors import ExportError, InputError, PadwrightError
from ...base.text import counted
from .all_or_nothing import (
    Journal,
    close_stage,
    mend_stage,
    move,
    open_stage,
    sha256_of,
    stage_path,
    stages_of,
    sync_folder,
    write_journal,
    write_synced,
)

_NO_SEAL = "0" * 64
MEASURED = ("stages",)
"""What of a run's evidence is of the run, not of the part: seconds and memory, which no two runs have alike."""
EVIDENCE_HASH = "evidence_sha256"
"""Its line ends the evidence in a run document; all bytes before it are the same in each run of the same."""
Owned = Callable[[Path, Mapping[str, str], str], tuple[dict[str, str], tuple[str, ...]]]
"""(folder, SHA-256 by name of the new files, name of the commit) -> the same of files that may go, and notes."""


@dataclass(frozen=True)
class Bundle:
    """What was put on disk."""

    folder: Path
    names: tuple[str, ...]  # the files written, the run document last
    removed: tuple[str, ...]  # files of the run before that do not belong to this one
    notes: tuple[str, ...]


def run_document(evidence: Mapping[str, Any], files: Mapping[str, bytes]) -> bytes:
    """Return a run document: the evidence and its hash, then what only this run has, and a seal over the whole text.

    The hash is the SHA-256 of all bytes before its line. Behind it stand what the run took (`MEASURED`) and the list of
    its other files, whose hashes change with the time written into them.

    Parameters
    ----------
    evidence : mapping
        Plain data; the names "evidence_sha256", "files" and "seal" are taken.
    files : mapping of name to bytes
        Every other file of the run.
    """
    listed = {name: {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)} for name, data in files.items()}
    lasting = {name: value for name, value in evidence.items() if name not in MEASURED}
    measured = {name: evidence[name] for name in MEASURED if name in evidence}
    before = _text({**lasting, EVIDENCE_HASH: ""}).rpartition(f' "{EVIDENCE_HASH}"')[0]
    digest = hashlib.sha256(before.encode()).hexdigest()
    text = _text({**lasting, EVIDENCE_HASH: digest, **measured, "files": listed, "seal": _NO_SEAL}) + "\n"
    seal = hashlib.sha256(text.encode()).hexdigest()
    head, _, tail = text.rpartition(_NO_SEAL)
    return (head + seal + tail).encode()


def _text(document: Mapping[str, Any]) -> str:
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)


def listed_files(data: bytes) -> dict[str, str] | None:
    """Return name and SHA-256 of the files a run document lists, or None when it is not one or was changed."""
    try:
        document = json.loads(data)
        seal, files = document["seal"], document["files"]
        listed = {str(name): str(entry["sha256"]) for name, entry in files.items()}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
    if not isinstance(seal, str) or len(seal) != 64 or not seal.isascii():
        return None
    head, _, tail = data.rpartition(seal.encode())
    is_whole = hashlib.sha256(head + _NO_SEAL.encode() + tail).hexdigest() == seal
    return listed if is_whole and all(_is_plain(name) for name in listed) else None


def mend_folder(folder: Path) -> tuple[str, ...]:
    """Finish or take back what an interrupted run left in a folder; returns notes, none when all was well.

    Raises ExportError when files that are not ours stand where ours must go back to.
    """
    folder = Path(os.path.realpath(folder))
    notes = []
    for stage in stages_of(folder):
        lock = open_stage(stage, wait=False)
        if lock is None:  # a living run is at work in it
            continue
        with _closing(stage, lock):
            note = mend_stage(stage, folder)
        notes += [note] if note else []
    return tuple(notes)


def check_folder(folder: Path) -> None:
    """Say before a long run that its files will not find a place.

    Raises InputError when the path is no folder and cannot become one; ExportError when nothing may be written there.

    `folder`: it, or the folders above it, need not be there yet. Nothing is made.
    """
    try:
        folder = Path(os.path.realpath(folder))
        present = next(path for path in (folder, *folder.parents) if os.path.lexists(path))  # "/" always is
        is_folder = present.is_dir()
        for name in folder.relative_to(present).parts if is_folder else ():
            with suppress(FileNotFoundError):
                os.lstat(present / name)  # the system says here that a name is too long, or not one at all
    except OSError as error:
        raise InputError(
            f'"{_short(folder)}" cannot be a folder: {error.strerror}.', hint="Choose another folder."
        ) from None
    if not is_folder:
        raise InputError(f'"{_short(present)}" is a file, not a folder.', hint="Choose another folder.")
    if not os.access(present, os.W_OK | os.X_OK):
        raise ExportError(
            f'Nothing may be written into "{present}".', hint="Change its rights, or choose another folder."
        )


def _short(path: Path) -> str:
    """Return a path, its middle left out when it is longer than anyone reads."""
    text = str(path)
    return text if len(text) <= 200 else f"{text[:90]}...{text[-90:]}"


def write_bundle(folder: Path, files: Mapping[str, bytes], *, commit_name: str) -> Bundle:
    """Put a run's files into a folder, all or none.

    Raises ExportError when files that this tool did not write, or that were changed since, have our names; when another
    run is writing the same part; when the disk refuses. The folder then holds what it held before.

    Parameters
    ----------
    folder : Path
        Made when it is not there.
    files : mapping of name to bytes
        Plain file names; the one called `commit_name` must come from `run_document` over the others.
    commit_name : str
        "<number>.run.json".
    """
    return put_files(folder, files, _checked(files, commit_name), commit_name, _owned)


def put_files(
    folder: Path, files: Mapping[str, bytes], hashes: dict[str, str], commit_name: str, owned: Owned
) -> Bundle:
    """Put files into a folder, all or none; `owned` says which of those that are there may go, or raises.

    Parameters and errors are those of `write_bundle`; `hashes` has the SHA-256 of every file.
    """
    folder = Path(os.path.realpath(folder))
    if folder.exists() and not folder.is_dir():
        raise ExportError(f'"{folder}" is a file.', hint="Name a folder to write to.")
    mended = mend_folder(folder)
    made = _make_parents(folder)
    stage = stage_path(folder, commit_name)
    try:
        lock = open_stage(stage, wait=True)
        if lock is None:
            raise ExportError(f'Another run is writing "{commit_name}" into "{folder}".', hint="Wait until it is done.")
        with _closing(stage, lock):
            try:
                removed, notes = _write(folder, stage, files, hashes, commit_name, owned)
            except (OSError, KeyboardInterrupt, PadwrightError):
                mend_stage(stage, folder)
                raise
    except OSError as error:
        if _is_whole(folder, hashes):
            # The disk complained after the commit: the run is there, only the tidying up is not.
            removed, notes = (), (f"The files are written; tidying up failed ({error.strerror or error}).",)
            return Bundle(folder, _names(files, commit_name), removed, mended + notes)
        _remove_made(made)
        raise ExportError(
            f'The files could not be written into "{folder}": {error.strerror or error}.',
            hint="Check free space and rights; nothing was changed.",
        ) from error
    except (KeyboardInterrupt, PadwrightError):
        _remove_made(made)
        raise
    return Bundle(folder, _names(files, commit_name), removed, mended + notes)


def _write(
    folder: Path,
    stage: Path,
    files: Mapping[str, bytes],
    hashes: dict[str, str],
    commit_name: str,
    owned_in: Owned,
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Stage, move and commit; returns the names removed and notes."""
    owned, kept = owned_in(folder, hashes, commit_name)
    journal = Journal("staging", folder.name, commit_name, not folder.exists(), hashes, owned)
    write_journal(stage, journal)
    for name, data in files.items():
        write_synced(stage / "new" / name, data)
    sync_folder(stage / "new")
    journal = journal.at("moving")
    write_journal(stage, journal)
    if journal.folder_is_new:
        folder.mkdir(exist_ok=True)
        sync_folder(folder.parent)
    # The old run document goes first and the new one comes last: in between there is no run, and nobody takes half of
    # one for whole.
    for name in sorted(owned, key=lambda name: name != commit_name):
        move(folder / name, stage / "old" / name)
    for name in sorted(hashes, key=lambda name: name == commit_name):
        if name == commit_name:
            sync_folder(folder)
        move(stage / "new" / name, folder / name)
    sync_folder(folder)
    mend_stage(stage, folder)  # it finds the run committed and says so in the journal before it tidies up
    return tuple(sorted(set(owned) - set(hashes))), kept


def _owned(folder: Path, hashes: Mapping[str, str], commit_name: str) -> tuple[dict[str, str], tuple[str, ...]]:
    """Return the files of the run before that may be replaced or removed, with their SHA-256, and notes.

    Raises ExportError when a file with one of our names is not ours as we wrote it; all are listed.
    """
    before: dict[str, str] = {}
    foreign = []
    commit = folder / commit_name
    if os.path.lexists(commit):
        listed = None if commit.is_symlink() or not commit.is_file() else listed_files(commit.read_bytes())
        if listed is None:
            foreign.append(commit_name)
        else:
            before = {**listed, commit_name: sha256_of(commit)}
    owned, notes = {}, []
    for name in sorted(set(before) | (set(hashes) - {commit_name})):
        path = folder / name
        if not os.path.lexists(path):
            continue
        if name in before and not path.is_symlink() and path.is_file() and sha256_of(path) == before[name]:
            owned[name] = before[name]
        elif name in hashes:
            foreign.append(name)
        else:
            notes.append(f"{name} was changed since it was written and is kept.")
    if foreign:
        raise ExportError(
            f'"{folder}" holds {counted(len(foreign), "file")} under names of this part that Padwright did not '
            f"write, or changed since: {', '.join(sorted(foreign))}.",
            hint="Move them away or choose another folder.",
        )
    return owned, tuple(notes)


def _checked(files: Mapping[str, bytes], commit_name: str) -> dict[str, str]:
    """Return the SHA-256 of every file, after checking names and the run document."""
    if commit_name not in files:
        raise ExportError(f'The run document "{commit_name}" is not among the files.')
    if bad := [name for name in files if not _is_plain(name)]:
        raise ExportError(f"{bad[0]!r} is not a plain file name.")
    if len({name.casefold() for name in files}) != len(files):
        raise ExportError("Two files differ only in upper and lower case.", hint="Rename a zone.")
    hashes = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    if listed_files(files[commit_name]) != {name: value for name, value in hashes.items() if name != commit_name}:
        raise ExportError(f'The run document "{commit_name}" does not list the files of its run.')
    return hashes


def _is_plain(name: str) -> bool:
    return bool(name) and name not in (".", "..") and not set(name) & set('/\\:*?"<>|\0')


def _names(files: Mapping[str, bytes], commit_name: str) -> tuple[str, ...]:
    return (*(name for name in files if name != commit_name), commit_name)


def _is_whole(folder: Path, hashes: Mapping[str, str]) -> bool:
    return all((folder / name).is_file() and sha256_of(folder / name) == value for name, value in hashes.items())


@contextmanager
def _closing(stage: Path, lock: int) -> Iterator[None]:
    try:
        yield
    finally:
        close_stage(stage, lock)


def _make_parents(folder: Path) -> list[Path]:
    """Make the folders above the target; returns those that were not there, deepest first."""
    missing = [path for path in folder.parents if not path.exists()]
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        _remove_made(missing)
        raise ExportError(
            f'"{folder.parent}" could not be made: {error.strerror}.', hint="Choose another folder."
        ) from error
    return missing


def _remove_made(made: list[Path]) -> None:
    for path in made:
        try:
            path.rmdir()
        except OSError:  # something is in it by now, or it was never made
            return
