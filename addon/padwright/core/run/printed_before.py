"""How the print of the revision before came out, as `compare` left it beside that revision's files."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..base.files import MOST_SCAN_BYTES, read_named
from ..stages.packing.bundle import listed_files
from ..stages.packing.ids import commit_name


@dataclass(frozen=True)
class PrintedBefore:
    """What a comparison found of a print, as a report of the next one tells it."""

    told: tuple[tuple[str, str], ...] = ()  # what was looked at, and what was found
    corrections: tuple[tuple[str, Any], ...] = ()  # keys of the job, and what they were to become, TOML form
    note: str = ""  # why it is not told; "" where it is


def compare_name(number: str, end: str) -> str:
    """Return the name of a comparison's file."""
    return f"{number}.compare.{end}"


def compare_folder(out: Path) -> Path:
    """Return where the comparison of a print goes; `out` has the files of its run."""
    return out.parent / f"{out.name}.compare"


def shape_hash(out: Path, number: str) -> str:
    """Return a hash of the STL files in the folder of a run, by the run document; "" without a run or an STL.

    Raises InputError when the run document cannot be read.
    """
    path = out / commit_name(number, is_selection=False)
    if not path.is_file():
        return ""
    listed = listed_files(read_named(path, "The run document", most_bytes=MOST_SCAN_BYTES)) or {}
    shapes = sorted((name, digest) for name, digest in listed.items() if name.lower().endswith(".stl"))
    return hashlib.sha256(json.dumps(shapes).encode()).hexdigest() if shapes else ""


def read_printed(out: Path, number: str, revision: str) -> PrintedBefore | None:
    """Return how a revision was printed, None where no comparison of it is beside the folder of its files.

    Raises InputError when the file is there and cannot be read.
    """
    path = compare_folder(out) / compare_name(number, "json")
    if not path.is_file():
        return None
    data = read_named(path, "The comparison", most_bytes=MOST_SCAN_BYTES)
    found = None if listed_files(data) is None else json.loads(data)
    if found is None or "told" not in found:
        why = "an earlier Padwright made it" if found else "the file was changed"
        return PrintedBefore(note=f'How its print came out, in "{path.name}", is not told: {why}. Compare it again.')
    if found["part"]["revision"] != revision:
        return None
    of_files, now = found["part"].get("shape_sha256"), shape_hash(out, number)
    if of_files and now and of_files != now:
        return PrintedBefore(
            note=f'How the print of revision {revision} came out, in "{path.name}", is not told: its files were made '
            "anew since, and the part has another shape. Compare again, with a print of these files."
        )
    return PrintedBefore(
        tuple((what, how) for what, how in found["told"]),
        tuple((each["key"], each["value"]) for each in found["corrections"]),
    )
