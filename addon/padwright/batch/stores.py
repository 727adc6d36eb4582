"""Where jobs lie and parts go: a folder of this machine's disks, or one of an object storage (s3:// and the like).

Paths within a store are whole: those of the system, or those of the storage, from "/" on.
"""

from __future__ import annotations

import os
import posixpath
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Protocol

from ..core.base.errors import ExportError, InputError

STATE_FOLDER = ".padwright-batch"
"""In the folder that the table goes to: what is known of every job, and the lock of a batch at work."""


@dataclass(frozen=True)
class Stamp:
    """What tells that a file is still the one it was, without reading it."""

    size: int
    mark: str  # time of the last change, or the storage's own tag


class Store(Protocol):
    """What a batch asks of the place of its files."""

    root: str
    is_local: bool

    def join(self, *steps: str) -> str:
        """Return the path of steps below the root, or from a whole path; ".." goes up."""

    def read(self, path: str) -> bytes:
        """Return a file's bytes. Raises FileNotFoundError where there is none."""

    def read_many(self, paths: Iterable[str]) -> dict[str, bytes]:
        """Return the bytes of those files that are there, by path."""

    def write(self, path: str, data: bytes) -> None:
        """Write a file, so that a reader finds the one before or this one whole."""

    def remove(self, path: str) -> None:
        """Remove a file; one that is not there is fine."""

    def stamp(self, path: str) -> Stamp | None:
        """Return a file's stamp, None where there is none."""

    def names(self, folder: str) -> dict[str, int]:
        """Return names and sizes of the files in a folder."""

    def below(self, ending: str) -> list[str]:
        """Return the files below the root whose names end so; folders with a dot first are left out."""

    def shown(self, path: str = "") -> str:
        """Return a path as the person writes it; without one that of the root."""


class LocalStore:
    """A folder of this machine, or one that it shares with others."""

    is_local = True

    def __init__(self, root: str) -> None:
        self.root = os.path.realpath(root)
        self._said = root

    def join(self, *steps: str) -> str:
        """Return the path of steps below the root."""
        return os.path.normpath(os.path.join(self.root, *steps))

    def read(self, path: str) -> bytes:
        """Return a file's bytes."""
        return Path(path).read_bytes()

    def read_many(self, paths: Iterable[str]) -> dict[str, bytes]:
        """Return the bytes of those files that are there."""
        found = {}
        for path in paths:
            with suppress(FileNotFoundError):
                found[path] = self.read(path)
        return found

    def write(self, path: str, data: bytes) -> None:
        """Write a file beside its place and rename it."""
        target = Path(path)
        beside = target.with_name(f".{target.name}.{os.getpid()}.new")
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            beside.write_bytes(data)
            os.replace(beside, target)
        except OSError as error:
            with suppress(OSError):
                beside.unlink()
            raise ExportError(
                f'"{path}" cannot be written: {error.strerror}.', hint="Check free space and rights."
            ) from None

    def remove(self, path: str) -> None:
        """Remove a file."""
        with suppress(FileNotFoundError):
            os.unlink(path)

    def stamp(self, path: str) -> Stamp | None:
        """Return size and time of the last change."""
        try:
            found = os.stat(path)
        except (OSError, ValueError):
            return None
        return Stamp(found.st_size, str(found.st_mtime_ns))

    def names(self, folder: str) -> dict[str, int]:
        """Return names and sizes of the files in a folder."""
        try:
            with os.scandir(folder) as inside:
                return {each.name: each.stat().st_size for each in inside if each.is_file()}
        except (FileNotFoundError, NotADirectoryError):
            return {}

    def below(self, ending: str) -> list[str]:
        """Return the files below the root whose names end so."""
        found = []
        for folder, inner, names in os.walk(self.root):
            inner[:] = sorted(name for name in inner if not name.startswith("."))
            found += [os.path.join(folder, name) for name in names if name.endswith(ending) and name[0] != "."]
        return found

    def shown(self, path: str = "") -> str:
        """Return a path from where the person stands, by the name they gave to the root."""
        return self._said if not path else os.path.normpath(os.path.join(self._said, os.path.relpath(path, self.root)))


