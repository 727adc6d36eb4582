"""The pad cut into closed regions that share their inner faces exactly."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...base.errors import InputError, SolidError
from ...base.mesh import Int, TriMesh
from ...base.notes import to_act_on
from ...base.progress import Progress, Steps
from ...base.slugs import unique_slugs, unused_name
from ...base.text import counted
from ...geometry.through import PadShape, body_side
from ..zones.zones import ZonePlan
from .closed_pieces import Piece
from .least_width import tidied
from .overlap import grown_pieces
from .settle_labels import settled


@dataclass(frozen=True, eq=False)
class Region:
    """One closed solid of the pad."""

    # Both: the zone's, with a number behind where the zone is in several pieces.
    id: str
    name: str
    firmness_level: float
    mesh: TriMesh  # closed, part frame, mm
    volume_cm3: float
    zone: int  # column of the plan


@dataclass(frozen=True, eq=False)
class Contact:
    """The faces two regions share."""

    # Both: region ids.
    first: str
    second: str
    area_mm2: float
    # Both (c,) int32: face numbers in the two meshes; face by face the same three points, turned the other way. Empty
    # where the regions overlap.
    first_faces: Int
    second_faces: Int


@dataclass(frozen=True, eq=False)
class RegionCut:
    """The regions and how they touch."""

    regions: tuple[Region, ...]
    contacts: tuple[Contact, ...]  # where regions overlap, the faces they would share if they touched
    volume_error: float  # sum of the regions' volumes against the pad's, relative; before any overlap
    notes: tuple[str, ...] = ()
    is_overlapping: bool = False


VOLUME_TOLERANCE = 1e-6
"""The walls cancel in the sum, so only rounding is left; anything more is a fault."""


def cut_regions(pad: PadShape, plan: ZonePlan, *, least_width_mm: float, overlap_mm: float = 0.0) -> Steps[RegionCut]:
    """Cut the pad into one closed region for every connected piece of a zone.

    Raises InputError when a length is negative or the plan is of another pad; SolidError when a region does not close,
    is inside out, or the volumes do not add up.

    Parameters
    ----------
    least_width_mm : float
        Nothing is cut thinner than this, across the thickness; two bead widths.
    overlap_mm : float
        0: regions touch in identical faces. Above 0: each region reaches so far into the ones after it, which win.
    """
    if least_width_mm < 0 or overlap_mm < 0:
        raise InputError(f"Least width {least_width_mm} mm and overlap {overlap_mm} mm must not be negative.")
    if len(plan.weights) != len(pad.mesh.vertices):
        raise InputError(
            f"The zone plan is of a pad with {len(plan.weights)} vertices; this one has {len(pad.mesh.vertices)}."
        )
    yield Progress(0.0, "finding borders")
    body = body_side(pad)
    names = tuple(zone.name for zone in plan.zones)
    is_step = [zone.between is not None for zone in plan.zones]
    tidy = tidied(body, plan.weights[body.index], names, least_width_mm, is_step)
    yield Progress(0.4, "cutting the surface")
    carried = None if tidy.changed else plan.weights
    found = settled(pad, body, tidy.weights, names, least_width_mm, carried, is_step)
    yield Progress(0.7, "closing regions")
    pieces = found.pieces
    regions = _regions(plan, pieces)
    error = _checked(pad.mesh, regions)
    notes = [*tidy.notes, *found.notes, *_piece_notes(plan, regions)]
    if overlap_mm == 0.0:
        yield Progress(1.0, "regions done")
        return RegionCut(regions, _contacts(regions, pieces), error, tuple(notes))
    yield Progress(0.8, "letting regions overlap")
    grown: list[Piece] = []
    for column, name in enumerate(names):
        own = [piece for piece in pieces if piece.label == column]
        for piece in grown_pieces(pad, body, found.shares, column, own, name, overlap_mm):
            grown.append(Piece(column, piece.mesh, piece.wall_number))
    contacts = _contacts(regions, pieces)
    none = np.zeros(0, dtype=np.int32)
    contacts = tuple(replace(each, first_faces=none, second_faces=none) for each in contacts)
    regions = _regions(plan, grown)
    _check_closed(regions)
    notes.append(f"Each region reaches {overlap_mm:g} mm into those after it; where two overlap, the later one counts.")
    yield Progress(1.0, "regions done")
    return RegionCut(regions, contacts, error, tuple(notes), is_overlapping=True)


def uncut(pad: PadShape, plan: ZonePlan) -> RegionCut:
    """Return a pad as one region, of the zone that has most of its body side and the mean of the levels there.

    Raises SolidError when no face has all its corners on the body side.
    """
    body = body_side(pad)
    corner = np.argmax(plan.weights[body.index], axis=1)[body.mesh.faces].ravel()
    area = np.bincount(corner, np.repeat(body.mesh.face_areas / 3.0, 3), len(plan.zones))
    level = float(area @ [zone.level for zone in plan.zones] / area.sum())
    region = Region("pad", "pad", round(level, 2), pad.mesh, pad.mesh.volume / 1000.0, int(np.argmax(area)))
    return RegionCut((region,), (), _checked(pad.mesh, (region,)))


def _regions(plan: ZonePlan, pieces: list[Piece]) -> tuple[Region, ...]:
    ids, names = [], []
    for column, zone in enumerate(plan.zones):
        count = sum(piece.label == column for piece in pieces)
        ids += [zone.id] if count == 1 else [f"{zone.id}-{number + 1}" for number in range(count)]
        if count == 1:
            names.append(zone.name)
            continue
        for number in range(count):  # another zone may have that name
            names.append(unused_name(f"{zone.name} {number + 1}", {*names, *(each.name for each in plan.zones)}))
    return tuple(
        Region(own_id, name, plan.zones[piece.label].level, piece.mesh, piece.mesh.volume / 1000.0, piece.label)
        for own_id, name, piece in zip(unique_slugs(ids), names, pieces, strict=True)
    )


def _piece_notes(plan: ZonePlan, regions: tuple[Region, ...]) -> list[str]:
    notes: list[str] = []
    for column, zone in enumerate(plan.zones):
        count = sum(region.zone == column for region in regions)
        if count == 0:
            notes.append(to_act_on(f'Nothing is left of the zone "{zone.name}": it was too narrow to print.'))
        elif count > 1:
            notes.append(f'The zone "{zone.name}" is in {count} pieces, one region each.')
    return notes


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

    Raises SolidError when a region is open or turned wrongly, or the volumes do not add up.
    """
    _check_closed(regions)
    error = abs(sum(region.mesh.volume for region in regions) / pad.volume - 1.0)
    if error > VOLUME_TOLERANCE:
        raise SolidError(f"The regions' volumes differ from the pad's by {error:.1e} of it.")
    return float(error)


def _check_closed(regions: tuple[Region, ...]) -> None:
    for region in regions:
        if not region.mesh.is_closed:
            raise SolidError(
                f'The region "{region.name}" did not close ({counted(len(region.mesh.boundary_edges), "open edge")}, '
                f"{region.volume_cm3:.3f} cm3).",
                hint="Move its border or leave the zone out.",
            )
