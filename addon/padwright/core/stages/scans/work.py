"""The stage: read, clean and scale both scans and lay the base on its datum."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ...base.errors import ScanError
from ...base.files import InputFile
from ...base.mesh import TriMesh
from ...base.progress import Progress, Steps, drain, nested
from ...base.rows import bounds_of
from ...base.together import at_the_side
from ...base.units import mm_per_unit
from ...job.card_sizes import check_like_size, check_plausible_size, fitting_units
from ...job.cards import Family, load_family
from ...job.read import blame_key
from ...job.schema import Base, Impression
from ..stage import Given
from .captured import CapturedScans, Scan
from .clean import CleanScan, clean_scan
from .datum import job_datum
from .formats.draft import Draft
from .point_readings import Seen
from .read import ReadScan, read_scan
from .scale import ScaleFit, choose_unit, fit_scale
from .scale_doubts import refuse_lone_factor, refuse_unsure
from .scale_points import check_ends
from .swapped import refuse_same_bytes, refuse_swapped_sizes
from .topology import finite_points
from .working_copy import CopyFacts, working_copy

_MOST_AT_ONCE = 3_200_000
"""Triangles of a scan up to which both are cleaned at once: two of 3 million take 1.5 GiB in all; our limit is 2."""


@dataclass(frozen=True, eq=False)
class _File:
    """A scan file as it was read, before any work."""

    read: ReadScan
    record: InputFile
    seen: Seen
    fitting: tuple[str, ...]  # the units in which it has a size that the family's base can have
    notes: tuple[str, ...]
    table: str  # of the job: "base" or "impression"


def capture(given: Given, _: None = None) -> Steps[CapturedScans]:
    """Read, clean and scale both scans and lay the base on its datum."""
    job = given.job
    family = load_family(job.part.family)
    yield Progress(0.0, "reading the base scan")
    base_file = _read(given, job.base, family, "base")
    impression_file = None
    if job.impression is not None and job.impression.scan is not None:
        yield Progress(0.05, "reading the impression scan")
        impression_file = _read(given, job.impression, family, "impression")
        refuse_swapped_sizes(base_file.seen, impression_file.seen, family)
    yield Progress(0.1, "looking at the job's points")
    given.look(base_file.seen, impression_file.seen if impression_file else None)
    impression = None
    with at_the_side(partial(_ahead, base_file, impression_file)) as ahead:
        base = yield from nested(_capture_base(job.base, family, base_file), 0.15, 0.5)
        if job.impression is not None and impression_file is not None:
            refuse_same_bytes(job.base, job.impression, base_file.record, impression_file.record)
            capturing = _capture_impression(job.impression, base, impression_file, ahead)
            impression = yield from nested(capturing, 0.5, 1.0)
    to_part = job_datum(job, base)
    if not np.array_equal(to_part, np.eye(4)):
        base = base.moved(to_part)
    return CapturedScans(family, base, impression, to_part)


def _capture_base(given: Base, family: Family, file: _File) -> Steps[Scan]:
    scan = yield from _capture(given, file, None)
    with blame_key("base", "unit"):
        sizes = check_plausible_size(scan.mesh.bounds, family, unit=scan.unit)
    return replace(scan, notes=(*scan.notes, *sizes))


@dataclass(frozen=True, eq=False)
class _Cleaned:
    """A scan file cleaned, in mm before its scale is corrected."""

    scan: CleanScan
    lighter: tuple[TriMesh, CopyFacts] | None  # what the work goes on with; None: with the scan itself


def _cleaned(file: _File) -> Steps[_Cleaned]:
    found = yield from nested(clean_scan(_in_mm(file), role=file.seen.name), 0.0, 0.7)
    yield Progress(0.7, f"looking at how dense the {file.seen.name} is")
    return _Cleaned(found, working_copy(found.mesh))


def _ahead(base: _File, impression: _File | None) -> _Cleaned | ScanError | None:
    """Return the impression cleaned while the base is; None where both at once would take much memory."""
    if impression is None or max(len(each.read.mesh.faces) for each in (base, impression)) > _MOST_AT_ONCE:
        return None
    try:
        return drain(_cleaned(impression))
    except ScanError as error:
        return error  # told in its turn: what is wrong with the base comes first


def _in_mm(file: _File) -> TriMesh:
    return file.read.mesh.scaled(mm_per_unit(file.seen.unit))


def _capture_impression(
    given: Impression, base: Scan, file: _File, ahead: Callable[[], _Cleaned | ScanError | None]
) -> Steps[Scan]:
    """Clean and scale the impression scan; its factor is its own, the base's, or the file's."""
    taken = None
    if not given.check_lengths:
        taken = 1.0 if given.scale == "as file" else base.factor
    scan = yield from _capture(given, file, taken, ahead)
    with blame_key("impression", "unit"):
        sizes = check_like_size(scan.mesh, base.mesh, scan.unit)
    return replace(scan, notes=(*scan.notes, *sizes))


def _read(given: Given, asked: Base | Impression, family: Family, table: str) -> _File:
    what = f"{table} scan"
    name = str(asked.scan)
    data, record = given.read(name, what, f"{table}_scan")
    with blame_key(table, "scan", of=ScanError):
        read = read_scan(data, name)
    points = read.mesh.vertices[finite_points(read.mesh.vertices)]
    fitting = fitting_units(bounds_of(points), family) if len(points) else ()
    with blame_key(table, "unit"):
        unit, notes = choose_unit(read.file_unit, asked.unit, what, fitting)
    return _File(read, record, Seen(what, read.mesh, unit), fitting, notes, table)


def _capture(
    given: Base | Impression,
    file: _File,
    taken_factor: float | None,
    ahead: Callable[[], _Cleaned | ScanError | None] = lambda: None,
) -> Steps[Scan]:
    read, record, unit, what, table = file.read, file.record, file.seen.unit, file.seen.name, file.table
    yield Progress(0.0, f"measuring the {what}")
    fit: ScaleFit | None = None
    factor = taken_factor
    if factor is None:  # before cleaning, whose sizes in mm mean nothing when the unit is wrong
        with blame_key(table, "check_lengths"):
            fit = fit_scale(
                given.check_lengths,
                mm_per_unit(unit),
                pick_error_mm=given.pick_error_mm,
                what=what,
                fitting=file.fitting,
            )
            refuse_unsure(fit, what)
        factor = fit.factor
    yield Progress(0.4, f"cleaning the {what}")
    done = ahead()
    if isinstance(done, ScanError):
        raise done
    done = done or (yield from nested(_cleaned(file), 0.4, 1.0))
    cleaned, lighter = done.scan, done.lighter
    length = float(np.ptp(cleaned.mesh.bounds, axis=0).max())
    ends = check_ends(
        given.check_lengths,
        _in_mm(file),
        mm_per_unit(unit),
        pick_error_mm=given.pick_error_mm,
        edge_mm=cleaned.before.edge_length,
        length_mm=length,
        table=table,
    )
    if fit:
        with blame_key(table, "check_lengths"):
            refuse_lone_factor(fit, what)
    notes = (*read.notes, *file.notes, *cleaned.notes, *ends, *(fit.notes if fit else ()))
    if fit and fit.standard_error is not None:
        notes += (fit.note_on(length * fit.factor, what),)
    record = replace(record, unit=unit, triangles=len(read.mesh.faces))
    mesh = cleaned.mesh
    if lighter is not None:
        mesh = lighter[0]
        notes += (lighter[1].note(what, len(cleaned.mesh.faces)),)
    mesh = mesh.scaled(factor)
    # New vertices of filled holes come from sums whose last bits hang on the number of threads.
    mesh = replace(mesh, vertices=np.round(mesh.vertices, 9))
    mended = cleaned.mended.scaled(factor)
    return Scan(
        mesh, unit, factor, fit, record, read.file_format, mended, cleaned.before, cleaned.after, notes,
        None if lighter is None else lighter[1], _kept(read.draft) if table == "impression" else None,
    )  # fmt: skip


def _kept(draft: Draft | None) -> Draft | None:
    """Return what is kept of a textured file for zones that ask for its colors; other colors are read in no time."""
    if draft is None or not draft.is_textured:
        return None
    counts, corners = (np.asarray(each, dtype=np.int32) for each in (draft.corner_counts, draft.corners))
    return replace(draft, corner_counts=counts, corners=corners)
