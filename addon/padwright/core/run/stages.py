"""What each stage does: it takes the part so far and returns it with its own result added."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from ..base.errors import InputError, ScanError, SolveError
from ..base.mesh import Float, TriMesh
from ..base.progress import Progress, Steps, nested
from ..base.units import mm_per_unit
from ..geometry.subdivide import subdivided
from ..job.card_sizes import check_like_size, check_plausible_size, fitting_units
from ..job.cards import Family, load_family, material_of
from ..job.read import blame_key
from ..job.schema import Base, Impression, Job
from ..stages.alignment.align import Alignment, align_scans
from ..stages.alignment.candidates import UnsurePoseError
from ..stages.alignment.pairs import align_by_pairs
from ..stages.packing.sidecar_parts import InputFile
from ..stages.pad.pad import Pad, build_pad
from ..stages.pad.pad_grid import averaging_width_of
from ..stages.pad.pad_settings import BaseOnly
from ..stages.reading.impression import read_impression
from ..stages.reading.impression_reading import ImpressionReading
from ..stages.reading.seat_on_base import average_left_right, smooth_body_side
from ..stages.regions.regions import RegionCut, cut_regions
from ..stages.scans.clean import clean_scan
from ..stages.scans.point_readings import Seen
from ..stages.scans.read import ReadScan, read_scan
from ..stages.scans.scale import ScaleFit, choose_unit, fit_scale
from ..stages.scans.scale_checks import refuse_lone_factor, refuse_unsure
from ..stages.scans.scale_points import check_ends
from ..stages.scans.scale_ratio import MOST_APART, size_note, size_ratio
from ..stages.zones.zones import ZonePlan, plan_zones
from .inputs import (
    blends_of,
    body_points,
    centre_marks,
    job_datum,
    pad_settings,
    read_file,
    refuse_far_points,
    zone_requests,
)
from .load import check, choose, tune_zones
from .parts import Part, Scan
from .points import refuse_swapped_sizes


@dataclass(frozen=True, eq=False)
class _File:
    """A scan file as it was read, before any work.

    Attributes
    ----------
    read : ReadScan
    record : InputFile
    seen : Seen
    fitting : tuple of str
        The units in which it has a size that the family's base can have.
    notes : tuple of str
    """

    read: ReadScan
    record: InputFile
    seen: Seen
    fitting: tuple[str, ...]
    notes: tuple[str, ...]


def capture(job: Job, folder: Path, check: Callable[[Seen, Seen | None], None] | None = None) -> Steps[Part]:
    """Read, clean and scale both scans and lay the base on its datum (stages 1 and 2).

    Parameters
    ----------
    job : Job
    folder : Path
    check : callable (base, impression or None), optional
        Looks at the scans as they were read and raises where the work would be for nothing.
    """
    family = load_family(job.part.family)
    yield Progress(0.0, "reading the base scan")
    base_file = _read(job.base, family, folder, "base scan")
    impression_file = None
    if job.impression is not None:
        yield Progress(0.05, "reading the impression scan")
        impression_file = _read(job.impression, family, folder, "impression scan")
        refuse_swapped_sizes(base_file.seen, impression_file.seen, family)
    if check is not None:
        yield Progress(0.1, "looking at the job's points")
        check(base_file.seen, impression_file.seen if impression_file else None)
    base = yield from nested(capture_base(job, family, folder, base_file), 0.15, 0.5)
    impression = None
    if job.impression is not None:
        impression = yield from nested(capture_impression(job, base, folder, impression_file), 0.5, 1.0)
    base, to_part = lay_on_datum(job, base)
    return Part(job=job, family=family, base=base, impression=impression, to_part=to_part)


def capture_base(job: Job, family: Family, folder: Path, file: _File | None = None) -> Steps[Scan]:
    """Read, unless it was, clean and scale the base scan (stages 1 and 2)."""
    scan = yield from _capture(job.base, file or _read(job.base, family, folder, "base scan"), None)
    with blame_key("base", "unit"):
        sizes = check_plausible_size(scan.mesh.bounds, family, unit=scan.unit)
    return replace(scan, notes=(*scan.notes, *sizes))


def capture_impression(job: Job, base: Scan, folder: Path, file: _File | None = None) -> Steps[Scan]:
    """Read, unless it was, clean and scale the impression scan; its factor is its own, the base's, or the file's."""
    assert job.impression is not None
    given = job.impression
    taken = None
    if not given.check_lengths:
        taken = 1.0 if given.scale == "as file" else base.factor
    file = file or _read(given, load_family(job.part.family), folder, "impression scan")
    scan = yield from _capture(given, file, taken)
    with blame_key("impression", "unit"):
        sizes = check_like_size(scan.mesh, base.mesh, scan.unit)
    return replace(scan, notes=(*scan.notes, *sizes))


def _read(given: Base | Impression, family: Family, folder: Path, what: str) -> _File:
    data, record = read_file(folder, given.scan, what)
    read = read_scan(data, given.scan)
    points = read.mesh.vertices[np.isfinite(read.mesh.vertices).all(axis=1)]
    fitting = fitting_units(np.stack([points.min(axis=0), points.max(axis=0)]), family) if len(points) else ()
    with blame_key("base" if isinstance(given, Base) else "impression", "unit"):
        unit, notes = choose_unit(read.file_unit, given.unit, what, fitting)
    return _File(read, record, Seen(what, read.mesh, unit), fitting, notes)


def _capture(given: Base | Impression, file: _File, taken_factor: float | None) -> Steps[Scan]:
    read, record, unit, what = file.read, file.record, file.seen.unit, file.seen.name
    yield Progress(0.0, f"measuring the {what}")
    table = "base" if isinstance(given, Base) else "impression"
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
    cleaned = yield from nested(clean_scan(read.mesh.scaled(mm_per_unit(unit)), role=what), 0.4, 1.0)
    length = float(np.ptp(cleaned.mesh.bounds, axis=0).max())
    ends = check_ends(
        given.check_lengths,
        read.mesh.scaled(mm_per_unit(unit)),
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
    mesh = cleaned.mesh.scaled(factor)
    # New vertices of filled holes come from sums whose last bits hang on the number of threads.
    mesh = replace(mesh, vertices=np.round(mesh.vertices, 9))
    return Scan(mesh, unit, factor, fit, record, read, cleaned.before, cleaned.after, notes)


def lay_on_datum(job: Job, base: Scan) -> tuple[Scan, Float]:
    """Move the base into the part frame; without a datum that is the scan's own frame in mm."""
    to_part = job_datum(job, base)
    return (base, to_part) if np.array_equal(to_part, np.eye(4)) else (base.moved(to_part), to_part)


