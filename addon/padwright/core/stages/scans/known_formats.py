"""The formats that are read: found in the folder `formats`, so that a format is a file there."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pathlib import PurePath
from pkgutil import iter_modules
from types import ModuleType

from ...job.mixed_up_files import ScanKinds
from . import formats
from .formats.painted import PaintFormat
from .formats.scan_format import ScanFormat


@cache
def known_formats() -> dict[str, ScanFormat]:
    """Return name -> format, by rank and name."""
    found = [each for file in _files() for each in getattr(file, "FORMATS", ())]
    return {each.name: each for each in sorted(found, key=lambda each: (each.rank, each.name))}


@cache
def known_paints() -> dict[str, PaintFormat]:
    """Return ending -> how scans of that format are colored, where that is more than colors of vertices."""
    return {each.ending: each for file in _files() for each in getattr(file, "PAINTS", ())}


def _files() -> list[ModuleType]:
    return [import_module(f"{formats.__name__}.{each.name}") for each in iter_modules(formats.__path__)]


def endings() -> list[str]:
    """Return the endings of the files that are read, in order, each once."""
    return sorted({each.ending for each in known_formats().values()})


def scan_kinds() -> ScanKinds:
    """Return which files are scans, as the reading of a job asks."""
    return ScanKinds(endings_in_words("or"), _kind_of)


def _kind_of(start: bytes, name: str) -> str:
    found = (each.ending for each in known_formats().values() if each.start and start.startswith(each.start))
    ending = PurePath(name).suffix.lower().removeprefix(".")
    return next(found, ending if ending in endings() else "").upper()


def endings_in_words(last: str) -> str:
    """Return "GLB, OBJ and STL", with the word before the last one given."""
    *others, end = (each.upper() for each in endings())
    return f"{', '.join(others)} {last} {end}"