class RemoteStore:
    """A folder of an object storage, through fsspec."""

    is_local = False

    def __init__(self, address: str) -> None:
        fsspec = _fsspec(address)
        self._scheme = address.partition("://")[0]
        try:
            self._files, root = fsspec.core.url_to_fs(address)
        except (ImportError, ValueError) as error:
            raise InputError(
                f'"{address}" cannot be opened: {error}.', hint="Install what the storage needs, e.g. s3fs for s3://."
            ) from None
        self.root: str = f"/{root.strip('/')}"
        self._listed: dict[str, Mapping[str, Any]] = {}

    def join(self, *steps: str) -> str:
        """Return the path of steps below the root."""
        return posixpath.normpath(posixpath.join(self.root, *steps))

    def read(self, path: str) -> bytes:
        """Return an object's bytes."""
        with self._asked(path):
            data: bytes = self._files.cat_file(self._bare(path))
        return data

    def read_many(self, paths: Iterable[str]) -> dict[str, bytes]:
        """Return the bytes of those objects that are there, many asked for at once."""
        wanted = {self._bare(each): each for each in paths}
        if not wanted:
            return {}
        with self._asked(self.root):
            found = self._files.cat(list(wanted), on_error="omit")
        return {wanted[self._bare(path)]: data for path, data in found.items()}

    def write(self, path: str, data: bytes) -> None:
        """Write an object; a storage shows the one before until the new one is whole."""
        with self._asked(path, "written"):
            self._files.pipe_file(self._bare(path), data)
        self._listed.pop(self._bare(path), None)

    def remove(self, path: str) -> None:
        """Remove an object."""
        with suppress(FileNotFoundError), self._asked(path, "removed"):
            self._files.rm_file(self._bare(path))

    def stamp(self, path: str) -> Stamp | None:
        """Return size and tag, or the time of the last change where the storage has no tags."""
        found = self._listed.get(self._bare(path))
        if found is None:
            try:
                with self._asked(path):
                    found = self._files.info(self._bare(path))
            except FileNotFoundError:
                return None
        mark = next((str(found[name]) for name in ("ETag", "etag", "LastModified", "created") if name in found), "")
        return Stamp(int(found["size"]), mark) if found.get("type") == "file" else None

    def names(self, folder: str) -> dict[str, int]:
        """Return names and sizes of the objects in a folder."""
        try:
            with self._asked(folder):
                self._files.invalidate_cache(self._bare(folder))
                listed = self._files.ls(self._bare(folder), detail=True)
        except (FileNotFoundError, NotADirectoryError):
            return {}
        return {posixpath.basename(each["name"]): int(each["size"]) for each in listed if each["type"] == "file"}

    def below(self, ending: str) -> list[str]:
        """Return the objects below the root whose names end so, and keep the stamps of all: one listing serves many."""
        try:
            with self._asked(self.root):
                self._files.invalidate_cache()
                found = self._files.find(self._bare(self.root), detail=True)
        except FileNotFoundError:
            return []
        self._listed = {self._bare(name): each for name, each in found.items()}
        inside = ((name, name[len(self._bare(self.root)) :].split("/")) for name in self._listed)
        return [
            f"/{name}" for name, steps in inside if name.endswith(ending) and not any(s.startswith(".") for s in steps)
        ]

    def shown(self, path: str = "") -> str:
        """Return the whole address."""
        return f"{self._scheme}://{(path or self.root).lstrip('/')}"

    @contextmanager
    def _asked(self, path: str, what: str = "read") -> Iterator[None]:
        """Tell in plain words what the storage refuses; that something is not there goes through."""
        try:
            yield
        except (FileNotFoundError, NotADirectoryError):
            raise
        except _refusals() as error:
            raise ExportError(
                f'"{self.shown(path)}" cannot be {what}: {error or type(error).__name__}.',
                hint="Check the address, the rights and the connection, and start again: what is done stays done.",
            ) from None

    def _bare(self, path: str) -> str:
        return path.strip("/")


def open_store(address: str) -> Store:
    """Return the store of a folder's path or of an address with "://".

    Raises InputError when the storage needs what is not installed.
    """
    return RemoteStore(address) if is_address(address) else LocalStore(address)


def is_address(text: str) -> bool:
    """Say if a text is the address of an object storage."""
    return "://" in text


@cache
def _refusals() -> tuple[type[Exception], ...]:
    """Return what storages raise besides the system's errors."""
    try:
        from botocore.exceptions import BotoCoreError
    except ImportError:
        return (OSError,)
    return OSError, BotoCoreError


def _fsspec(address: str) -> Any:
    try:
        import fsspec
        import fsspec.core
    except ImportError:
        raise InputError(
            f'"{address}" is an object storage, and fsspec is not installed.',
            hint="Install it with: pip install fsspec s3fs",
        ) from None
    return fsspec