def align(part: Part) -> Steps[Part]:
    """Bring the impression into the part frame (stage 3)."""
    if part.impression is None:
        return part
    base, impression = part.base.mesh, part.impression.mesh
    found: Alignment
    if part.job.alignment.pairs:
        yield Progress(0.0, "aligning by the picked pairs")
        pairs = part.job.alignment.pairs
        picked = np.array([pair.impression for pair in pairs], dtype=np.float64)
        on_impression = picked * mm_per_unit(part.impression.unit) * part.impression.factor
        with blame_key("alignment", "pairs"):
            on_base = body_points(part, [pair.base for pair in pairs], "base")
            refuse_far_points(picked, on_impression, impression, "impression scan")
        found = align_by_pairs(base, impression, on_base, on_impression, seed=part.job.seed)
    else:
        with blame_key("alignment", "pose"):
            try:
                found = yield from align_scans(base, impression, seed=part.job.seed, pose=part.job.alignment.pose)
            except UnsurePoseError:
                raise
            except SolveError as error:
                yield from _refuse_swapped(part, error)
                raise
    found = replace(found, matrix=_settled(found.matrix))
    aligned = impression.transformed(found.matrix)
    sizes = _size_notes(part.impression, base, aligned, found)
    if sizes:  # what the picked pairs say of the scale is the same once more
        length = float(np.ptp(base.bounds, axis=0).max())
        once = {each.note(length) for each in found.scale_implied if each.basis == "pairs"}
        found = replace(found, notes=tuple(note for note in found.notes if note not in once))
    return replace(part, alignment=replace(found, notes=(*found.notes, *sizes)), aligned=aligned)


