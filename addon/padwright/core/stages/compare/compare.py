"""Hold the scan of a print against the part as asked for: the whole of it, from a scan in mm to what to correct."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...base.errors import InputError, ScanError, SolveError
from ...base.estimate import Estimate
from ...base.mesh import Float, TriMesh
from ...base.notes import Weight, to_look_at, weight_of
from ...base.progress import Progress, Steps, nested
from ...base.scales import round_up
from ...base.units import MM_PER_UNIT, mm_per_unit
from ...geometry.frames import inverse_rigid, moved, rigid
from ...geometry.query import signed_distances
from ..scans.clean import clean_scan
from .bend import found_bend, sliding_errors
from .correct import corrections, weighed
from .distances import distances_between, odd_shape, percentiles, worst_patches
from .fit import SAMPLES, PartOnBed, PrintFit, as_asked, fit_print, scan_sample, with_errors
from .outside import outside_of
from .poses import FoundPrint, find_print
from .records import Comparison
from .scale import PrintLength, ScanLength, longest_way, told_sizes
from .table import OnTable, without_table

LEAST_TOLD_MM = 0.3
"""Places that are off by less are not told: about the texture of a print (common practice, no source)."""

_AXES_APART = 0.05
"""Sizes along two axes that differ by more than this share are no print of the part (common practice, no source)."""


_SCALE_OFF = 0.05
"""A scan whose scale is off by more may be right, of another size of the part (common practice, no source)."""

_LIKELY_SIZES = (0.5, 5.0)
"""So many times as large as the part is a scan whose unit is right, with what lies around the print (own choice)."""


@dataclass(frozen=True, eq=False)
class AskedPart:
    """The part as it was asked for, and how it was printed."""

    number: str
    name: str
    revision: str
    bodies: Sequence[tuple[str, TriMesh]]  # name and mesh of each region, part frame, mm, true size
    is_overlapping: bool
    to_bed: Float  # (4, 4); rigid: the part frame to the bed
    press_direction: Float | None  # (3,); part frame
    mass_g: Estimate | None
    shrinkage_pct: tuple[float, ...] | None = None  # what its files were enlarged for already
    flow_pct: float = 100.0
    shape_sha256: str = ""  # of the files it was read from; "": it was made anew


@dataclass(frozen=True, eq=False)
class PrintScan:
    """The scan of the print and what was measured by hand."""

    name: str
    mesh: TriMesh  # mm by its unit, as read
    unit: str = "mm"  # that of its file, or what was said of it
    lengths: Sequence[ScanLength] = ()
    extents: Sequence[PrintLength] = ()
    weight_g: float | None = None
    weight_plus_minus_g: float = 1.0


def compare(asked: AskedPart, scan: PrintScan, *, seed: int = 0, pose: int | None = None) -> Steps[Comparison]:
    """Return the print held against the part.

    Raises ScanError when the scan cannot be used; SolveError when it does not show this part, or its mirror image;
    InputError when a length or the pose asked for is wrong.
    """
    yield Progress(0.0, "Looking at the part")
    turn = asked.to_bed[:3, :3]
    upright = rigid(turn, np.zeros(3))
    bodies = [(name, mesh.transformed(upright)) for name, mesh in asked.bodies]
    part = PartOnBed(outside_of([mesh for _, mesh in bodies], is_overlapping=asked.is_overlapping))
    extent = float(np.linalg.norm(2.0 * part.half))
    yield Progress(0.05, "Cleaning the scan of the print")
    cleaned = yield from nested(clean_scan(scan.mesh, role="scan of the print", widest_filled_mm=0.0), 0.05, 0.2)
    _refuse_size(cleaned.mesh, extent, scan, 30.0)
    yield Progress(0.2, "Looking for the table")
    notes = list(cleaned.notes) if cleaned.outside_is_sure else list(cleaned.notes[:-1])
    table = without_table(cleaned.mesh, extent, seed=seed)
    _refuse_size(table.main, extent, scan, _LIKELY_SIZES[1])
    yield Progress(0.25, "Laying the scan on the part")
    try:
        found = yield from nested(find_print(part, table.main, seed=seed, pose=pose), 0.25, 0.8)
    except SolveError:
        if cleaned.outside_is_sure:
            raise
        table = without_table(cleaned.mesh.flipped(), extent, seed=seed)  # its file may have the wrong side out
        found = yield from nested(find_print(part, table.main, seed=seed, pose=pose), 0.25, 0.8)
    yield Progress(0.8, "Measuring sizes")
    fit = _final_fit(part, table, found, seed)
    _refuse_sizes_apart(fit)
    press = None if asked.press_direction is None else turn @ asked.press_direction
    errors = fit.covariance[:3, :3] + sliding_errors(fit, part)
    seen = -np.log(found.taken.factor * (1.0 + fit.values[:3]))
    scale, shrinkage, covariance = told_sizes(
        seen,
        errors / np.outer(1.0 + fit.values[:3], 1.0 + fit.values[:3]),
        2.0 * part.half,
        scan.lengths,
        scan.extents,
        press,
        turn.T,
        longest_way(part.mesh.vertices, np.exp(seen)),
    )
    yield Progress(0.85, "Measuring distances")
    laid = _laid(part, table, fit, found.taken.factor, scale.factor, seed)
    on_bed = table.mesh.scaled(scale.factor).transformed(laid)
    off = distances_between(part, on_bed, table.piece)
    left = _left(part, table, fit, found.taken.factor)
    judged = off.scan_mm[off.is_judged]
    if len(judged) == 0:
        raise ScanError("Nothing of the scan lies on the part.", hint="Cut away what is not the print.")
    least = max(LEAST_TOLD_MM, 3.0 * fit.noise_mm)
    left_at_part = _at_part(part, on_bed, off.is_judged, left)
    patches = worst_patches(part, off.part_mm, left_at_part, least, bodies, press)
    is_seen = np.isfinite(off.part_mm)
    share = float(part.mesh.vertex_areas[is_seen].sum() / part.mesh.area)
    weighing = None
    if scan.weight_g is not None and asked.mass_g is not None:
        weighing = weighed(scan.weight_g, scan.weight_plus_minus_g, asked.mass_g)
    changes, told = corrections(shrinkage, weighing, asked.shrinkage_pct, asked.flow_pct, covariance)
    doubts = [*found.doubts, *(note for note in told if weight_of(note) is Weight.CHANGED)]
    told = tuple(note for note in told if note not in doubts)
    if not scale.is_known:
        doubts.insert(0, _scale_doubt(scale.factor, scan.unit))
    odd = odd_shape(part, off.part_mm, left_at_part, fit.noise_mm, press)
    if odd:
        doubts.append(odd)
    back = inverse_rigid(upright)
    limit = round_up(max(0.5, percentiles(judged)["95 of size"]))
    return Comparison(
        number=asked.number,
        shape_sha256=asked.shape_sha256,
        revision=asked.revision,
        scan_file=scan.name,
        scan=on_bed.transformed(back),
        distance_mm=off.scan_mm,
        is_judged=off.is_judged,
        part=part.mesh.transformed(back),
        part_distance_mm=off.part_mm,
        scan_to_part=back @ laid,
        scale=scale,
        percentiles_mm=percentiles(judged),
        left_mm=percentiles(left[off.is_judged]),
        color_limit_mm=limit,
        seen_share=share,
        noise_mm=fit.noise_mm,
        shrinkage=shrinkage,
        bend=found_bend(fit, part),
        worst=tuple(replace(each, position_mm=moved(back, each.position_mm[None])[0]) for each in patches),
        weighing=weighing,
        corrections=changes,
        doubts=tuple(doubts),
        notes=(*notes, *table.notes, *told),
    )


def _scale_doubt(factor: float, unit: str) -> str:
    """Return what is said where no length was measured; `factor`: by what the scan in mm was multiplied to fit."""
    words = (
        "The scan's own scale cannot be told from shrinkage: a scan alone may be off by several percent. Measure one "
        "length: its longest extent (--extent long=276.1), or one on what the scan shows (--scan-length). Until then "
        "only differences between directions are told, and the scan was sized so that they are 0 in the mean."
    )
    if abs(factor - 1.0) > _SCALE_OFF:
        size = "small" if factor > 1.0 else "large"
        words += f" As it came it is {100.0 * abs(1.0 / factor - 1.0):.0f} % too {size}: was this size of it printed?"
        would = [each for each, mm in MM_PER_UNIT.items() if abs(factor * mm_per_unit(unit) / mm - 1.0) < _SCALE_OFF]
        if would:
            words += f" By --unit {would[0]} instead of {unit} it would be the size of the part."
    return to_look_at(words)


def fitting_units(across: float, part_mm: float) -> list[str]:
    """Return the units by which a scan, so many of them across, is about as large as the part."""
    low, high = _LIKELY_SIZES
    return [unit for unit, mm in MM_PER_UNIT.items() if low < across * mm / part_mm < high]


def unit_hint(units: Sequence[str]) -> str:
    """Return which unit to say, given those that fit."""
    if not units:
        return "Check its unit (--unit mm, cm, m or in)."
    return f"By its size: {' or '.join(f'--unit {unit}' for unit in units)}."


def _refuse_size(mesh: TriMesh, extent_mm: float, scan: PrintScan, most: float) -> None:
    """Refuse what is much too small or more than `most` times as large as the part."""
    size = float(np.linalg.norm(np.ptp(mesh.bounds, axis=0)))
    fits = fitting_units(size / mm_per_unit(scan.unit), extent_mm)
    if not 0.3 < size / extent_mm < (most if fits else 30.0):
        raise ScanError(
            f'The scan "{scan.name}" is {size:.4g} mm across, its unit {scan.unit}; the part is {extent_mm:.0f} mm.',
            hint=unit_hint(fits),
        )


def _refuse_sizes_apart(fit: PrintFit) -> None:
    sizes, errors = fit.values[:3], np.sqrt(np.diag(fit.covariance)[:3])
    for one in range(3):
        for other in range(one):
            apart = abs(float(sizes[one] - sizes[other]))
            if apart > _AXES_APART + 3.0 * float(np.hypot(errors[one], errors[other])):
                raise SolveError(
                    f"The scan does not show this part: to fit, its size along {'xyz'[one]} of the bed would have to "
                    f"differ from that along {'xyz'[other]} by {100.0 * apart:.0f} %.",
                    hint="Is it the scan of this print, of this revision? Was it scaled along one axis in the print "
                    "program?",
                )


def _final_fit(part: PartOnBed, table: OnTable, found: FoundPrint, seed: int) -> PrintFit:
    rough = found.taken
    sample = scan_sample(table.main.scaled(rough.factor), SAMPLES, np.random.default_rng(seed))
    wide = max(3.0 * rough.fit.width_mm, 1.0)
    fit = fit_print(part, sample, rough.fit.matrix, width_mm=wide, values=rough.fit.values)
    return with_errors(part, sample, fit)


def _laid(part: PartOnBed, table: OnTable, fit: PrintFit, factor: float, scale: float, seed: int) -> Float:
    """Return the rigid motion that lays the scan, true to its scale, on the part as a whole, (4, 4)."""
    turn, shift = fit.matrix[:3, :3], fit.matrix[:3, 3]
    start = rigid(turn, part.middle - scale / factor * (part.middle - shift))
    sample = scan_sample(table.main.scaled(scale), SAMPLES // 2, np.random.default_rng(seed))
    size = float(np.abs(fit.values[:3]).max()) * float(part.half.max())
    # No trimming to speak of: all of the print takes part, with what is wrong about it.
    wide = 3.0 + 3.0 * size
    return fit_print(part, sample, start, width_mm=wide, least_width_mm=wide, with_shape=0).matrix


def _left(part: PartOnBed, table: OnTable, fit: PrintFit, factor: float) -> Float:
    about = moved(fit.matrix, table.mesh.vertices * factor) - part.middle
    return signed_distances(part.mesh, as_asked(about, fit.values) + part.middle)[0]


def _at_part(part: PartOnBed, scan: TriMesh, is_judged: np.ndarray, left: Float) -> Float:
    """Return what is left at the part's vertices: that of the nearest of the scan's points, which are as fine."""
    from scipy.spatial import cKDTree

    _, near = cKDTree(scan.vertices[is_judged]).query(part.mesh.vertices)
    return np.asarray(left[is_judged][near])


def refuse_no_mass(asked: AskedPart, weight_g: float | None) -> None:
    """Refuse a weight where nothing was predicted to hold it against.

    Raises InputError.
    """
    if weight_g is not None and asked.mass_g is None:
        raise InputError("The run of this part predicted no mass.", hint="Run the job again, then compare.")
