"""The scan of the body: read, cleaned, true to size, laid on the base."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.errors import InputError, ScanError
from ...base.files import InputFile
from ...base.mesh import Float, TriMesh
from ...base.progress import Progress, Steps, nested
from ...base.text import counted
from ...base.units import MM_PER_UNIT, mm_per_unit
from ...geometry.frames import fit_similarity, is_collinear, moved, rigid
from ...job.read import blame_key
from ...job.schema import Body
from ..alignment.placed_scans import PlacedScans, body_points, refuse_far_points
from ..scans.clean import clean_scan, doubt_words
from ..scans.read import read_scan
from ..scans.scale import PICK_ERROR_MM, fit_scale
from ..stage import Given
from . import AS_IT_LIES

_SIZES = (0.2, 30.0)
"""How many times as long as the base a body's scan can be: a finger on a board, a whole person on the pad of a nose.
Our choice."""

MOST_MISS_MM = 20.0
"""A landmark of a body without load that lies farther beside its place on the base is another one: skin slides by a
centimeter over bone (common practice, no source)."""

MISS_MM = 8.0
"""A landmark that lies farther beside its place is told: skin over bone is found to about that (common practice, no
source)."""

LANDMARK_MM = MISS_MM / 3.0**0.5
"""The same along one axis."""


@dataclass(frozen=True, eq=False)
class LaidBody:
    """The scan of the body in the part frame, where the job says that it lies."""

    mesh: TriMesh
    record: InputFile
    matrix: Float  # (4, 4); from the body scan's frame, mm after scale correction, to the part frame
    factor: float  # the file's mm were multiplied by it
    misses_mm: Float  # (k,); how far each landmark lies off its place on the base
    names: tuple[str, ...]  # of the landmarks
    marks: Float  # (k, 3); the landmarks on the body as it was laid, part frame
    notes: tuple[str, ...]

    @property
    def is_by_landmarks(self) -> bool:
        """Whether landmarks that a person picked lay it."""
        return any(name != AS_IT_LIES for name in self.names)


def lay_body(given: Given) -> Steps[LaidBody]:
    """Read the job's scan of the body and lay it on the base.

    Raises InputError or ScanError when the file cannot be read or used, is one of the other scans, has another unit, or
    its landmarks do not go together.
    """
    asked, name = given.job.body, str(given.job.body.scan)
    yield Progress(0.0, "reading the body scan")
    data, record = given.read(name, "body scan", "body_scan")
    scans = given.of(PlacedScans)
    for scan, what in ((scans.base, "base"), (scans.impression, "impression")):
        if scan is not None and scan.record.sha256 == record.sha256:
            with blame_key("body", "scan"):
                raise InputError(
                    f'"{name}" is the {what} scan too; expected a scan of the body itself.',
                    hint="Leave body.scan out where the body was not scanned.",
                )
    with blame_key("body", "scan", of=ScanError):
        read = read_scan(data, name)
    unit = mm_per_unit(asked.scan_unit)
    _refuse_unit(read.mesh, scans.base.mesh, asked)
    factor = 1.0
    notes: tuple[str, ...] = ()
    if asked.check_lengths:
        with blame_key("body", "check_lengths"):
            fit = fit_scale(asked.check_lengths, unit, pick_error_mm=PICK_ERROR_MM, what="body scan")
        factor, notes = fit.factor, fit.notes
    cleaned = yield from nested(clean_scan(read.mesh.scaled(unit * factor), role="body scan"), 0.1, 1.0)
    matrix, misses, marks = scans.to_part, np.zeros(0), np.zeros((0, 3))
    if asked.pairs:
        matrix, misses, marks = _by_landmarks(asked, scans, cleaned.mesh, unit * factor)
    names = tuple(pair.name or f"landmark {number + 1}" for number, pair in enumerate(asked.pairs))
    mesh = cleaned.mesh.transformed(matrix)
    # Which side of the body faces the base is looked at when it is pressed.
    told = (note for note in cleaned.notes if note != doubt_words("body scan"))
    return LaidBody(mesh, record, matrix, factor, misses, names, marks, (*read.notes, *told, *notes))


def _refuse_unit(body: TriMesh, base: TriMesh, asked: Body) -> None:
    """Refuse a body that is far smaller or larger than any on such a base."""
    points = body.vertices[np.isfinite(body.vertices).all(axis=1)]
    if len(points) == 0:
        return
    numbers = float(np.ptp(points, axis=0).max())
    long = float(np.ptp(base.bounds, axis=0).max())
    times = numbers * mm_per_unit(asked.scan_unit) / long
    if _SIZES[0] <= times <= _SIZES[1]:
        return
    fitting = [
        unit for unit, mm in MM_PER_UNIT.items()
        if _SIZES[0] <= numbers * mm / long <= _SIZES[1] and unit != asked.scan_unit
    ]  # fmt: skip
    with blame_key("body", "scan_unit"):
        raise InputError(
            f"The body scan is {times * long:.3g} mm long, read in {asked.scan_unit}, and the base {long:.0f} mm.",
            hint=f"Its unit is another one; these would do: {', '.join(fitting)}."
            if fitting
            else "Check that it is a scan of the body on this base.",
        )


def _by_landmarks(asked: Body, scans: PlacedScans, body: TriMesh, mm_per_number: float) -> tuple[Float, Float, Float]:
    """Return the motion that brings the body's landmarks to their places on the base, what each misses, and where.

    Notes
    -----
    Closed form (Umeyama 1991, doi 10.1109/34.88573), never a mirror. How high the body lies over the base does not
    matter: it is pressed down from there.
    """
    numbers = np.array([pair.body for pair in asked.pairs], dtype=np.float64)
    with blame_key("body", "pairs"):
        on_body = numbers * mm_per_number
        refuse_far_points(numbers, on_body, body, "body scan")
        on_base = body_points(scans, [pair.base for pair in asked.pairs], "base")
        for points, name in ((on_base, "base"), (on_body, "body")):
            if is_collinear(points):
                raise InputError(
                    f"The {counted(len(points), 'landmark')} on the {name} scan lie on one line.",
                    hint="Give at least one well off that line.",
                )
        fit = fit_similarity(on_body, on_base, with_scale=False)
        matrix = rigid(fit.rotation, fit.translation)
        marks = moved(matrix, on_body)
        misses = np.linalg.norm(marks - on_base, axis=1)
        if misses.max() > MOST_MISS_MM:
            worst = int(misses.argmax())
            name = asked.pairs[worst].name or f"landmark {worst + 1}"
            side = " As a mirror image they would fit: is it the body's other side?" if fit.would_mirror else ""
            raise InputError(
                f'"{name}" lies {misses[worst]:.0f} mm off its place on the base after the best fit.{side}',
                hint="Check that body and base of each pair belong together, and body.scan_unit.",
            )
    return matrix, misses, marks


def tilt_reach_mm(marks: Float, press: Float) -> float:
    """Return the arm, mm, at which landmarks, (k, 3), hold a body's tilt about the axis that they hold least.

    Notes
    -----
    Least squares over small turns: errors of e along each axis leave a turn about an axis open by e over the root of
    the sum of squared distances from the axis, which runs through the landmarks' middle, across the press direction.
    """
    arm = marks - marks.mean(axis=0)
    inertia = np.square(arm).sum() * np.eye(3) - arm.T @ arm
    across = np.linalg.svd(np.asarray(press)[None])[2][1:]
    return float(np.sqrt(max(np.linalg.eigvalsh(across @ inertia @ across.T)[0], 1e-12)))
