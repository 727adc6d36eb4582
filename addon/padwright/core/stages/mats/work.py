"""The stage: read what a pressure mat showed and lay it on the body side."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.files import InputFile
from ...base.mesh import Float
from ...base.notes import to_look_at
from ...base.progress import Progress, Steps
from ...base.text import counted
from ...job.mat_table import Mat
from ...job.read import blame_key
from ..alignment.placed_scans import PlacedScans, body_points, turned
from ..reading.work import ReadBodySide
from ..stage import Given
from .find_pose import FoundPose, by_centers, by_pattern
from .laid_mat import LaidMat
from .mat_file import read_mat, unit_note
from .mat_pose import map_by_places, plane_of, refuse_beyond
from .mat_reading import MatReading
from .pose_doubts import doubts_of_places, doubts_of_pose, refuse_unlike
from .pressed_plan import PressedPlan, pressed_plan

_FLIPPED_BETTER = 0.05
"""A body is nearly the same left and right: only where it agrees so much more so is a file taken as seen from below."""
_FITS_TOO = 0.15  # less agreement than the best, and a place may still say that it lay so; our choice
_BEYOND = 0.4  # of the sum beyond the clay that is worth a word; our choice


@dataclass(frozen=True, eq=False)
class MatResult:
    """What the stage gives where a job has a mat."""

    laid: LaidMat
    inputs: tuple[InputFile, ...]


def lay_mat(given: Given, _: None = None) -> Steps[MatResult]:
    """Read what a pressure mat showed and lay it on the body side."""
    yield Progress(0.0, "laying the pressure mat")
    asked = given.job.mat
    assert asked.file is not None  # else the stage rests
    with blame_key("mat"):
        data, record = given.read(asked.file, "pressure mat's file")
        mat = read_mat(data, asked.file, asked)
    yield Progress(0.2, "laying the pressure mat")
    press = _press(given)
    side = given.of(ReadBodySide)
    plan = None
    if side.reading is not None and side.mesh is not None:
        plan = pressed_plan(side.reading, side.mesh.vertices, plane_of(press))
    if len(asked.places) > 1:
        laid = _by_places(given, asked, mat, press, plan)
    else:
        with blame_key("mat"):
            laid = _by_itself(given, asked, mat, plan)
    note = unit_note(mat)
    beyond = _beyond(laid, side)
    notes = (*mat.notes, *((note,) if note else ()), *laid.notes, *beyond)
    laid = replace(
        laid,
        notes=notes,
        measured_on=asked.measured_on,
        is_load=asked.use_for_load,
        accuracy=asked.accuracy_percent / 100.0,
    )
    return MatResult(laid, (record,))


def _press(given: Given) -> Float:
    """Return the press direction in the part frame. Raises InputError where the part is gripped all around."""
    reading = given.of(ReadBodySide).reading
    press = reading.press_direction if reading is not None else None
    if reading is None and not isinstance(given.job.body.press_direction, str):
        press = turned(given.of(PlacedScans).to_part, given.job.body.press_direction)
    if press is None:
        with blame_key("mat"):
            raise InputError("A mat lies across one press direction; this part is gripped all around.")
    return press


def _by_places(given: Given, asked: Mat, mat: MatReading, press: Float, plan: PressedPlan | None) -> LaidMat:
    cells = np.array([_cell_of(asked, mat, index) for index in range(len(asked.places))])
    with blame_key("mat", "places"):
        points = body_points(given.of(PlacedScans), [place.point for place in asked.places], _places_on(given, asked))
        if mat.foil is None:
            refuse_beyond(mat.shape, np.clip(cells, 0.0, None) if _all_by_ruler(asked) else cells)
        else:  # its edge is no edge of a cell
            refuse_beyond(mat.shape, [each.cell or (0.0, 0.0) for each in asked.places])
        found = map_by_places(cells, points, press, flipped=bool(asked.flipped))
    notes = doubts_of_places(mat, found, plan, flipped=asked.flipped)
    agreement = None if plan is None else plan.agreement(mat.pressure, found)
    return LaidMat(mat, found, "places", 1, (), agreement, tuple(notes))


def _places_on(given: Given, asked: Mat) -> str:
    """Return the scan that the points of places lie on; without a scan of clay the base."""
    return asked.places_on or ("base" if given.of(PlacedScans).impression is None else "impression")


def _all_by_ruler(asked: Mat) -> bool:
    """Whether all places are measured from the mat's corner, which lies beyond its first cell."""
    return all(place.at_mm is not None for place in asked.places)