def _refuse_swapped(part: Part, error: SolveError) -> Steps[None]:
    """Refuse scans that fit no other way than with their parts exchanged: clay lies outside the base alone."""
    assert part.impression is not None and part.job.impression is not None
    try:
        yield from align_scans(part.impression.mesh, part.base.mesh, seed=part.job.seed)
    except (SolveError, ScanError):
        return
    told = InputError(
        f"{error.message} With the two scans exchanged they fit: the scans look swapped.",
        hint=f'Write scan = "{part.job.impression.scan}" under [base] and scan = "{part.job.base.scan}" under '
        "[impression], each with its own unit.",
    )
    told.key = ("base", "scan")
    raise told from error


def _size_notes(impression: Scan, base: TriMesh, aligned: TriMesh, found: Alignment) -> tuple[str, ...]:
    """Hold the sizes of both scans against each other where they show the same surface."""
    ratio = size_ratio(base, aligned, max(3.0 * found.rms_mm, 1.0))
    if ratio is None or not ratio.is_off:
        return ()
    said = size_note(ratio, float(np.ptp(aligned.bounds, axis=0).max()), is_taken_over=impression.fit is None)
    if abs(ratio.value - 1.0) > MOST_APART:
        with blame_key("impression", "scale"):
            raise InputError(said)
    return (said,)


def _settled(matrix: Float) -> Float:
    """Return a motion to 1e-10 in its turn and 1e-9 mm in its shift, far below any scan.

    The last bits of a fit hang on the order of its sums, and so on the number of threads; all later stages take up
    where it ends.
    """
    settled = np.round(matrix, 10) + 0.0
    settled[:3, 3] = np.round(matrix[:3, 3], 9) + 0.0
    return np.asarray(settled)


def read_body_side(part: Part) -> Part:
    """Measure what the body left in the clay (stage 4)."""
    if part.aligned is None or part.job.impression is None:
        return part
    given = part.job.impression
    # Places between the corners of large triangles are read as well; what was scanned keeps its numbers.
    aligned = subdivided(part.aligned, 2.0 * averaging_width_of(part.aligned))
    press: Any = part.job.body.press_direction
    if not isinstance(press, str):
        press = _turned(part, press)
    with blame_key("body", "press_direction"):
        reading: ImpressionReading = read_impression(
            part.base.mesh,
            aligned,
            press_direction=press,
            clay_thickness_mm=given.clay_thickness_mm,
            load_center_spacing_mm=part.job.body.load_center_spacing_mm,
            contact_depth_mm=given.contact_depth_mm,
            smoothing_mm=given.smoothing_mm,
            # A load centre stands out by half of what counts as contact at all (common practice, no source).
            least_prominence_mm=0.5 * given.contact_depth_mm,
            centre_marks=centre_marks(part),
            expected_centres=(int(given.load_center_count[0]), int(given.load_center_count[1])),
            compare_sides=part.family.is_left_right or given.average_sides,
            scanned_count=len(part.aligned.vertices),
        )
    _refuse_clay(reading)
    return fair_body_side(replace(part, aligned=aligned, reading=reading))


def _refuse_clay(reading: ImpressionReading) -> None:
    """Refuse a thickness of the clay that its rim contradicts: clay does not double, nor lose most of its height."""
    before = reading.undisturbed
    if before.basis != "measured" or before.typical_mm / 3.0 < before.rim_mm < 2.0 * before.typical_mm:
        return
    with blame_key("impression", "clay_thickness_mm"):
        raise InputError(
            f"The clay is said to be {before.typical_mm:.3g} mm thick as laid, but in the scans its untouched rim is "
            f"{before.rim_mm:.1f} mm thick.",
            hint=f"Write clay_thickness_mm = {before.rim_mm:.1f}, or what you measured, in mm; or leave the key out.",
        )


