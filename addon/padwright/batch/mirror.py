"""A job of an object storage brought to this machine's disk with all that it needs, and its part taken back.

A storage cannot rename, so a part is put there under a journal: what is about to change is written down first, the run
document goes first and comes last. A part without its run document is none, and the next try mends it.
"""

from __future__ import annotations

import json
import posixpath
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from ..core.base.errors import ExportError, InputError
from ..core.base.text import counted
from ..core.job.files import named_files
from ..core.stages.packing.bundle import listed_files
from ..core.stages.scans.painted_read import companion_files
from ..core.stages.trials.reading import trials_name
from .stores import Store

_OF_REVISION = (".run.json", ".settings.json", ".3mf")
_MOST_REVISIONS = 100
_JOURNAL = ".padwright-journal.json"


class Brought:
    """A folder of this machine that stands for the root of a storage."""

    def __init__(self, store: Store, folder: Path) -> None:
        self.store = store
        self.folder = folder

    def here(self, path: str) -> Path:
        """Return where a path of the storage lies on this machine. Raises InputError for one outside the storage."""
        steps = path.strip("/").split("/")
        if ".." in steps:
            raise InputError(f'"{path}" lies outside of "{self.store.shown()}".', hint="Name a file in the storage.")
        return self.folder.joinpath(*steps)

    def told(self, text: str) -> str:
        """Return a text for the person with the storage's own addresses in it."""
        return text.replace(self.folder.as_posix() + "/", self.store.shown("").partition("://")[0] + "://")

    def bring_job(self, path: str) -> Path:
        """Bring a job and what it names; what is not there the run misses in its own words. Returns the job here."""
        data = self._bring(path)
        folder = posixpath.dirname(path)
        for name in _names(data or b""):
            found = self._bring(self.store.join(folder, name))
            if found:
                self._bring_companions(self.store.join(folder, name), found)
        part = _part_of(data or b"")
        if isinstance(part.get("previous"), str):
            self._bring_revisions(folder, self.store.join(folder, part["previous"]))
        if self._bring(self.store.join(folder, trials_name(str(part.get("number"))))):
            for name in self.store.names(folder):  # other revisions' jobs
                if name.endswith(".toml"):
                    self._bring(self.store.join(folder, name))
        return self.here(path)

    def _bring(self, path: str) -> bytes | None:
        target = self.here(path)
        try:
            data = self.store.read(path)
        except (FileNotFoundError, IsADirectoryError):
            return None
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
        return data

    def _bring_companions(self, path: str, data: bytes) -> None:
        """Bring the material files and pictures that a scan names; any other file names none."""
        folder = posixpath.dirname(path)

        def beside(name: str) -> bytes:
            found = self._bring(self.store.join(folder, name))
            if found is None:
                raise InputError(f'"{name}" is not there.')
            return found

        for name in companion_files(data, posixpath.basename(path), beside):
            self._bring(self.store.join(folder, name))

    def _bring_revisions(self, around: str, place: str) -> None:
        """Bring the revision before, and of those before it what tells of them."""
        for _ in range(_MOST_REVISIONS):
            earlier = ""
            for name in self.store.names(place):
                data = self._bring(self.store.join(place, name)) if name.endswith(_OF_REVISION) else None
                if data is not None and name.endswith(".run.json"):
                    earlier = _earlier(data)
            if not earlier:
                return
            beside = self.store.join(around, earlier)
            place = beside if self.store.names(beside) else self.store.join(posixpath.dirname(place), earlier)


def _names(data: bytes) -> Iterator[str]:
    try:
        for table, key in named_files(tomllib.loads(data.decode("utf-8-sig"))):
            yield str(table[key])
    except (ValueError, AttributeError, TypeError, RecursionError):  # the run tells what is wrong
        return


def _part_of(data: bytes) -> dict[str, Any]:
    try:
        part = tomllib.loads(data.decode("utf-8-sig")).get("part")
    except (ValueError, RecursionError):
        return {}
    return part if isinstance(part, dict) else {}


def _earlier(data: bytes) -> str:
    """Return the folder that a run document names as that of the revision before, "" for none."""
    try:
        found = json.loads(data)["part"]["previous"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return ""
    return found if isinstance(found, str) else ""


def put_part(store: Store, folder: str, out: Path, commit: str) -> None:
    """Put a part's files from a folder of this machine into one of a store, the run document last.

    Raises ExportError when the folder there holds another part, or files under our names that are not of a run; nothing
    was changed then.
    """
    new = {path.name: path.read_bytes() for path in sorted(out.iterdir()) if path.is_file()}
    there = store.names(folder)
    journal = store.join(folder, _JOURNAL)
    ours = set(_listed(store, folder, commit, there)) | set(_journaled(store, journal, there))
    foreign = sorted(set(new) & set(there) - ours)
    if foreign:
        raise ExportError(
            f'"{store.shown(folder)}" holds {counted(len(foreign), "file")} under names of this part that Padwright '
            f"did not write: {', '.join(foreign)}.",
            hint="Move them away or choose another folder.",
        )
    store.write(journal, json.dumps(sorted(ours | set(new))).encode())
    store.remove(store.join(folder, commit))
    for name in sorted(new, key=lambda name: name == commit):
        store.write(store.join(folder, name), new[name])
    for name in sorted(ours & set(there) - set(new)):
        store.remove(store.join(folder, name))
    store.remove(journal)


def bring_documents(store: Store, folder: str, target: Path) -> None:
    """Bring the run documents of a folder of parts, so that a run refuses the folder of another part."""
    for name in store.names(folder):
        if name.endswith(".run.json"):
            target.mkdir(parents=True, exist_ok=True)
            (target / name).write_bytes(store.read(store.join(folder, name)))


def _listed(store: Store, folder: str, commit: str, there: dict[str, int]) -> list[str]:
    if commit not in there:
        return []
    return [commit, *(listed_files(store.read(store.join(folder, commit))) or {})]


def _journaled(store: Store, journal: str, there: dict[str, int]) -> list[str]:
    if _JOURNAL not in there:
        return []
    found = json.loads(store.read(journal))
    return [str(each) for each in found] if isinstance(found, list) else []
