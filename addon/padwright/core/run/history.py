"""The revisions of a part that were printed: each run's folder names the one before, back to the first."""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..base.errors import InputError
from ..base.files import MOST_TABLE_BYTES, read_named
from ..base.slugs import slug
from ..job.schema import Job
from ..stages.packing.ids import commit_name
from ..stages.trials.learning import WornPrint

_MOST_REVISIONS = 1000


def printed_folder(job: Job, folder: Path) -> Path:
    """Return where the files of a job's revision lie unless the person says otherwise; `folder` is the job's."""
    return folder / printed_name(job.part.previous, job.part.revision)


def printed_name(previous: str | None, revision: str) -> str:
    """Return the name of that folder, by the folder of the revision before and the person's word for this one."""
    if previous is None:
        return "out"
    # An id begins with a letter, which most names of revisions do not; one without any letter or number gets digits.
    name = slug(f"r {revision}")[2:] or slug(revision).removeprefix("zone-")
    return f"out-{name}"


def run_record(folder: Path, number: str) -> dict[str, Any] | None:
    """Return what a run of a part left in a folder as evidence; None where there is none.

    Raises InputError when the file is there and cannot be read.
    """
    path = folder / commit_name(number, is_selection=False)
    if not path.is_file():
        return None
    try:
        record = json.loads(read_named(path, "The run document", most_bytes=MOST_TABLE_BYTES))
    except (ValueError, RecursionError):
        record = None
    if not isinstance(record, dict) or not isinstance(record.get("part"), dict):
        raise InputError(f'"{path}" is no run document, or it is damaged.', hint="Run that revision again.")
    return record


def worn_print(record: Mapping[str, Any], where: str) -> WornPrint:
    """Return a revision as its wearer had it, from the evidence of its run.

    Raises InputError when the evidence does not say how stiff the zones were.
    """
    try:
        load = record.get("load") or {"zones": []}
        return WornPrint(
            str(record["part"]["revision"]),
            {str(each["name"]): float(each["reached_kPa"]) for each in record["settings"]["zones"]},
            {str(each["name"]): float(each["mean_pressure_kPa"]["value"]) for each in load["zones"]},
            margin={str(each["name"]): float(each["bottoming_margin"]["value"]) for each in load["zones"]},
            asked_kpa={
                str(each["name"]): float(each["target_kPa"])
                for each in record["settings"]["zones"]
                if "target_kPa" in each
            },
        )
    except (KeyError, TypeError, ValueError, AttributeError):
        raise InputError(
            f"The run document in {where} does not say how stiff its zones were.", hint="Run that revision again."
        ) from None


def earlier_prints(job: Job, folder: Path) -> tuple[WornPrint, ...]:
    """Return the revisions before that of a job, oldest first, from the folders that name each other.

    Raises InputError when `part.previous` names a folder without a run of this part, or folders name each other in a
    circle.
    """
    found: list[WornPrint] = []
    seen: set[Path] = set()
    name, around = job.part.previous, folder
    while name is not None and len(found) < _MOST_REVISIONS:
        place = (around / name).resolve()
        record = run_record(place, job.part.number)
        if record is None:
            if found:  # the folder of an early revision is gone: what is known of the later ones stays
                break
            error = InputError(
                f'"{place}" holds no run of part {job.part.number}.',
                hint="Make the revision before this one first (run its job), or name the folder with its files.",
            )
            error.key = ("part", "previous")
            raise error
        if place in seen:
            raise InputError(f'"{place}" comes before itself: the revisions name each other in a circle.')
        seen.add(place)
        found.append(worn_print(record, str(place)))
        earlier = record["part"].get("previous")
        name = earlier if isinstance(earlier, str) else None
        around = folder if name is None or (folder / name).is_dir() else place.parent
    return tuple(reversed(found))


def revisions_beside(job: Job, folder: Path) -> tuple[str, ...]:
    """Return the revisions of a part that other job files beside have: later ones, or another try."""
    found = []
    for path in sorted(folder.glob("*.toml")):
        try:
            part = tomllib.loads(read_named(path, "A job file", most_bytes=MOST_TABLE_BYTES).decode("utf-8-sig"))[
                "part"
            ]
            if part["number"] == job.part.number:
                found.append(str(part.get("revision", "1")))
        except (InputError, ValueError, KeyError, TypeError, RecursionError):  # no job, or another part's
            continue
    return tuple(dict.fromkeys(found))


def from_folder(path: Path, folder: Path) -> str:
    """Return the name of a path as a job in a folder has it: relative, with /."""
    return Path(os.path.relpath(path, folder)).as_posix()
