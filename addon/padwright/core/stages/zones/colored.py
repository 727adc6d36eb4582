"""The scan's colors in front of the pad, and the zones that a job takes from them."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path, PurePosixPath

from ...base.errors import InputError
from ...base.files import MOST_SCAN_BYTES, InputFile, read_named
from ...geometry.frames import moved
from ...geometry.through import body_side
from ...job.schema import Job, Zone
from ..alignment.placed_scans import PlacedScans
from ..pad.work import ShapedPad
from ..scans.painted_read import any_case, companion_files, folder_beside, read_painted, refuse_colorless
from ..scans.surface_colors import SurfaceColors
from ..stage import Given
from .marks import FoundMarks, MarkedScan, MarkWish
from .pressed_foil import FoilWish, foil_on_scan

OF_COLORS = ("color_marks", "pressed_foil")
"""Sources of zones that ask for the colors of the impression scan."""


def marked_scan(given: Given) -> tuple[MarkedScan, list[InputFile]]:
    """Return the impression scan with its colors in the part frame, and the records of the files beside it.

    As the file has it: cleaning knows nothing of pictures. Points and faces are those that were parsed for cleaning,
    unless the file is another by now.

    Raises InputError when there is no impression; ScanError when it has no colors, or their files cannot be read.
    """
    placed, impression = given.of(PlacedScans), given.job.impression
    name = None if impression is None else impression.scan
    if name is None or placed.impression is None or placed.alignment is None:
        raise InputError(
            "A zone asks for colors of the impression scan, but the job has none.",
            hint="Scan the clay with its marks, or give the zone an outline.",
        )
    data, record = given.read(name, "impression scan", "impression_scan")
    beside = folder_beside(given.folder, name)
    records: list[InputFile] = []

    def read(its: str) -> bytes:
        found = beside(its)
        at = str(PurePosixPath(name).parent / its)
        records.append(InputFile("other", at, hashlib.sha256(found).hexdigest(), len(found)))
        return found

    draft = placed.impression.draft if placed.impression.record.sha256 == record.sha256 else None
    painted = read_painted(data, name, read, draft)
    refuse_colorless(painted, name)
    points = moved(placed.alignment.matrix, painted.points * placed.impression.mm_per_number)
    body = body_side(given.of(ShapedPad).pad)
    return MarkedScan(SurfaceColors(points, painted), body, float(body.mesh.edge_lengths.mean())), records


def files_beside(job: Job, folder: Path) -> list[Path]:
    """Return the files that the colors of a job's impression scan come from, where a zone asks for them."""
    scan = None if job.impression is None else job.impression.scan
    if scan is None or all(zone.source not in OF_COLORS for zone in job.zones):
        return []
    try:
        data = read_named(folder / scan, "The scan", most_bytes=MOST_SCAN_BYTES)
    except InputError:
        return []  # reading it says so
    named = companion_files(data, scan, folder_beside(folder, scan))
    return [any_case((folder / scan).parent / name) for name in named]


def colored_source(scan: MarkedScan, zone: Zone, zones: Sequence[Zone]) -> FoundMarks:
    """Return what a zone takes from the scan's colors; marks of the job's other zones are not its own.

    Raises InputError as `MarkedScan.marks` and `foil_on_scan`.
    """
    notes = scan.surface.painted.notes
    if zone.source == "pressed_foil":
        found = foil_on_scan(scan, FoilWish(zone.from_dark_pct, zone.to_dark_pct, zone.light, zone.dark))
        return FoundMarks(found.values, found.told, (*notes, *found.notes))
    assert zone.color is not None and zone.color_tolerance is not None and zone.filled is not None
    assert zone.gap_mm is not None and zone.least_cm2 is not None
    wish = MarkWish(
        zone.color,
        zone.color_tolerance,
        zone.gap_mm,
        zone.filled,
        zone.least_cm2,
    )
    others = {each.color for each in zones if each.color is not None and each.color != zone.color}
    found = scan.marks(wish, sorted(others))
    return FoundMarks(found.values, found.told, (*notes, *found.notes))
