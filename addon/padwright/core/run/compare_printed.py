"""Compare a print with the part: its scan read and measured, what was found as files, and the next revision's keys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ..base.errors import InputError
from ..base.estimate import told
from ..base.plain import plain
from ..base.progress import Steps
from ..base.units import mm_per_unit
from ..job.edit_text import with_keys
from ..job.schema import Job
from ..job.toml_lines import Path as KeyPath
from ..job.toml_lines import show_path
from ..job.toml_values import toml_value
from ..stages.compare.compare import AskedPart, PrintScan, compare, fitting_units, refuse_no_mass, unit_hint
from ..stages.compare.records import Comparison
from ..stages.compare.scale import PrintLength, ScanLength
from ..stages.scans.read import ReadScan, read_scan
from ..stages.trials.proposing import next_name
from .compare_page import compare_page, compare_png
from .compare_words import result_rows
from .history import from_folder, revisions_beside
from .printed_before import compare_name


@dataclass(frozen=True)
class PrintReadings:
    """What a person says of the scan of a print, and what they measured by hand."""

    unit: str | None = None  # of the scan; None: what its file states
    weight_g: float | None = None
    # Lengths on the scan: both ends in the file's own numbers, measured mm, limits mm
    on_scan: Sequence[tuple[Sequence[float], Sequence[float], float, float]] = ()
    on_print: Sequence[PrintLength] = ()  # whole extents of the print along the bed's axes
    pose: int | None = None


def compare_printed(
    asked: AskedPart, data: bytes, name: str, readings: PrintReadings, *, seed: int = 0
) -> Steps[Comparison]:
    """Return the comparison of a print with the part it was to be, from the bytes of its scan's file.

    Raises PadwrightError when the scan cannot be read or does not show the part, or a reading is wrong.
    """
    refuse_no_mass(asked, readings.weight_g)
    read = read_scan(data, name)
    unit = _unit(read, readings.unit, asked)
    mm = mm_per_unit(unit)
    scan = PrintScan(
        name=name,
        mesh=read.mesh.scaled(mm),
        unit=unit,
        lengths=[_on_scan(read, mm, *each) for each in readings.on_scan],
        extents=readings.on_print,
        weight_g=readings.weight_g,
    )
    return (yield from compare(asked, scan, seed=seed, pose=readings.pose))


def _unit(read: ReadScan, said: str | None, asked: AskedPart) -> str:
    """Return the unit of the scan: what was said, else what the file states; never guessed, but what fits is named."""
    if said is not None:
        return said
    if read.file_unit is not None:
        return read.file_unit
    points = read.mesh.finite.vertices
    across = float(np.linalg.norm(np.ptp(points, axis=0)))
    asked_mm = float(np.linalg.norm(np.ptp(np.concatenate([mesh.vertices for _, mesh in asked.bodies]), axis=0)))
    raise InputError(
        "The unit of the scan of the print is not stated by its file.", hint=unit_hint(fitting_units(across, asked_mm))
    )


def _on_scan(
    read: ReadScan, mm: float, start: Sequence[float], end: Sequence[float], measured: float, plus_minus: float
) -> ScanLength:
    ends = np.array([start, end], dtype=np.float64)
    low, high = read.mesh.finite.bounds
    room = 0.5 * float((high - low).max())
    if (ends < low - room).any() or (ends > high + room).any():
        raise InputError(
            "A point of the length on the scan lies far off the scan, whose numbers run from "
            f"({', '.join(f'{each:.4g}' for each in low)}) to ({', '.join(f'{each:.4g}' for each in high)}).",
            hint="Give both ends in the scan file's own numbers.",
        )
    found = float(np.linalg.norm(ends[1] - ends[0])) * mm
    if not found > 0.0:
        raise InputError("The length on the scan has no extent: both of its ends are one point.")
    if not 0.6 < measured / found < 1.6:
        raise InputError(
            f"The length on the scan is {found:.4g} mm there and {measured:g} mm by hand.",
            hint="Check the scan's unit, and that both ends are those that were measured.",
        )
    return ScanLength(measured, found, plus_minus)


def compare_files(found: Comparison, part_name: str) -> tuple[dict[str, bytes], dict[str, Any]]:
    """Return the page and the picture of a comparison by name, and its evidence; paths in them are names alone."""
    files = {
        compare_name(found.number, "html"): compare_page(found, part_name),
        compare_name(found.number, "png"): compare_png(found),
    }
    return files, compare_evidence(found)


def compare_evidence(found: Comparison) -> dict[str, Any]:
    """Return what a comparison found as plain data; lengths are mm in the part frame."""
    told_of: Mapping[str, Any] = {
        "part": {"number": found.number, "revision": found.revision, "shape_sha256": found.shape_sha256 or None},
        "scan": found.scan_file,
        "scan_to_part": found.scan_to_part,
        "scan_scale": found.scale,
        "distance_mm": found.percentiles_mm,
        "left_mm": found.left_mm,
        "noise_mm": found.noise_mm,
        "seen_share": found.seen_share,
        "share_within_mm": {f"{limit:g}": share for limit, share in found.share_seen_within.items()},
        "shrinkage": found.shrinkage,
        "bend": found.bend,
        "worst": found.worst,
        "weighing": found.weighing,
        "told": result_rows(found),  # for the report of the next revision
        "corrections": [
            {"key": show_path(each.path), "value": each.value, "old": each.old, "why": each.why}
            for each in found.corrections
        ],
        "doubts": list(found.doubts),
        "notes": list(found.notes),
        # One a vertex of the part's outside, null where the scan does not show it; vertices as in no other file.
        "vertices_mm": np.round(found.part.vertices, 3),
        "distances_mm": np.round(found.part_distance_mm, 3),
    }
    result = plain(told_of, told)
    assert isinstance(result, dict)
    return result


def corrected_text(
    text: str, job: Job, found: Comparison, printed: Path, here: Path, folder: Path, from_file: str
) -> str:
    """Return the job file of the next revision, corrected: the text of this one's with keys set, all else as it stands.

    Parameters
    ----------
    text, from_file : str
        This revision's file, and its name.
    printed, here, folder : path
        Where the files of this revision, this job and the new job lie.

    Raises InputError when nothing is to be corrected, or a key cannot be set in the text.
    """
    if not found.corrections:
        raise InputError("Nothing is to be corrected by what was measured, so no job was written.")
    keys: dict[KeyPath, Any] = {each.path: each.value for each in found.corrections}
    keys["part", "revision"] = next_name(job.part.revision, revisions_beside(job, here))
    keys["part", "previous"] = from_folder(printed, folder)
    made = with_keys(text, keys)
    what = "; ".join(correction_lines(found))
    head = f"# Revision {keys['part', 'revision']}, from {from_file} as its print was measured: {what}.\n"
    first, _, rest = made.partition("\n")
    return f"{first}\n{head}{rest}" if first.startswith("#:schema") else head + made


def correction_lines(found: Comparison) -> list[str]:
    """Return what to correct as lines of a job: "printer.flow_pct = 105.0"."""
    return [f"{show_path(each.path)} = {toml_value(each.value)}" for each in found.corrections]