def _cell_of(asked: Mat, mat: MatReading, index: int) -> tuple[float, float]:
    """Return row and column of a place: given, by its pixel, or by its distance from the mat's first corner."""
    place = asked.places[index]
    if place.pixel is not None:
        return _cell_of_pixel(mat, (place.pixel[0], place.pixel[1]), index)
    if place.cell is not None:
        return place.cell[0], place.cell[1]
    assert place.at_mm is not None
    if mat.pitch_mm is None:
        with blame_key("mat", "places", index, "at_mm"):
            if mat.foil is not None:
                raise InputError("A place in mm needs the picture's size.", hint="Write dpi or sheet_mm under [mat].")
            raise InputError("A place in mm needs the distance of cells.", hint="Write pitch_mm under [mat].")
    down, across = ((at - off) / apart for at, off, apart in zip(place.at_mm, mat.offset_mm, mat.pitch_mm, strict=True))
    return down, across


def _cell_of_pixel(mat: MatReading, pixel: tuple[float, float], index: int) -> tuple[float, float]:
    """Return row and column of a pixel of a picture. Raises InputError where it has no such pixel."""
    with blame_key("mat", "places", index, "pixel"):
        if mat.foil is None:
            raise InputError("This mat is a table and has no pixels.", hint="Write cell = [row, column].")
        if not all(each < most for each, most in zip(pixel, mat.foil.pixels, strict=True)):
            raise InputError(
                f"Pixel [{pixel[0]:g}, {pixel[1]:g}] lies beyond the picture of {mat.foil.pixels[0]} x "
                f"{mat.foil.pixels[1]} pixels.",
                hint="How far to the right comes first, then how far down.",
            )
        return mat.foil.cell_of(pixel)


def _by_itself(given: Given, asked: Mat, mat: MatReading, plan: PressedPlan | None) -> LaidMat:
    """Lay the mat by what it shows: its own load centers, or its outline."""
    if plan is None:
        raise InputError("The body pressed nothing that the mat could be laid by.", hint="Give [[mat.places]].")
    laid = asked.laid if asked.laid != "auto" else "load_centers" if mat.pitch_mm is None else "outline"
    flips = (False, True) if asked.flipped is None else (asked.flipped,)
    poses = _poses(laid, mat, plan, flips)
    if not poses:
        raise _no_centers(mat, plan, asked)
    poses = _sense_first(poses)
    if asked.places:
        poses = _nearest_first(given, asked, mat, poses)
    if asked.pose is not None and asked.pose > len(poses):
        with blame_key("mat", "pose"):
            raise InputError(
                f"The mat fits in {counted(len(poses), 'way')}; pose {asked.pose} was asked for.",
                hint=f"Give 1 to {len(poses)}, or leave pose out.",
            )
    taken = (asked.pose or 1) - 1
    if asked.pose is None:
        refuse_unlike(poses[0].agreement)
    notes: list[str] = list(
        doubts_of_pose(mat, poses, taken, plan, by_person=asked.pose is not None or bool(asked.places))
    )
    here = poses[taken]
    if mat.pitch_mm is None:
        down, _ = here.cells.cell_mm
        what = f"The distance of cells, {down:.1f} mm,"
        if mat.foil is not None:
            high = mat.foil.pixel_of((1.0, 0.0))[1] - mat.foil.pixel_of((0.0, 0.0))[1]
            what = f"How large a pixel is, {down / high:.3f} mm ({25.4 * high / down:.0f} in an inch),"
        notes.append(to_look_at(f"{what} was taken from that of the load centers."))
    return LaidMat(mat, here.cells, laid, taken + 1, tuple(poses), here.agreement, tuple(notes))