def fair_body_side(part: Part) -> Part:
    """Smooth marks and wrinkles away and average left and right, where the job asks for it."""
    given, reading, aligned = part.job.impression, part.reading, part.aligned
    if given is None or reading is None or aligned is None:
        return part
    notes: tuple[str, ...] = ()
    if given.body_side_smoothing_mm > 0.0:
        smoothed = smooth_body_side(aligned, reading, given.body_side_smoothing_mm)
        aligned, notes = smoothed.mesh, smoothed.notes
    if given.average_sides:
        with blame_key("impression", "average_sides"):
            if reading.left_right is None:
                raise InputError("No mid-plane of the base was found.", hint="Turn average_sides off.")
            averaged = average_left_right(aligned, reading, reading.left_right.plane)
        aligned, notes = averaged.mesh, (*notes, *averaged.notes)
    return replace(part, aligned=aligned, notes=(*part.notes, *notes))


def _turned(part: Part, direction: tuple[float, float, float]) -> Float:
    vector = part.to_part[:3, :3] @ np.asarray(direction, dtype=np.float64)
    return np.asarray(vector / np.linalg.norm(vector))


def check_press(job: Job) -> None:
    """Refuse, before any work, to look for the press direction where there is no body side to find it from.

    Raises
    ------
    InputError
        When the job has no impression and gives no direction.
    """
    if job.impression is None and job.body.press_direction == "auto":
        with blame_key("body", "press_direction"):
            raise InputError(
                "Without an impression the press direction cannot be found.",
                hint="Give three numbers in the base scan's axes.",
            )


def _press_without_impression(part: Part) -> Float | None:
    """Return the job's press direction where there is no body side to find it from."""
    check_press(part.job)
    press = part.job.body.press_direction
    return None if isinstance(press, str) else _turned(part, press)


def shape_pad(part: Part, folder: Path) -> Steps[Part]:
    """Build the pad (stage 5)."""
    settings, records = pad_settings(part, folder)
    reading = part.reading or BaseOnly(_press_without_impression(part))
    scanned = None
    if part.impression is not None and part.alignment is not None:
        scanned = part.impression.mesh.transformed(part.alignment.matrix)
    pad: Pad = yield from build_pad(part.base.mesh, part.aligned, reading, settings, scanned)
    return replace(part, pad=pad, inputs=(*part.inputs, *records))


def plan(part: Part, folder: Path) -> Part:
    """Say which part of the pad is how firm (stage 6)."""
    assert part.pad is not None
    requests, records = zone_requests(part, folder)
    zones: ZonePlan = plan_zones(part.pad, part.reading, requests, impression=part.aligned, blends=blends_of(part.job))
    return replace(part, zones=zones, inputs=(*part.inputs, *records))


def cut(part: Part) -> Steps[Part]:
    """Cut the pad into regions (stage 10)."""
    assert part.pad is not None and part.zones is not None
    regions = part.job.regions
    bead = part.job.printer.bead_width_mm or max(level.bead_width_mm for level in part.family.levels)
    found: RegionCut = yield from cut_regions(
        part.pad,
        part.zones,
        least_width_mm=regions.least_width_beads * bead,
        overlap_mm=regions.overlap_mm if regions.contact == "overlapping" else 0.0,
    )
    return replace(part, regions=found)


def choose_firmness(part: Part, folder: Path) -> Part:
    """Choose the settings of every zone by the modulus of its level, in the job's material (stage 7)."""
    part = replace(part, card=material_of(part.job.material, folder))
    return replace(part, firmness=choose(part))


def tune(part: Part) -> Part:
    """Tune the zones to the job's target (stage 9)."""
    assert part.firmness is not None
    return replace(part, firmness=tune_zones(part, part.firmness))


def check_load(part: Part) -> Part:
    """Press the body on the pad (stage 8)."""
    assert part.firmness is not None
    return replace(part, firmness=check(part, part.firmness))
