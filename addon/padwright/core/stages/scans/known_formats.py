"""The formats that are read: found in the folder `formats`, so that a format is a file there."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pkgutil import iter_modules

from . import formats
from .formats.scan_format import ScanFormat


@cache
def known_formats() -> dict[str, ScanFormat]:
    """Return name -> format, by rank and name."""
    files = [import_module(f"{formats.__name__}.{each.name}") for each in iter_modules(formats.__path__)]
    found = [each for file in files for each in getattr(file, "FORMATS", ())]
    return {each.name: each for each in sorted(found, key=lambda each: (each.rank, each.name))}


def endings() -> list[str]:
    """Return the endings of the files that are read, in order, each once."""
    return sorted({each.ending for each in known_formats().values()})


def endings_in_words(last: str) -> str:
    """Return "GLB, OBJ and STL", with the word before the last one given."""
    *others, end = (each.upper() for each in endings())
    return f"{', '.join(others)} {last} {end}"
