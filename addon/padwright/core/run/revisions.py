"""The revision before: read from its folder as its run left it, and where the files of the next one go."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from ..base.cached import cached_property
from ..base.errors import InputError
from ..base.files import MOST_SCAN_BYTES, MOST_TABLE_BYTES, read_named
from ..base.mesh import Float, TriMesh, joined
from ..job.read import blame_key
from ..job.schema import Job
from ..stages.packing.bundle import listed_files
from ..stages.packing.ids import commit_name
from ..stages.packing.read_threemf import read_bodies
from ..stages.packing.sidecar import threemf_name
from .history import printed_folder
from .printed_before import PrintedBefore, read_printed


@dataclass(frozen=True, eq=False)
class Revision:
    """One revision of a part, as its files tell it."""

    run: Mapping[str, Any]  # the run document
    settings: Mapping[str, Any]  # the settings document
    threemf: bytes
    folder: str  # as the next one's job names it; "" for the one in work
    printed: PrintedBefore | None = None  # how it came out, where its print was compared with it

    @property
    def name(self) -> str:
        """The person's word for it."""
        return str(self.run["part"]["revision"])

    @property
    def history(self) -> tuple[Mapping[str, Any], ...]:
        """What is kept of the revisions before it, oldest first."""
        return tuple(self.run.get("history", ()))

    @property
    def to_part(self) -> Float:
        """The 4x4 from the base scan's frame to the part frame."""
        return np.array(self.run["part"]["base_to_part"], dtype=np.float64)

    @cached_property
    def mesh(self) -> TriMesh:
        """All bodies as one mesh, in the part frame, mm; of a part for the other side as it was before mirroring."""
        whole = joined(list(read_bodies(self.threemf, threemf_name(self.run["part"]["number"])).values()))
        mirror = self.settings["part"].get("mirrored")
        if mirror is None:
            return whole
        normal, point = np.array(mirror["plane_normal"]), np.array(mirror["plane_point_mm"])
        points = whole.vertices
        return TriMesh(points - 2.0 * np.outer((points - point) @ normal, normal), whole.faces[:, ::-1])


def previous_folder(job: Job, folder: Path) -> Path | None:
    """Return the folder of the revision before, None where the job names none; it is named from `folder`."""
    return None if job.part.previous is None else folder / job.part.previous


def refuse_previous(job: Job, folder: Path, out: Path) -> None:
    """Refuse to write into the folder of the revision before: it is what the next one is compared with.

    Raises InputError.
    """
    before = previous_folder(job, folder)
    if before is not None and os.path.realpath(before) == os.path.realpath(out):
        with blame_key("part", "previous"):
            raise InputError(
                f'"{out}" holds the revision before; revision {job.part.revision} would take its place.',
                hint=f"Write elsewhere, e.g. --out {printed_folder(job, folder)}",
            )


def read_previous(job: Job, folder: Path) -> Revision | None:
    """Return the revision before, None where the job names none.

    Raises InputError when the folder is not there, holds no whole run, or one of another part or of this revision, and
    when there is a comparison of its print that cannot be read.
    """
    before = previous_folder(job, folder)
    if before is None:
        return None
    with blame_key("part", "previous"):
        found = read_revision(before, job.part.number, str(job.part.previous))
        found = replace(found, printed=read_printed(before, job.part.number, found.name))
    if found.name == job.part.revision:
        with blame_key("part", "revision"):
            raise InputError(
                f'Revision "{found.name}" is that of the folder "{job.part.previous}" too.',
                hint="Give this one another name, so that prints and trials can be told apart.",
            )
    return found


def read_revision(folder: Path, number: str, name: str) -> Revision:
    """Return a revision of a part from the folder of its files; `name` is what the person calls that folder.

    Raises InputError when the folder is not there, or holds no whole run of this part.
    """
    hint = "Name the folder that holds the files of its run."
    if folder.is_file():
        raise InputError(f'"{name}" is a file; the revision before is named by its folder.', hint=hint)
    if not folder.is_dir():
        raise InputError(f'The folder "{name}" of the revision before is not there (looked for {folder}).', hint=hint)
    commit = folder / commit_name(number, is_selection=False)
    if not commit.is_file():
        others = sorted(path.name.removesuffix(".run.json") for path in folder.glob("*.run.json"))
        held = f"holds part {', '.join(others)}, not {number}" if others else "holds no run"
        raise InputError(f'The folder "{name}" {held}.', hint=hint)
    data = read_named(commit, "The run document", most_bytes=MOST_TABLE_BYTES)
    listed = listed_files(data)
    if listed is None:
        raise InputError(f'"{commit.name}" in "{name}" was changed, or is no run of Padwright.', hint="Run it again.")
    run = json.loads(data)
    part = run.get("part")
    if not isinstance(part, dict) or not {"number", "revision", "base_to_part"} <= set(part) or "print" not in run:
        raise InputError(f'"{commit.name}" in "{name}" does not say what was made.', hint="Run it again.")
    files = {}
    for each in (f"{number}.settings.json", threemf_name(number)):
        files[each] = read_named(
            folder / each, f'In "{name}" the file', most_bytes=MOST_SCAN_BYTES, hint="Run it again."
        )
        if hashlib.sha256(files[each]).hexdigest() != listed.get(each):
            raise InputError(f'"{each}" in "{name}" was changed since its run.', hint="Run it again.")
    return Revision(run, json.loads(files[f"{number}.settings.json"]), files[threemf_name(number)], name)
