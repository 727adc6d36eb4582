"""The staging folder of a run: its lock, its journal, and the way back to a whole state from any point."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import sys
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from ...base.errors import ExportError

_SUFFIX = ".padwright-stage"
_BUSY = {errno.EACCES, errno.EAGAIN, errno.EDEADLK}


@dataclass(frozen=True)
class Journal:
    """How far a run has come."""

    # "staging": the target is untouched; "moving": files are being renamed; "done": committed, rubbish is left.
    phase: str
    folder: str  # name of the target folder: ".a.b." may belong to "a" or to "a.b"
    commit: str  # name of the run document
    folder_is_new: bool  # the target was not there before
    # Name to SHA-256: files to put in; files of the run before to take out.
    new: dict[str, str]
    old: dict[str, str]

    def at(self, phase: str) -> Journal:
        """Return the journal in another phase."""
        return replace(self, phase=phase)


def stage_path(folder: Path, commit_name: str) -> Path:
    """Return where a run is staged: beside the target, or inside it when beside is another disk or may not be written.

    Renames are atomic only within one file system (POSIX.1-2017, rename()).
    """
    beside = folder.parent / f".{folder.name}.{commit_name}{_SUFFIX}"
    if folder.is_dir():
        is_other = os.stat(folder).st_dev != os.stat(folder.parent).st_dev
        if is_other or not os.access(folder.parent, os.W_OK | os.X_OK):
            return folder / f".{commit_name}{_SUFFIX}"
    return beside


def stages_of(folder: Path) -> list[Path]:
    """Return the staging folders that runs into this folder have left."""
    found = []
    for parent, prefix in ((folder.parent, f".{folder.name}."), (folder, ".")):
        if parent.is_dir():
            try:
                inside = os.listdir(parent)
            except PermissionError:  # a folder that may be entered but not listed: no stage was put there either
                continue
            names = [name for name in inside if name.startswith(prefix) and name.endswith(_SUFFIX)]
            found += [parent / name for name in sorted(names) if (parent / name / "lock").is_file()]
    return found


def open_stage(stage: Path, *, wait: bool) -> int | None:
    """Make or enter a staging folder and lock it; returns the open lock, or None when a living run has it.

    The system drops the lock when the program dies, however it dies. `wait` makes the folder when it is not there.
    """
    for _ in range(10):
        if wait:
            stage.mkdir(exist_ok=True)
        try:
            lock = os.open(stage / "lock", os.O_RDWR | os.O_CREAT, 0o644)
        except FileNotFoundError:
            if wait:
                continue
            return None
        if not _lock(lock):
            os.close(lock)
            return None
        # The run that had the lock may have removed the folder while we came in.
        if (stage / "lock").exists() and _is_same(lock, stage / "lock"):
            return lock
        os.close(lock)
    return None


def close_stage(stage: Path, lock: int) -> None:
    """Let the lock go, and remove the staging folder if nothing but the lock is in it."""
    if os.name == "nt":  # Windows cannot remove an open file
        os.close(lock)
    if stage.is_dir() and os.listdir(stage) == ["lock"]:
        (stage / "lock").unlink()
        stage.rmdir()
    if os.name != "nt":
        os.close(lock)


def mend_stage(stage: Path, folder: Path) -> str:
    """Bring target and staging folder to a whole state; it may itself be stopped anywhere and done again.

    Returns what was done, for the person; nothing when only rubbish was removed. Raises ExportError when a file that is
    not ours stands where a file of the run before must go back to.
    """
    journal = _read_journal(stage)
    if journal is None:
        _unlink(stage / "journal.part")
        return ""
    note = ""
    if journal.folder != folder.name:
        return note
    if journal.phase == "moving":
        commit = folder / journal.commit
        if commit.is_file() and sha256_of(commit) == journal.new[journal.commit]:
            journal = journal.at("done")
            note = f"The run {journal.commit} had been stopped after its last file; it is whole."
        else:
            _roll_back(stage, folder, journal)
            journal = journal.at("staging")
            note = f"A stopped run of {journal.commit} was taken back; the folder is as it was before it."
        write_journal(stage, journal)
    for kind, names in (("new", journal.new), ("old", journal.old)):
        for name in names:
            _unlink(stage / kind / name)
        if (stage / kind).is_dir():
            (stage / kind).rmdir()
    _unlink(stage / "journal.part")
    _unlink(stage / "journal.json")
    return note


def _roll_back(stage: Path, folder: Path, journal: Journal) -> None:
    """Take the new files out again and put the old ones back, the old run document last.

    A new file goes back into the staging folder, never away: a name missing there says that the file of that name in
    the target is the new one, so a second try cannot take a restored old file for it, be the bytes the same.
    """
    conflicts = []
    for name, value in journal.new.items():
        path, back = folder / name, stage / "new" / name
        if back.exists() or not os.path.lexists(path):
            continue
        if path.is_symlink() or not path.is_file() or sha256_of(path) != value:
            conflicts += [name] if (stage / "old" / name).exists() else []
            continue
        move(path, back)
    waiting = [name for name in journal.old if (stage / "old" / name).exists()]
    conflicts += [name for name in waiting if os.path.lexists(folder / name) and name not in conflicts]
    if conflicts:
        raise ExportError(
            f'A stopped run left "{folder}" half done, and {", ".join(sorted(conflicts))} there is not its file.',
            hint=f'Move it away and start again; the files of the run before are in "{stage / "old"}".',
        )
    for name in sorted(waiting, key=lambda name: name == journal.commit):
        move(stage / "old" / name, folder / name)
    if folder.is_dir():
        sync_folder(folder)
        if journal.folder_is_new and not os.listdir(folder):
            folder.rmdir()


def write_journal(stage: Path, journal: Journal) -> None:
    """Write the journal so that a reader finds the one before or this one, never half of one."""
    part = stage / "journal.part"
    part.unlink(missing_ok=True)
    write_synced(part, json.dumps(asdict(journal)).encode())
    os.replace(part, stage / "journal.json")
    for kind in ("new", "old"):
        if journal.phase == "staging":
            (stage / kind).mkdir(exist_ok=True)
    sync_folder(stage)


def _read_journal(stage: Path) -> Journal | None:
    try:
        return Journal(**json.loads((stage / "journal.json").read_bytes()))
    except FileNotFoundError:
        return None
    except (ValueError, TypeError, RecursionError) as error:
        raise ExportError(
            f'"{stage / "journal.json"}" cannot be read.', hint="It is not as Padwright wrote it; look at it by hand."
        ) from error


def write_synced(path: Path, data: bytes) -> None:
    """Write a new file and wait until the disk has it."""
    with open(path, "xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def move(source: Path, target: Path) -> None:
    """Rename a file to a name that is free.

    Raises ExportError when the name is taken; POSIX would overwrite the file without a word.
    """
    if os.path.lexists(target):
        raise ExportError(f'"{target}" has appeared while writing.', hint="Move it away and start again.")
    os.rename(source, target)


def sync_folder(folder: Path) -> None:
    """Wait until the disk has the names in a folder; Windows has no such call."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some network file systems cannot
            raise
    finally:
        os.close(handle)


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file."""
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _unlink(path: Path) -> None:
    if os.path.lexists(path):
        path.unlink()


def _is_same(handle: int, path: Path) -> bool:
    return os.name == "nt" or os.path.samestat(os.fstat(handle), os.stat(path))


def _lock(handle: int) -> bool:
    """Take the lock without waiting; False when another program has it. Disks without locks count as free."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in _BUSY:
            return False
        if error.errno not in (errno.ENOLCK, errno.ENOTSUP, errno.EINVAL, errno.ENOSYS):
            raise
    return True
