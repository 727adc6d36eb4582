"""One closed solid between base and body."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.errors import InputError, SolveError
from ...base.mesh import Bool, Float, Int, TriMesh
from ...base.notes import on_change
from ...base.progress import Progress, Steps
from ...base.together import at_the_side, both, together
from ...geometry.implicit import Field, Grid, rounded_max, scan_field, solid_field
from ...geometry.pad_length import pad_length
from ...geometry.through import PadShape
from .drawn_outline import outline_inside
from .fit_numbers import fit_gaps, scan_scatter
from .footprint import Footprint, column_thickness, largest_piece, press_footprint, wrap_footprint
from .footprint_contact import contact_share, ends_around_contact, missed_contact
from .imprint_gap import imprint_gap
from .pad_grid import choose_grid, coarse_notes, inner_points, to_grid_frame
from .pad_settings import ClayReading, PadSettings
from .pad_surface import BODY, RIM, extract_surface, vertex_sides
from .pad_thickness import find_field, least_in, thin_note
from .relief import carve, channel_note
from .thinner import with_what_works


@dataclass(frozen=True, eq=False)
class BuiltPad(PadShape):
    """The flexible part as one closed solid, with the evidence for its fit.

    Mesh (closed, part frame), sides, (n,), and press direction, (3,), None for a wrap-around part, are `PadShape`'s.
    """

    thickness: Float  # (n,), mm; length of pad under each vertex (`geometry.pad_length`)
    volume_cm3: float
    footprint_cm2: float
    least_thickness_mm: float | None  # least length of pad in its field: away from the rim, whose edges are rounded
    # least length of pad within the rim; None where no place of the rim has a column of its own.
    rim_thickness_mm: float | None
    greatest_thickness_mm: float
    # step_mm, averaging_mm: grid step and kernel width the pad was made with.
    step_mm: float
    averaging_mm: float
    # base_gap_mm, body_gap_mm: from the base side to the base scan's own surface, and from the body side, less the
    # cover, to the impression's: 5th percentile, median, 95th; outward is positive. Measured away from the rim, on the
    # finished mesh.
    base_gap_mm: tuple[float, float, float] | None
    body_gap_mm: tuple[float, float, float] | None
    base_noise_mm: float  # scatter of the base scan about the base side
    base_noise_left_mm: float  # what averaging leaves of it
    # change of the body side against the locally averaged scan, away from the rim, 95th percentile.
    body_change_mm: float
    thickened_cm2: float  # area where the clay was thinner than asked and the pad was made thicker
    left_out_cm3: float  # volume of pieces that hang together with nothing and were left out
    is_through: Bool  # (n,); body side with pad below it down to the base side: what can bear
    # (n,); from the body side up to the imprint, less the cover, along the press direction; negative where the pad
    # stands into it, 0 off the body side and without an impression.
    gap_mm: Float
    notes: tuple[str, ...] = field(default=())


def build_pad(
    base: TriMesh,
    impression: TriMesh | None,
    reading: ClayReading,
    settings: PadSettings,
    scanned: TriMesh | None = None,
) -> Steps[BuiltPad]:
    """Build the pad between the base and the impression; both may be open and noisy.

    The scans are cleaned, in the part frame, mm; without an impression the settings must hold an envelope, and the
    reading is `BaseOnly`. `scanned` is the impression with the triangles it was scanned with, where `impression` was
    cut finer: how coarse it is.

    Raises InputError when a setting makes no sense; SolveError when there is no clay thick enough; SolidError when no
    closed surface comes out.

    Notes
    -----
    Both scans become signed-distance fields on one grid (`scan_field`); the pad is where the impression's field is
    negative, the base's exceeds the gap, and the footprint holds. What coincides outside the clay is never intersected,
    holes and open borders need no mending, and undercuts are as good as any other shape.
    """
    _check(settings, impression)
    turn = to_grid_frame(reading.press_direction)
    # Asked before they are turned: a scan that was read knows its open borders.
    borders = [scan.boundary_edges for scan in (base, impression) if scan is not None]
    base = base.transformed(turn)
    impression = None if impression is None else impression.transformed(turn)
    reliefs = [relief.moved(turn) for relief in settings.reliefs]
    grid, width = choose_grid(impression, base, reading, settings, turn)
    yield Progress(0.05, "measuring the base" if impression is None else "measuring the base and the body side")
    base_field, *others = together(
        [partial(scan_field, scan, grid, width) for scan in (base, impression) if scan is not None]
    )
    # Without a body everything is under it, down to the grid's floor.
    body_field = others[0] if others else _everywhere_under(grid)
    yield Progress(0.55, "finding the outline")
    below = np.asarray(settings.fit_gap_mm - base_field, dtype=np.float32)
    covered = above = np.asarray(body_field + settings.cover_mm, dtype=np.float32)
    is_press = reading.press_direction is not None
    inner = inner_points(impression, reading, grid)
    footprint, missed = _footprint_of_contact(above, below, grid, base, settings, turn, reading, inner, impression)
    uncut = _thickened(above, below, footprint, grid, settings, is_press)
    above, inside = carve(
        uncut,
        below,
        footprint.inside,
        grid,
        reliefs,
        is_press=is_press,
        rim_radius=settings.rim_radius_mm,
        is_envelope=settings.envelope is not None,
    )
    outside = -inside
    cut = channel_note(uncut, above, below, outside, grid.step, is_press=is_press) if reliefs else None
    is_behind = _behind_base(below) if is_press else np.zeros((1, 1, 1), dtype=bool)
    solid, left_out = _only_one_piece(_rounded(above, below, outside, grid, settings), grid, inner, is_behind)
    solid = _closed_at_border(solid, grid)
    yield Progress(0.7, "making the surface")
    with at_the_side(
        partial(scan_scatter, base, impression, base_field, body_field, grid, width, inside)
    ) as found_scatter:
        mesh, crumbs = extract_surface(solid, grid)
        scatter = found_scatter()
    if reliefs:
        _refuse_if_cut_in_two(mesh.volume / 1000.0, (left_out + crumbs) / 1000.0)
    yield Progress(0.9, "measuring the pad")
    side = vertex_sides(mesh, grid, above, below, outside)
    if settings.envelope is not None:
        side = _with_envelope_top(mesh, side, is_press)
    along = np.array([0.0, 0.0, -1.0]) if is_press else None
    seen = (base, impression, borders, body_field, grid, width, inside)
    found, gaps = both(lambda: pad_length(mesh, side, along), lambda: fit_gaps(mesh, side, settings, *seen))
    is_field = find_field(mesh, grid, solid, inside, found.is_through, settings, is_press)
    pad = BuiltPad(
        mesh=mesh.transformed(turn.T),
        side=side,
        thickness=found.length_mm,
        is_through=found.is_through,
        gap_mm=imprint_gap(covered, grid, mesh.vertices, (side == BODY) & (impression is not None), is_press),
        press_direction=reading.press_direction,
        volume_cm3=mesh.volume / 1000.0,
        footprint_cm2=footprint.area_mm2 / 100.0,
        least_thickness_mm=least_in(found.length_mm, is_field),
        rim_thickness_mm=least_in(found.length_mm, found.is_through & ~is_field),
        greatest_thickness_mm=float(found.length_mm[found.is_through].max(initial=0.0)),
        step_mm=grid.step,
        averaging_mm=width,
        thickened_cm2=footprint.filled_mm2 / 100.0,
        left_out_cm3=(left_out + crumbs) / 1000.0,
        **gaps,
        **scatter,
    )
    thin = thin_note(pad.mesh, pad.thickness, is_field, settings, pad.press_direction)
    as_scanned = impression if scanned is None else scanned.transformed(turn)
    coarse = coarse_notes(grid, width, {"base scan": base, "impression scan": as_scanned})
    yield Progress(1.0, "pad done")
    return replace(pad, notes=_notes_on(pad, coarse, (footprint.note, missed, cut, thin)))


def _rounded(above: Field, below: Field, outside: Field, grid: Grid, settings: PadSettings) -> Field:
    return np.maximum(
        rounded_max(above, outside, settings.rim_radius_mm, grid.step),
        rounded_max(below, outside, settings.base_edge_radius_mm, grid.step),
    )


def _everywhere_under(grid: Grid) -> Field:
    return np.full(grid.shape, np.float32(-np.linalg.norm(np.array(grid.shape) * grid.step)))


def _with_envelope_top(mesh: TriMesh, side: NDArray[np.int8], is_press: bool) -> NDArray[np.int8]:
    """Count what the envelope itself shows to the body as body side: all of it, or what faces up."""
    is_top = (side == RIM) & ((mesh.vertex_normals[:, 2] > 0.5) if is_press else np.ones(len(side), dtype=bool))
    return np.where(is_top, np.int8(BODY), side)


def _check(settings: PadSettings, impression: TriMesh | None) -> None:
    if impression is None and settings.envelope is None:
        raise InputError(
            "There is neither an impression nor an envelope, so the pad has no body side.",
            hint="Give [impression] scan, or [pad] envelope.",
        )
    if settings.rim_radius_mm + settings.base_edge_radius_mm > settings.least_thickness_mm:
        raise InputError(
            f"Rim radii of {settings.rim_radius_mm:g} and {settings.base_edge_radius_mm:g} mm do not fit a rim "
            f"{settings.least_thickness_mm:g} mm thick.",
            hint="Together they may be as large as the least thickness.",
        )


def _footprint_of_contact(
    above: Field,
    below: Field,
    grid: Grid,
    base: TriMesh,
    settings: PadSettings,
    turn: Float,
    reading: ClayReading,
    inner: Int | None,
    impression: TriMesh | None,
) -> tuple[Footprint, str | None]:
    """Return the footprint, and what to say of the contact that it misses."""

    def found(asked: PadSettings) -> Footprint:
        return _footprint(above, below, grid, base, asked, turn, reading, inner)

    if settings.outline is not None or settings.envelope is not None or impression is None:
        return found(settings), None
    try:
        whole = found(settings)
        is_press = reading.press_direction is not None
        footprint = ends_around_contact(whole, grid, impression, reading.is_contact, settings, is_press)
        return footprint, missed_contact(footprint, grid, impression, reading.is_contact, settings)
    except SolveError as error:
        if error.key == ("pad", "footprint_from"):
            raise
        raise with_what_works(
            error,
            settings,
            lambda least: contact_share(
                found(replace(settings, least_thickness_mm=least)), grid, impression, reading.is_contact
            ),
        ) from error


def _footprint(
    above: Field,
    below: Field,
    grid: Grid,
    base: TriMesh,
    settings: PadSettings,
    turn: Float,
    reading: ClayReading,
    inner: Int | None,
) -> Footprint:
    raw = np.maximum(above, below)
    if settings.envelope is not None:
        inside = -solid_field(settings.envelope.transformed(turn), grid)
        return Footprint(inside, float((inside > 0).any(axis=2).sum() * grid.step**2), 0.0)
    is_press = reading.press_direction is not None
    piece = ndimage.binary_dilation(largest_piece(raw < 0.0, inner), iterations=2)
    raw = np.where(piece, raw, np.maximum(raw, np.float32(grid.step)))
    least = settings.least_thickness_mm
    if settings.outline is not None:
        inside = outline_inside(settings.outline @ turn[:3, :3].T, grid, is_press, above, below)
        if not ((inside > 0.0) & (raw < 0.0)).any():
            x, y, z = settings.outline.mean(axis=0)
            error = InputError(
                f"The footprint around ({x:.0f}, {y:.0f}, {z:.0f}) mm lies beside the clay: nothing is left.",
                hint="Draw it over the clay; its points are in the numbers of the scan it lies on.",
            )
            error.key = ("pad", "footprint")
            raise error
        return Footprint(inside, float((inside > 0).any(axis=2).sum() * grid.step**2), 0.0)
    if is_press:
        return press_footprint(raw, grid, least)
    return wrap_footprint(raw, grid, base, settings.fit_gap_mm, least)


def _thickened(
    above: Field, below: Field, footprint: Footprint, grid: Grid, settings: PadSettings, is_press: bool
) -> Field:
    """Return the body field lowered where the clay over the footprint is thinner than asked."""
    if settings.envelope is not None:
        return above
    # Between grid points surfaces run a little otherwise than straight: a seventh of a step is over what that takes.
    least = settings.least_thickness_mm + 0.15 * grid.step
    least_layer = -below - np.float32(least)
    if not is_press:
        return np.asarray(np.minimum(above, np.maximum(least_layer, -footprint.inside)), dtype=np.float32)
    lacking = least - column_thickness(np.maximum(above, below), grid.step)
    is_thin = (lacking > 0.0) & (footprint.inside[:, :, 0] > 0.0)
    if not is_thin.any():
        return above
    # The layer reaches its full height within the thin place and fades over two steps around it.
    fade = ndimage.distance_transform_edt(~is_thin).astype(np.float32) * np.float32(grid.step)
    return np.asarray(np.minimum(above, least_layer + fade[:, :, None]), dtype=np.float32)


def _refuse_if_cut_in_two(volume_cm3: float, left_out_cm3: float) -> None:
    """Refuse reliefs that part the pad: a twentieth of it is no crumb of noise (our choice)."""
    if left_out_cm3 > 0.05 * (volume_cm3 + left_out_cm3):
        raise SolveError(
            f"The openings and channels cut the pad into pieces: {left_out_cm3:.1f} of "
            f"{volume_cm3 + left_out_cm3:.1f} cm3 would hang together with nothing.",
            hint="Make them smaller or shallower, or move them so that pad is left beside them.",
        )


def _only_one_piece(solid: Field, grid: Grid, inner: Int | None, is_behind: Bool) -> tuple[Field, float]:
    """Return the field of the main piece alone, and the volume of the others, mm3, but for what is behind the base."""
    piece = largest_piece(solid < 0.0, inner)
    others = (solid < 0.0) & ~piece
    return np.where(others, np.float32(0.5 * grid.step), solid), float((others & ~is_behind).sum()) * grid.step**3


def _behind_base(below: Field) -> Bool:
    """Return which places, (nx, ny, nz), lie lower than the side of the base that the body sees, or that next to them.

    No clay was laid there: pieces come of two scans that end otherwise past the base's edge.
    """
    is_base = below >= 0.0
    top = np.where(is_base, np.arange(below.shape[2]), -1).max(axis=2)
    if (top < 0).all():
        return np.zeros_like(is_base)
    nearest = ndimage.distance_transform_edt(top < 0, return_distances=False, return_indices=True)
    return np.asarray(np.arange(below.shape[2]) < top[tuple(nearest)][:, :, None])


def _closed_at_border(solid: Field, grid: Grid) -> Field:
    closed = solid.copy()
    for axis in range(3):
        for end in (0, -1):
            face = np.moveaxis(closed, axis, 0)[end]
            np.maximum(face, np.float32(0.5 * grid.step), out=face)
    return closed


def _notes_on(pad: BuiltPad, coarse: Sequence[str], told: tuple[str | None, ...]) -> tuple[str, ...]:
    """Return the notes a person should read with the numbers, what changes the part first.

    They begin with what footprint, channels and `thin_note` have told, if anything; `coarse` is what `coarse_notes`
    says.
    """
    notes = [note for note in told if note]
    if pad.left_out_cm3 > 0.0005:
        notes.append(
            on_change(
                f"Pieces of {pad.left_out_cm3:.3g} cm3 in all hang together with nothing and were left out; the main "
                f"body has {pad.volume_cm3:.1f} cm3."
            )
        )
    if pad.thickened_cm2 > 0.05:
        notes.append(
            on_change(
                f"Over {pad.thickened_cm2:.1f} cm2 the clay was thinner than asked; the pad was thickened there, so "
                "the body presses deeper than it did in the clay."
            )
        )
    notes += coarse
    if pad.base_noise_mm < 0.005:
        notes.append(
            "From point to point the base scan scatters by less than 0.01 mm; noise in waves longer than "
            f"{pad.averaging_mm:.1f} mm cannot be told from shape and stays on the pad's base side."
        )
    else:
        notes.append(
            f"The base scan scatters by {pad.base_noise_mm:.2f} mm; averaging leaves {pad.base_noise_left_mm:.2f} mm "
            "of it on the pad's base side."
        )
    return tuple(notes)
