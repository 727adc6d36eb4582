"""The stage: bring the impression into the part frame."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...base.errors import InputError, ScanError, SolveError
from ...base.mesh import Float, TriMesh
from ...base.progress import Progress, Steps
from ...job.read import blame_key
from ..scans.captured import CapturedScans, Scan
from ..scans.scale_ratio import MOST_APART, size_note, size_ratio
from ..stage import Given
from .align import FoundAlignment, align_scans
from .candidates import UnsurePoseError
from .pairs import align_by_pairs
from .placed_scans import PlacedScans, body_points, refuse_far_points


def align(given: Given, _: None = None) -> Steps[PlacedScans]:
    """Bring the impression into the part frame."""
    scans = given.of(CapturedScans)
    placed = PlacedScans(scans.base, scans.impression, scans.to_part)
    if scans.impression is None:
        return placed
    asked, seed = given.job.alignment, given.job.seed
    base, impression = scans.base.mesh, scans.impression.mesh
    found: FoundAlignment
    if asked.pairs:
        yield Progress(0.0, "aligning by the picked pairs")
        picked = np.array([pair.impression for pair in asked.pairs], dtype=np.float64)
        on_impression = picked * scans.impression.mm_per_number
        with blame_key("alignment", "pairs"):
            on_base = body_points(placed, [pair.base for pair in asked.pairs], "base")
            refuse_far_points(picked, on_impression, impression, "impression scan")
        found = align_by_pairs(base, impression, on_base, on_impression, seed=seed)
    else:
        with blame_key("alignment", "pose"):
            try:
                found = yield from align_scans(base, impression, seed=seed, pose=asked.pose)
            except UnsurePoseError:
                raise
            except SolveError as error:
                yield from _refuse_swapped(scans, seed, error)
                raise
    found = replace(found, matrix=_settled(found.matrix))
    aligned = impression.transformed(found.matrix)
    sizes = _size_notes(scans, scans.impression, aligned, found)
    if sizes:  # what the picked pairs say of the scale is the same once more
        length = float(np.ptp(base.bounds, axis=0).max())
        once = {each.note(length) for each in found.scale_implied if each.basis == "pairs"}
        found = replace(found, notes=tuple(note for note in found.notes if note not in once))
    return replace(placed, alignment=replace(found, notes=(*found.notes, *sizes)), aligned=aligned)


def _refuse_swapped(scans: CapturedScans, seed: int, error: SolveError) -> Steps[None]:
    """Refuse scans that fit no other way than with their parts exchanged: clay lies outside the base alone."""
    assert scans.impression is not None
    try:
        yield from align_scans(scans.impression.mesh, scans.base.mesh, seed=seed)
    except (SolveError, ScanError):
        return
    told = InputError(
        f"{error.message} With the two scans exchanged they fit: the scans look swapped.",
        hint=f'Write scan = "{scans.impression.record.file}" under [base] and scan = "{scans.base.record.file}" under '
        "[impression], each with its own unit.",
    )
    told.key = ("base", "scan")
    raise told from error


def _size_notes(scans: CapturedScans, impression: Scan, aligned: TriMesh, found: FoundAlignment) -> tuple[str, ...]:
    """Hold the sizes of both scans against each other where they show the same surface."""
    ratio = size_ratio(scans.base.mesh, aligned, max(3.0 * found.rms_mm, 1.0))
    if ratio is None or not ratio.is_off:
        return ()
    is_as_file = impression.fit is None and impression.factor != scans.base.factor
    said = size_note(
        ratio,
        float(np.ptp(aligned.bounds, axis=0).max()),
        is_taken_over=impression.fit is None,
        base_factor=scans.base.factor if is_as_file else 1.0,
    )
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
