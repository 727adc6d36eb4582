"""The stage: lay the scan of the body on the base and, where no clay was scanned, press it into virtual clay."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
from scipy import ndimage

from ...base.errors import InputError, ScanError, SolveError
from ...base.estimate import weaker
from ...base.mesh import Float, TriMesh
from ...base.progress import Progress, Steps, nested
from ...job.cards import Family
from ...job.read import blame_key
from ...job.schema import Impression, Job, Pad
from ..alignment.placed_scans import PlacedScans, body_points, turned
from ..scans.captured import CapturedScans
from ..stage import Given
from .body_scan import LANDMARK_MM, LaidBody, lay_body, tilt_reach_mm
from .clay_bed import ClayBed, lay_clay
from .clay_border import clay_share, with_wall
from .flesh import flesh_of
from .press_clay import BodyOnClay, Imprint, press_by_strength, press_to_depth
from .press_from_base import direction_from_base
from .pressed import BodyShape, PressedBody, PressedClay
from .pressed_notes import notes_on
from .spread import spread_of
from .weight import SHARE_FACTOR, force_of

_USUAL_DEPTH = 2.0 / 3.0
"""Of the clay: as deep a body goes in where nothing else is said. Common practice, no source."""

_HEAPING = {"even": 0.0, "between": 0.5, "heaped": 1.0}
_NEAR_MM = 30.0
"""So far above where the body comes down first its side is looked at: our choice."""

_LEAST_SEEN = 0.01  # of the clay; less lies beside the base

_SQUEEZED_ROUNDS = 3
"""The contact under which flesh was squeezed while it was scanned follows from the imprint, which follows from it."""


def press_body(given: Given, _: None = None) -> Steps[PressedBody]:
    """Lay the body on the base; without a scan of clay, press it into virtual clay until the load is carried."""
    laid = yield from nested(lay_body(given), 0.0, 0.4)
    plain = PressedBody(laid, BodyShape(laid.mesh, laid.record), None, laid.notes)
    asked = given.job.impression
    if asked is None or asked.scan is not None:
        return plain
    yield Progress(0.4, "laying virtual clay")
    scans, family = given.of(PlacedScans), given.of(CapturedScans).family
    base, thickness = scans.base.mesh, float(asked.clay_thickness_mm or 0.0)
    press, basis, plus_minus = _press(given.job, scans, laid)
    _refuse_behind(base, laid, press)
    with blame_key("body", "press_direction"):
        bed = lay_clay(base, press, thickness)
    body = _seen(bed, laid)
    pressed = _body_on_clay(given, bed, body, family, scans, press)
    yield Progress(0.5, "pressing the body into virtual clay")
    deep = _USUAL_DEPTH * thickness if asked.imprint_depth_mm is None else asked.imprint_depth_mm
    how: Callable[[BodyOnClay], Imprint] = (
        partial(press_to_depth, depth_mm=deep)
        if asked.clay_strength_kpa is None
        else partial(press_by_strength, strength_kpa=asked.clay_strength_kpa)
    )
    key = "imprint_depth_mm" if asked.clay_strength_kpa is None else "clay_strength_kpa"
    with blame_key("impression", key, of=SolveError):
        pressed, found = _pressed(pressed, how, given.job.body.scan_load_share or 0.0)
        _refuse_through(pressed, found, asked)
    yield Progress(0.7, "working out low and high")
    is_stated = asked.pressed_with_n is not None or given.job.load.force_n is not None
    basis_of = "assumed" if given.job.body.flesh_thickness_mm is None else weaker("user", "model")
    rough = spread_of(
        pressed,
        found,
        how,
        basis="model" if pressed.flesh is None else basis_of,
        heaping=(0.0, 1.0) if asked.clay_pressure == "between" else (pressed.heaping, pressed.heaping),
        load_factor=1.0 if is_stated else SHARE_FACTOR,
    )
    yield Progress(0.95, "taking the imprint")
    ends, rim = _open_outline(bed, found, body)
    has_tilt = laid.is_by_landmarks and pressed.point is None
    slope = LANDMARK_MM / tilt_reach_mm(laid.marks, press) if has_tilt else 0.0
    clay = PressedClay(
        mesh=_imprinted(bed, found, _margin(given.job.pad), base),
        press=press,
        press_basis=basis,
        press_plus_minus_deg=plus_minus,
        thickness_mm=thickness,
        wanted_n=pressed.force_n,
        found=found,
        numbers=rough.numbers,
        shape_plus_minus_mm=rough.shape_mm,
        flesh_shape_mm=rough.flesh_shape_mm,
        middle_mm=_middle(bed, found),
        end_share=ends,
        rim_share=rim,
        step_mm=bed.step_mm,
        has_point=pressed.point is not None,
        centers=rough.centers.tilted(slope) if slope else rough.centers,
    )
    shape = BodyShape(_come_down(laid.mesh, bed, found), laid.record)
    notes = notes_on(clay, laid, given.job, family, pressed.flesh)
    return PressedBody(laid, shape, clay, (*notes, *laid.notes))


def _press(job: Job, scans: PlacedScans, laid: LaidBody) -> tuple[Float, str, float]:
    """Return the press direction in the part frame, "given" or "auto", and plus-minus in degrees."""
    asked = job.body.press_direction
    if not isinstance(asked, str):
        return turned(scans.to_part, asked), "given", 0.0
    with blame_key("body", "press_direction", of=SolveError):
        direction, plus_minus = direction_from_base(scans.base.mesh, laid.mesh)
    return direction, "auto", plus_minus


def _refuse_behind(base: TriMesh, laid: LaidBody, press: Float) -> None:
    """Refuse a body whose middle lies past the base: the direction is turned round, or the body lies elsewhere."""
    middles = [np.average(mesh.triangles.mean(axis=1), axis=0, weights=mesh.face_areas) for mesh in (base, laid.mesh)]
    past = float((middles[1] - middles[0]) @ press)
    if past > 0.0:
        with blame_key("body", "press_direction"):
            raise InputError(
                f"Along the press direction the middle of the body lies {past:.0f} mm past that of the base.",
                hint="Are two of its landmarks swapped, as left and right? Then body.pairs lay it on its back. Else "
                "turn the direction's signs round: it runs from the body into the base."
                if laid.names
                else "The direction runs from the body into the base: turn its signs round, or lay the body before the "
                "base by body.pairs.",
            )


def _seen(bed: ClayBed, laid: LaidBody) -> Float:
    """Return the body's lowest height over each place of the clay, (n,), mm.

    Raises InputError where it lies beside the base; ScanError where its inside is seen: the side that bears was not
    scanned, or is turned inside out.
    """
    height, down = bed.seen_below(laid.mesh)
    is_seen = np.isfinite(height)
    if is_seen.mean() < _LEAST_SEEN:
        with blame_key("body", "pairs" if len(laid.names) else "scan"):
            raise InputError(
                f"The body lies beside the base: it is over {100.0 * is_seen.mean():.1f} % of the clay.",
                hint="Lay it by landmarks, [[body.pairs]], or save its scan in the base scan's frame.",
            )
    gap = height - bed.top_mm[bed.is_clay]
    is_near = is_seen & (gap < gap[is_seen].min() + _NEAR_MM)
    share = float((~down[is_near]).mean())
    if share > 0.5:
        with blame_key("body", "scan", of=ScanError):
            raise ScanError(
                f"Where the body comes down, {100.0 * share:.0f} % of what its scan shows the base is its inside.",
                hint="The side that bears on the base was not scanned, or the scan is turned inside out: scan that "
                "side, or flip its faces.",
            )
    return height


def _body_on_clay(
    given: Given, bed: ClayBed, height: Float, family: Family, scans: PlacedScans, press: Float
) -> BodyOnClay:
    """Return what is pressed: the body as laid, its flesh, the force and where it acts."""
    job = given.job
    asked, load = job.impression, job.load
    assert asked is not None and asked.clay_thickness_mm is not None
    force = asked.pressed_with_n or force_of(load, load.force_n, load.share) or 0.0
    flesh = flesh_of(job.body, family)
    point = None
    if load.point is not None:
        with blame_key("load", "point"):
            point = body_points(scans, [load.point], "base")[0] @ bed.axes.T
    return BodyOnClay(bed, height, asked.clay_thickness_mm, force, flesh, _HEAPING[asked.clay_pressure], 0.0, point)


def _pressed(
    body: BodyOnClay, how: Callable[[BodyOnClay], Imprint], scanned_under: float
) -> tuple[BodyOnClay, Imprint]:
    """Press the body; flesh that bore a share of the load while it was scanned was squeezed evenly by that."""
    found = how(body)
    for _ in range(_SQUEEZED_ROUNDS if scanned_under else 0):
        body = replace(body, squeezed_before_kpa=scanned_under * found.mean_kpa)
        found = how(body)
    return body, found


def _refuse_through(body: BodyOnClay, found: Imprint, asked: Impression) -> None:
    """Refuse clay that the body goes through."""
    deepest = float(found.depth_mm.max())
    if deepest < body.thickness_mm:
        return
    usual = press_to_depth(body, _USUAL_DEPTH * body.thickness_mm)
    raise SolveError(
        f"The body goes through the clay: its imprint is {deepest:.1f} mm deep, and the clay {body.thickness_mm:g} mm "
        "thick.",
        hint=f"Make impression.clay_thickness_mm larger, or the clay stronger: clay_strength_kpa = "
        f"{usual.strength_kpa:.2g} leaves {body.thickness_mm - usual.deepest_mm:.1f} mm."
        if asked.clay_strength_kpa is not None
        else "Make impression.imprint_depth_mm smaller.",
    )


def _margin(asked: Pad) -> float:
    """Return how far around the contact clay is left, mm: as far as the part may go; a drawn outline is its own say."""
    return np.inf if asked.footprint is not None else asked.contact_margin_mm


def _imprinted(bed: ClayBed, found: Imprint, margin_mm: float, base: TriMesh) -> TriMesh:
    """Return the clay with its imprint, cut so far around what the body touched, and the base beside it."""
    is_touched = np.zeros(bed.is_clay.shape, dtype=bool)
    is_touched[bed.is_clay] = found.is_touched
    pressed = np.full(bed.is_clay.shape, np.nan)
    pressed[bed.is_clay] = bed.top_mm[bed.is_clay] - found.depth_mm
    share = clay_share(bed.is_clay, is_touched, bed.step_mm, margin_mm)
    # The last bits of a balance hang on the order of its sums, and so on the number of threads.
    return bed.surface(np.round(with_wall(pressed, bed.base_mm, share), 6), base)


def _come_down(body: TriMesh, bed: ClayBed, found: Imprint) -> TriMesh:
    """Return the body where it came to rest."""
    sunk = found.sunk(body.vertices @ bed.axes.T)
    return replace(body, vertices=body.vertices + sunk[:, None] * bed.press)


def _middle(bed: ClayBed, found: Imprint) -> Float:
    """Return the middle of the clay's pressure on the imprint, (3,)."""
    place = bed.clay_mesh.vertices + found.depth_mm[:, None] * bed.press
    return np.asarray(found.pressure_kpa @ place / found.pressure_kpa.sum())


def _open_outline(bed: ClayBed, found: Imprint, height: Float) -> tuple[float, float]:
    """Return the share of the contact's outline where no more body was scanned, and where the clay ends."""
    whole = np.zeros(bed.is_clay.shape, dtype=bool)
    whole[bed.is_clay] = found.is_touched
    is_seen = np.zeros(bed.is_clay.shape, dtype=bool)
    is_seen[bed.is_clay] = np.isfinite(height)
    around = ndimage.binary_dilation(whole) & ~whole
    count = max(int(around.sum()), 1)
    is_end = around & bed.is_clay & ~is_seen
    return float(is_end.sum()) / count, float((around & ~bed.is_clay).sum()) / count
