"""The part as it was asked for, to hold its print against: from the files of its run, or from a run."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from ..base.errors import InputError
from ..base.estimate import Estimate
from ..base.files import MOST_SCAN_BYTES, MOST_TABLE_BYTES, read_named
from ..base.mesh import TriMesh
from ..geometry.frames import inverse_rigid
from ..job.schema import Job
from ..stages.compare.compare import AskedPart
from ..stages.packing.ids import commit_name
from ..stages.scans.read import read_scan
from .laid_out import laid_out
from .parts import MadePart
from .printed_before import shape_hash


def asked_from_part(part: MadePart) -> AskedPart:
    """Return a part that went through all stages as it is asked for."""
    part, laid = laid_out(part)
    job = part.job
    assert part.pad is not None and part.regions is not None
    return AskedPart(
        number=job.part.number,
        name=job.part.name,
        revision=job.part.revision,
        bodies=[(body.name, body.mesh) for body in laid.bodies],
        is_overlapping=part.regions.is_overlapping,
        to_bed=laid.to_bed,
        press_direction=None if laid.mirror is not None else part.pad.press_direction,
        mass_g=laid.plan.mass_g,
        shrinkage_pct=job.printer.shrinkage_pct,
        flow_pct=job.printer.flow_pct,
    )


def asked_from_files(job: Job, folder: Path) -> AskedPart | None:
    """Return a part as the files of its run in a folder have it; None where there is no run with an STL of each region.

    Raises InputError when a file cannot be read, or is not that of the run.
    """
    number = job.part.number
    if not (folder / commit_name(number, is_selection=False)).is_file():
        return None
    document = _document(folder / f"{number}.settings.json")
    try:
        return _asked(document, job, folder)
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(
            f'"{folder / f"{number}.settings.json"}" was changed, or is none of a run ({error}).',
            hint="Run the job again, then compare.",
        ) from None


def _document(path: Path) -> dict[str, Any]:
    data = read_named(path, "The settings document", most_bytes=MOST_TABLE_BYTES, hint="Run the job again.")
    try:
        document = json.loads(data)
    except (ValueError, RecursionError):
        document = None
    if not isinstance(document, dict):
        raise InputError(f'"{path}" is damaged.', hint="Run the job again, then compare.")
    return document


def _asked(document: Mapping[str, Any], job: Job, folder: Path) -> AskedPart | None:
    part, frame = document["part"], document["coordinate_frame"]
    if part["revision"] != job.part.revision:
        raise InputError(
            f'"{folder}" holds revision {part["revision"]}; the job is revision {job.part.revision}.',
            hint="Name the folder of the revision that was printed (--out), or its own job file.",
        )
    scale = np.array(frame.get("bed_scale", [1.0, 1.0, 1.0]), dtype=np.float64)
    listed = {each["region_id"]: each for each in document["files"] if each.get("holds") == "one_region"}
    bodies = []
    for region in document["regions"]:
        stl = listed.get(region["id"])
        if stl is None:
            return None
        data = read_named(folder / stl["file"], "The STL", most_bytes=MOST_SCAN_BYTES, hint="Run the job again.")
        mesh = read_scan(data, stl["file"]).mesh
        back = inverse_rigid(np.array(stl["part_to_mesh"], dtype=np.float64).reshape(4, 4))
        bodies.append((str(region["name"]), TriMesh(mesh.vertices / scale, mesh.faces).transformed(back)))
    mass = document.get("predicted", {}).get("mass_g")
    press = frame["press_direction"]
    shrinkage = 100.0 * (1.0 - 1.0 / scale)
    return AskedPart(
        number=part["part_number"],
        name=part["name"],
        revision=part["revision"],
        bodies=bodies,
        is_overlapping=any(each.get("joint") == "overlap" for each in document.get("contacts", ())),
        to_bed=np.array(frame["to_bed"], dtype=np.float64).reshape(4, 4),
        press_direction=None if press is None else np.array(press, dtype=np.float64),
        mass_g=None if mass is None else Estimate(mass["value"], mass["low"], mass["high"], mass["basis"]),
        shrinkage_pct=tuple(round(float(each), 4) for each in shrinkage) if (scale != 1.0).any() else None,
        flow_pct=float(document.get("print", {}).get("flow_pct", job.printer.flow_pct)),
        shape_sha256=shape_hash(folder, part["part_number"]),
    )
