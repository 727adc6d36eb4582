"""Read a file that a person names, never a pipe or a device that waits, and write a new one whole or not at all."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path

from .errors import ExportError, InputError

MOST_TABLE_BYTES = 50_000_000
"""Largest table of numbers (weights, pressure grid) that is read: a million rows. A choice of ours."""
MOST_SCAN_BYTES = 4_000_000_000
"""Largest scan file that is read; 32-bit counts of most formats end there. A choice of ours."""

_UNSTATED = 1_000_000

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe, which may wait for ever"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device, which may never end"),
    (stat.S_ISBLK, "a device"),
)


_NOTED: ContextVar[dict[Path, str | None] | None] = ContextVar("files read", default=None)


@contextmanager
def noting_reads() -> Iterator[dict[Path, str | None]]:
    """Note what `read_named` reads meanwhile: SHA-256 by path, None where there was nothing that can be read.

    So it is known what a result was made from, whichever stage asked for it.
    """
    noted: dict[Path, str | None] = {}
    before = _NOTED.set(noted)
    try:
        yield noted
    finally:
        _NOTED.reset(before)


@dataclass(frozen=True)
class InputFile:
    """A file the part was made from."""

    role: str  # base_scan, impression_scan, body_scan, envelope, pressure_map, coupon_test, settings_map, job or other
    file: str  # relative path; of an absolute path only the last step is kept, so that no user name travels along
    sha256: str
    size: int | None = None  # bytes
    unit: str | None = None  # unit the scan was read in
    triangles: int | None = None


def without_user(name: str) -> str:
    """Return the name of a file or folder as it may go into documents: of a whole path the last step alone."""
    steps = name.replace("\\", "/")
    is_whole = steps.startswith("/") or steps[1:2] == ":"
    return steps.rstrip("/").rsplit("/", 1)[-1] if is_whole else name


def _file_in(path: Path) -> str:
    """Return what to give for what is no file: the first file of a folder, by name."""
    if path.is_dir():
        inside = sorted(each for each in path.iterdir() if each.is_file())
        return f"Give a file in it, as {inside[0]}." if inside else "It has no files; give a file."
    return "Save it as a file first."


def read_named(path: Path, what: str, *, most_bytes: int, hint: str = "") -> bytes:
    """Return the bytes of a file; `what` is what it is to the person, with its article ("The material card").

    Raises InputError when there is no such file (`hint` then says what to do), it is something else than a file, it is
    larger than `most_bytes`, which is seen before it is read, or it cannot be read.
    """
    noted = _NOTED.get()
    if noted is not None:
        noted.setdefault(path, None)
    # Room for as much as is asked for is made first, so no more than the file has; those of the system say 0.
    data, _ = _first_bytes(path, what, lambda size: min(most_bytes, max(size, _UNSTATED)) + 1, most_bytes, hint)
    if len(data) > most_bytes:  # some files state no size, e.g. those of the system
        raise _too_large(path, what, len(data), most_bytes)
    if noted is not None:
        noted[path] = hashlib.sha256(data).hexdigest()
    return data


def read_head(path: Path, what: str, *, head_bytes: int, most_bytes: int, hint: str = "") -> tuple[bytes, int]:
    """Return the first bytes of a file, `head_bytes` at most, and its whole size; otherwise as `read_named`."""
    return _first_bytes(path, what, lambda _: head_bytes, most_bytes, hint)


def _first_bytes(path: Path, what: str, wanted: Callable[[int], int], most_bytes: int, hint: str) -> tuple[bytes, int]:
    """Return as many bytes of a file as are wanted of its size, and that size as the system states it."""
    try:
        found = os.stat(path)
        kind = next((words for is_kind, words in _KINDS if is_kind(found.st_mode)), "")
        if kind:
            raise InputError(f'{what} "{path}" is {kind}; only a file is read.', hint=_file_in(path))
        if found.st_size > most_bytes:
            raise _too_large(path, what, found.st_size, most_bytes)
        with path.open("rb") as file:
            return file.read(wanted(found.st_size)), found.st_size
    except OSError as error:
        raise InputError(f'{what} "{path}" cannot be read: {error.strerror}.', hint=hint) from None
    except ValueError:  # a name with a zero byte
        raise InputError(f"{what} has a name that no file can have: {str(path)[:60]!r}.", hint=hint) from None


def write_new(path: Path, data: bytes, *, hint: str = "") -> None:
    """Write a file that is not there yet, whole or not at all; one that is there is never touched.

    Raises FileExistsError when something of that name is there; ExportError when the disk refuses, with `hint` as what
    to do; nothing is left of it then.
    """
    is_made = False
    try:
        with path.open("xb") as file:
            is_made = True
            file.write(data)
    except FileExistsError:
        raise
    except (OSError, KeyboardInterrupt) as error:
        if is_made:
            with suppress(OSError):
                path.unlink()
        if isinstance(error, KeyboardInterrupt):
            raise
        raise ExportError(f'"{path}" cannot be written: {error.strerror}.', hint=hint) from None


def _too_large(path: Path, what: str, size: int, most_bytes: int) -> InputError:
    return InputError(
        f'{what} "{path}" has {size / 1e6:.4g} MB or more; {most_bytes / 1e6:g} MB are the most.',
        hint="Is it the right file?",
    )
