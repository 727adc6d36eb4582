"""Stage 10: the pad cut into closed regions that share their inner faces exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import InputError, SolidError
from ..firmness.zones import ZonePlan
from ..geometry.through import PadShape, body_side
from ..mesh import Float, Int, TriMesh
from ..progress import Progress, Steps
from .least_width import pushed, tidied
from .pieces import Piece, assembled
from .stray import without_specks
from .surface_cut import Index, SurfaceCut, cut_surface
from .walls import UnpairedBorderError, Wall, build_walls


@dataclass(frozen=True, eq=False)
class Region:
    """One closed solid of the pad.

    Attributes
    ----------
    id, name : str
        The zone's, with a number behind where the zone is in several pieces.
    firmness_level : float
    mesh : TriMesh
        Closed, part frame, mm.
    volume_cm3 : float
    zone : int
        Column of the plan.
    """

    id: str
    name: str
    firmness_level: float
    mesh: TriMesh
    volume_cm3: float
    zone: int


@dataclass(frozen=True, eq=False)
class Contact:
    """The faces two regions share.

    Attributes
    ----------
    first, second : str
        Region ids.
    area_mm2 : float
    first_faces, second_faces : (c,) int32
        Face numbers in the two meshes; face by face the same three points, turned the other way.
    """

    first: str
    second: str
    area_mm2: float
    first_faces: Int
    second_faces: Int


@dataclass(frozen=True, eq=False)
class RegionCut:
    """The regions and how they touch.

    Attributes
    ----------
    regions : tuple of Region
    contacts : tuple of Contact
        Empty where regions overlap instead of touching.
    volume_error : float
        Sum of the regions' volumes against the pad's, relative; before any overlap.
    notes : tuple of str
    """

    regions: tuple[Region, ...]
    contacts: tuple[Contact, ...]
    volume_error: float
    notes: tuple[str, ...] = ()


_ATTEMPTS = 6

VOLUME_TOLERANCE = 1e-6
"""The walls cancel in the sum, so only rounding is left; anything more is a fault."""


def cut_regions(pad: PadShape, plan: ZonePlan, *, least_width_mm: float, overlap_mm: float = 0.0) -> Steps[RegionCut]:
    """Cut the pad into one closed region for every connected piece of a zone.

    Parameters
    ----------
    pad : PadShape
    plan : ZonePlan
    least_width_mm : float
        Nothing is cut thinner than this, across the thickness; two bead widths.
    overlap_mm : float
        0: regions touch in identical faces. Above 0: each region reaches so far into the ones after it, which win.

    Raises
    ------
    InputError
        When a length is negative or the plan is of another pad.
    SolidError
        When a region does not close, is inside out, or the volumes do not add up.
    """
    if least_width_mm < 0 or overlap_mm < 0:
        raise InputError(f"Least width {least_width_mm} mm and overlap {overlap_mm} mm must not be negative.")
    if len(plan.weights) != len(pad.mesh.vertices):
        raise InputError(
            f"The zone plan is of a pad with {len(plan.weights)} vertices; this one has {len(pad.mesh.vertices)}."
        )
    yield Progress(0.0, "finding borders")
    cut, walls, notes = yield from _cut(pad, plan, least_width_mm)
    yield Progress(0.8, "closing regions")
    pieces = assembled(cut, walls, len(plan.zones))
    regions = _regions(plan, pieces)
    contacts = _contacts(regions, pieces)
    error = _checked(pad.mesh, regions)
    yield Progress(1.0, "regions done")
    return RegionCut(regions, contacts, error, tuple(notes))


def _cut(pad: PadShape, plan: ZonePlan, least_width_mm: float) -> Steps[tuple[SurfaceCut, list[Wall], list[str]]]:
    """Tidy the zones, cut the surface and build the walls; where the two sides disagree, settle it and try again."""
    body = body_side(pad)
    names = tuple(zone.name for zone in plan.zones)
    tidy = tidied(body, plan.weights[body.index], names, least_width_mm)
    notes = list(tidy.notes)
    yield Progress(0.4, "cutting the surface")
    shares = tidy.weights
    weights = body.on_pad(shares) if tidy.changed else plan.weights
    flat = TriMesh(body.flat(body.mesh.vertices), body.mesh.faces)
    edge_mm = float(
        np.sqrt(body.mesh.area / max(len(body.mesh.faces), 1)) * 1.52
    )  # of an even triangle: side = 1.52 sqrt(area)
    for attempt in range(_ATTEMPTS):
        label, weights = without_specks(pad.mesh, weights, body.index)
        cut = cut_surface(pad.mesh, label, weights)
        yield Progress(0.6, "building walls")
        try:
            return cut, build_walls(cut, _facing(pad, cut.parents), _press(pad)), notes
        except UnpairedBorderError as fault:
            if attempt == _ATTEMPTS - 1:
                raise
            radius = edge_mm * (2.0 + attempt)
            for spot in fault.faults:
                place = body.flat(spot.place[None])[0]
                near = ((flat.vertices - place) ** 2).sum(axis=1) < (2.0 * radius) ** 2
                column = int(shares[near].sum(axis=0).argmax()) if near.any() else spot.labels[0]
                shares = pushed(flat, shares, place, column, radius, 0.5)
                where = ", ".join(f"{value:.0f}" for value in spot.place)
                notes.append(f'Near ({where}) mm the borders of zones were simplified in favour of "{names[column]}".')
            weights = body.on_pad(shares)
    raise AssertionError


def _press(pad: PadShape) -> Float | None:
    if pad.press_direction is None:
        return None
    press = np.asarray(pad.press_direction, dtype=np.float64)
    return np.asarray(press / np.linalg.norm(press))


def _facing(pad: PadShape, parents: Index) -> Float:
    """Return for every vertex of the cut how much it faces the body: 1 to -1."""
    press = _press(pad)
    if press is None:
        side = np.asarray(pad.side)
        value = np.where(side == 1, 1.0, np.where(side == 2, -1.0, 0.0))
    else:
        value = -(pad.mesh.vertex_normals @ press)
    return np.asarray(value[parents].mean(axis=1))


def _regions(plan: ZonePlan, pieces: list[Piece]) -> tuple[Region, ...]:
    regions = []
    for column, zone in enumerate(plan.zones):
        own = [piece for piece in pieces if piece.label == column]
        for number, piece in enumerate(own, start=1):
            is_alone = len(own) == 1
            regions.append(
                Region(
                    id=zone.id if is_alone else f"{zone.id}-{number}",
                    name=zone.name if is_alone else f"{zone.name} {number}",
                    firmness_level=zone.level,
                    mesh=piece.mesh,
                    volume_cm3=piece.mesh.volume / 1000.0,
                    zone=column,
                )
            )
    return tuple(regions)


def _contacts(regions: tuple[Region, ...], pieces: list[Piece]) -> tuple[Contact, ...]:
    """Return which faces of which regions are the same; every face of a wall is on two of them."""
    owner = np.concatenate([np.full(len(piece.wall_number), index) for index, piece in enumerate(pieces)])
    face = np.concatenate([np.arange(len(piece.wall_number)) for piece in pieces])
    number = np.concatenate([piece.wall_number for piece in pieces])
    order = np.lexsort((owner, number))[np.count_nonzero(number < 0) :].reshape(-1, 2)
    if len(order) == 0:
        return ()
    pair = owner[order]
    contacts = []
    for first, second in np.unique(pair, axis=0).tolist():
        chosen = order[(pair == (first, second)).all(axis=1)]
        one, two = face[chosen[:, 0]].astype(np.int32), face[chosen[:, 1]].astype(np.int32)
        area = float(regions[first].mesh.face_areas[one].sum())
        contacts.append(Contact(regions[first].id, regions[second].id, area, one, two))
    return tuple(contacts)


def _checked(pad: TriMesh, regions: tuple[Region, ...]) -> float:
    """Return the relative error of the sum of volumes.

    Raises
    ------
    SolidError
        When a region is open or turned wrongly, or the volumes do not add up.
    """
    for region in regions:
        if not region.mesh.is_closed:
            raise SolidError(
                f'The region "{region.name}" did not close ({len(region.mesh.boundary_edges)} open edges, '
                f"{region.volume_cm3:.3f} cm3).",
                hint="Move its border or leave the zone out.",
            )
    error = abs(sum(region.mesh.volume for region in regions) / pad.volume - 1.0)
    if error > VOLUME_TOLERANCE:
        raise SolidError(f"The regions' volumes differ from the pad's by {error:.1e} of it.")
    return float(error)