def _poses(laid: str, mat: MatReading, plan: PressedPlan, flips: tuple[bool, ...]) -> list[FoundPose]:
    if laid == "load_centers":
        return by_centers(mat.pressure, mat.pitch_mm, plan, flips, mat.peak_cells)
    if mat.pitch_mm is None:
        if mat.foil is not None:
            error = InputError(
                f"To lay the picture by its outline its size must be known, and {mat.foil.scale.doubt}.",
                hint="Write dpi under [mat], what the scanner was set to; of a photo sheet_mm.",
            )
        else:
            error = InputError(
                "To lay the mat by its outline the distance of its cells must be known.",
                hint="Write pitch_mm under [mat]: from cell to cell, mm.",
            )
        error.within = ("pitch_mm",) if mat.foil is None else ("file",)
        raise error
    return by_pattern(mat.pressure, mat.pitch_mm, plan, flips)


def _sense_first(poses: list[FoundPose]) -> list[FoundPose]:
    """Return the poses with the best as seen from the body first, unless one from below is clearly better."""
    plain = [each for each in poses if not each.is_flipped]
    if not plain or plain[0].agreement < poses[0].agreement - _FLIPPED_BETTER:
        return poses
    return [plain[0], *(each for each in poses if each is not plain[0])]


def _nearest_first(given: Given, asked: Mat, mat: MatReading, poses: list[FoundPose]) -> list[FoundPose]:
    """Return the poses that fit about as well as the best first, that which brings the one place nearest to its point.

    The place tells the way round alone: it need not be exact, and so cannot tell whether the mat is seen from below.
    """
    cell = np.array([_cell_of(asked, mat, 0)])
    with blame_key("mat", "places"):
        point = body_points(given.of(PlacedScans), [asked.places[0].point], _places_on(given, asked))
    flat = point @ poses[0].cells.plane.T
    first = poses[0]
    fits = [each for each in poses if each.agreement > first.agreement - _FITS_TOO]
    some = [each for each in fits if each.is_flipped == first.is_flipped]
    nearest = min(some, key=lambda each: float(np.linalg.norm(each.cells.flat_of(cell) - flat)))
    return [nearest, *(each for each in poses if each is not nearest)]


def _no_centers(mat: MatReading, plan: PressedPlan, asked: Mat) -> InputError:
    centers = counted(len(plan.centers), "load center")
    error = InputError(
        f"No two places where the mat bears hardest lie as far apart as two load centers of the clay ({centers} there)."
        if mat.pitch_mm is not None
        else f"Two load centers are needed to lay the mat by; the clay has {centers}.",
        hint='Write pitch_mm and laid = "outline", or give two or three [[mat.places]].',
    )
    if asked.laid != "auto":
        error.within = ("laid",)
    return error


def _beyond(laid: LaidMat, side: ReadBodySide) -> tuple[str, ...]:
    """Return what to say where much of the mat's sum lies beside the clay."""
    share = share_beyond(laid, side)
    if share is None or share < _BEYOND:
        return ()
    return (
        to_look_at(
            f"{100.0 * share:.0f} % of what the mat bore lies beside the clay: the body bore on more than this part, "
            "or the mat lies wrongly."
        ),
    )


def share_beyond(laid: LaidMat, side: ReadBodySide) -> float | None:
    """Return which share of the mat's sum lies beside the clay; None without an impression."""
    reading = side.reading
    if reading is None or side.mesh is None:
        return None
    is_clay = reading.is_clay & ~reading.is_wall
    flat = side.mesh.vertices[is_clay] @ laid.cells.plane.T
    reach = 0.75 * max(laid.cells.cell_mm)
    away, _ = cKDTree(flat).query(laid.cell_places, distance_upper_bound=reach)
    bore = laid.mat.pressure.ravel()
    return float(bore[~np.isfinite(away)].sum() / bore.sum())
