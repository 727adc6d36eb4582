"""Clean a scan: one welded, consistently turned surface without debris; every change is told with a number."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...base.errors import ScanError
from ...base.mesh import Float, Int, TriMesh
from ...base.notes import to_act_on, to_look_at
from ...base.progress import Progress, Steps
from ...base.text import counted
from .debris import choose_pieces
from .filling import assembled, fill_small_holes
from .mend import part_crowded_edges, repeats_to_drop, split_at_parted_edges, take_out_flat_faces, turn_alike
from .outer_side import outside_evidence
from .scan_facts import ScanFacts, Survey, survey
from .spikes import far_points, needle_tips
from .topology import (
    EdgeTable,
    edge_table,
    face_pieces,
    face_vectors,
    half_edge_ends,
    kept_half_edges,
    touches,
    turned_half_edges,
)


@dataclass(frozen=True, eq=False)
class CleanScan:
    """A scan ready to work with; it may be open."""

    # Welded, turned alike with the outside out, in mm. Every vertex has the place it had in the scan, new ones in
    # filled holes follow after the old ones.
    mesh: TriMesh
    before: ScanFacts
    after: ScanFacts
    filled_holes: int
    new_vertices: int
    outside_is_sure: bool  # False where an open surface left doubt about its side and the file's was kept
    notes: tuple[str, ...]  # what was mended and dropped, with numbers


def clean_scan(
    mesh: TriMesh,
    *,
    role: str = "scan",
    widest_filled_mm: float | None = None,
    turn_over: bool | None = None,
) -> Steps[CleanScan]:
    """Clean a scan, step by step.

    Parameters
    ----------
    mesh : TriMesh, mm
        As read, with any fault.
    role : str
        What the person calls it ("base scan"), for messages.
    widest_filled_mm : float, optional
        Holes up to this width are filled; default 40 mm or a fifth of the part's length, whichever is less; 0 for none.
    turn_over : bool, optional
        True turns the whole surface over, False keeps the file's side; default: decided from the shape.

    Raises
    ------
    ScanError
        When no usable triangle is left, or the surface is in shreds.
    """
    notes: list[str] = []
    yield Progress(0.0, f"Looking at the {role}")
    found = survey(mesh)
    before = found.facts
    kept, points, faces, table = found.kept_points, found.points, found.faces, found.table
    if len(faces) == 0:
        held = counted(before.triangles, "triangle")
        raise ScanError(f"The {role} has {held} and none can be used.", hint="Scan it again.")
    _note_counts(before, notes)
    yield Progress(0.35, "Taking out spikes and broken triangles")
    faces, changed = _without_faults(points, faces, found, notes)
    if len(faces) == 0:
        raise ScanError(f"The {role} has no usable triangle left after cleaning.", hint="Scan it again.")
    if changed:
        table = edge_table(faces, len(points))
    vectors = None if changed or len(table.crowded) else found.face_vectors
    labels = None if changed or len(table.crowded) else found.piece
    del found
    if len(table.crowded):
        faces, table = _without_repeats(points, faces, table, notes)
    yield Progress(0.5, "Turning patches alike")
    surface = _turned_alike(points, faces, kept, table, vectors, notes)
    points, faces, kept, vectors, pairs = surface.points, surface.faces, surface.kept, surface.vectors, surface.pairs
    turned, parted = surface.turned, surface.parted
    del surface  # and with it the arrays that are made anew below
    yield Progress(0.65, "Telling the part from debris")
    if labels is None or parted:
        piece_count, piece = face_pieces(len(faces), pairs)
    else:
        piece_count, piece = before.pieces, labels
    is_border = np.ones(3 * len(faces), dtype=bool)
    is_border[pairs.reshape(-1)] = False
    border = np.flatnonzero(is_border).astype(np.int32)
    del is_border, pairs
    if piece_count > 1:
        choice = choose_pieces(points, faces, vectors, piece, piece_count, border, before.edge_length, role)
        notes += choice.notes
        is_kept_face = choice.is_kept[piece]
        faces, vectors, piece = faces[is_kept_face], vectors[is_kept_face], piece[is_kept_face]
        border = kept_half_edges(border, is_kept_face)
    yield Progress(0.75, "Finding the outside")
    leading = faces[:, 0].copy()
    faces, vectors, border, is_sure = _outside_out(points, faces, vectors, piece, border, turn_over, role, notes)
    yield Progress(0.8, "Filling small holes")
    new_points, new_faces, filled = fill_small_holes(points, faces, vectors, border, widest_filled_mm, notes)
    cleaned = assembled(mesh, kept, points, faces, new_points, new_faces)
    yield Progress(0.9, f"Looking at the cleaned {role}")
    is_touched = changed or len(table.crowded) or turned or parted or len(new_faces)
    if not is_touched and len(cleaned.faces) == before.triangles and np.array_equal(leading, faces[:, 0]):
        # Nothing but joined or unused points went, and the facts take equal points as one anyway.
        after = replace(
            before, vertices=len(cleaned.vertices), repeated_points=0, near_points=0, near_gap=0.0, unused_points=0
        )
    else:
        after = survey(cleaned, is_welded=True).facts
    yield Progress(1.0, f"The {role} is clean")
    return CleanScan(cleaned, before, after, filled, len(new_points), is_sure, tuple(notes))


@dataclass(frozen=True, eq=False)
class _Surface:
    """Faces that run alike, the half-edges that meet, and how many faces were turned and edges cut for it."""

    points: Float
    faces: Int
    kept: Int
    vectors: Float
    pairs: Int
    turned: int
    parted: int


def _turned_alike(
    points: Float, faces: Int, kept: Int, table: EdgeTable, vectors: Float | None, notes: list[str]
) -> _Surface:
    """Cut the surface loose at edges of more than two faces, and turn neighbors to face alike."""
    pairs = part_crowded_edges(points, faces, table)
    if len(table.crowded):
        notes.append(
            f"{counted(table.crowded_count, 'edge')} lay on more than two triangles; the flattest pair stayed joined "
            "at each, the rest was cut loose."
        )
        faces, source = split_at_parted_edges(faces, pairs, table.crowded)
        points, kept = points[source], kept[source]
    vectors = face_vectors(points, faces) if vectors is None else vectors
    area = np.sqrt(np.einsum("ij,ij->i", vectors, vectors))
    runs_alike = half_edge_ends(faces, pairs[:, 0])[0] == half_edge_ends(faces, pairs[:, 1])[0]
    faces, pairs, turned, parted = turn_alike(faces, pairs, runs_alike, area)
    if turned:
        vectors = face_vectors(points, faces)
        notes.append(f"Turned over to face like their neighbors: {counted(turned, 'triangle')}.")
    if parted:
        notes.append(
            to_look_at(f"The surface has one side only (a twisted band); it was cut at {counted(parted, 'edge')}.")
        )
    return _Surface(points, faces, kept, vectors, pairs, turned, parted)


def _note_counts(before: ScanFacts, notes: list[str]) -> None:
    """Say what joining equal points and leaving out unusable faces changed."""
    if before.not_finite_points:
        lost = counted(before.not_finite_points, "vertex", "vertices")
        notes.append(f"Dropped with their triangles: {lost} without usable coordinates.")
    if before.repeated_points:
        notes.append(f"Joined: {counted(before.repeated_points, 'vertex', 'vertices')} at another's place.")
    if before.near_points:
        corners = counted(before.near_points, "vertex", "vertices")
        notes.append(
            f"Joined: {corners} up to {before.near_gap:.2g} mm from another's place, where triangles did not share "
            f"their corners; that is far below the typical edge of {before.edge_length:.2g} mm."
        )
    if before.unused_points:
        notes.append(f"Dropped: {counted(before.unused_points, 'vertex', 'vertices')} in no triangle.")
    if before.faces_without_area:
        notes.append(f"Taken out: {counted(before.faces_without_area, 'triangle')} without area.")


def _without_faults(points: Float, faces: Int, found: Survey, notes: list[str]) -> tuple[Int, bool]:
    """Return the faces without spikes and without those that have no area, and whether any changed."""
    count = len(faces)
    used = np.zeros(len(points), dtype=bool)
    used[faces.reshape(-1)] = True
    is_far = far_points(points, used)
    if is_far.any():
        faces = faces[~touches(is_far, faces)]
        middle = np.median(points[used & ~is_far], axis=0)
        farthest = float(np.linalg.norm(points[is_far] - middle, axis=1).max())
        notes.append(
            f"{counted(int(is_far.sum()), 'vertex', 'vertices')} up to {_length(farthest)} from the part dropped, with "
            f"{counted(count - len(faces), 'triangle')}."
        )
    tips = needle_tips(points, faces, found.facts.edge_length)
    if len(tips):
        is_tip = np.zeros(len(points), dtype=bool)
        is_tip[tips] = True
        faces = faces[~touches(is_tip, faces)]
        notes.append(f"Needles out of the surface dropped: {counted(len(tips), 'vertex', 'vertices')}.")
    removed = 0
    if found.is_flat.any():
        faces, removed = take_out_flat_faces(points, faces)
    return faces, removed > 0 or len(faces) != count


def _length(value_mm: float) -> str:
    """Return a length in a unit that suits it."""
    if value_mm >= 1e6:
        return f"{value_mm / 1e6:.3g} km"
    return f"{value_mm / 1e3:.3g} m" if value_mm >= 1e3 else f"{value_mm:.3g} mm"


def _without_repeats(points: Float, faces: Int, table: EdgeTable, notes: list[str]) -> tuple[Int, EdgeTable]:
    """Return the faces without those that repeat another, and their edges."""
    dropped, folded = repeats_to_drop(faces, table)
    if len(dropped) == 0:
        return faces, table
    is_kept = np.ones(len(faces), dtype=bool)
    is_kept[dropped] = False
    notes.append(
        f"Dropped: {counted(len(dropped), 'triangle')} there twice or more"
        + (f" ({folded} of them with their twin, a fold without thickness)." if folded else ".")
    )
    faces = faces[is_kept]
    return faces, edge_table(faces, len(points))


def _outside_out(
    points: Float,
    faces: Int,
    vectors: Float,
    piece: Int,
    border: Int,
    turn_over: bool | None,
    role: str,
    notes: list[str],
) -> tuple[Int, Float, Int, bool]:
    """Return the faces with the outside out, their area vectors, the border and whether that is sure."""
    labels, small = np.unique(piece, return_inverse=True)
    small = small.reshape(-1)
    if turn_over is not None:
        if turn_over:
            notes.append(f"The {role} was turned over, as asked.")
            every = np.ones(len(faces), dtype=bool)
            return np.ascontiguousarray(faces[:, ::-1]), -vectors, turned_half_edges(border, every), True
        return faces, vectors, border, True
    area = np.bincount(small, np.sqrt(np.einsum("ij,ij->i", vectors, vectors)), len(labels))
    over = np.zeros(len(labels), dtype=bool)
    is_sure = True
    pieces_over: list[str] = []
    border_at = points[half_edge_ends(faces, border)[0]] if len(border) else np.zeros((0, 3))
    owner = small[border // 3]
    for label in np.argsort(-area)[:20]:
        mine = small == label
        if len(labels) == 1:
            evidence = outside_evidence(points, faces, vectors, border_at)
        else:
            evidence = outside_evidence(points, faces[mine], vectors[mine], border_at[owner == label])
        if evidence.is_inside_out:
            over[label] = True
            basis = (
                f"its volume comes out as {evidence.enclosed_volume / 1000:.4g} cm3"
                if evidence.openness <= 0.15
                else f"{counted(evidence.grooves, 'place bends', 'places bend')} sharply inward, "
                f"{evidence.ridges} outward"
            )
            pieces_over.append(basis)
        elif not evidence.is_sure and area[label] >= 0.5 * area.max():
            is_sure = False
    if pieces_over:
        named = f"The {role} was" if len(labels) == 1 else f"{counted(len(pieces_over), 'piece')} of the {role} came"
        notes.append(f"{named} inside out ({pieces_over[0]}); turned over.")
    if not is_sure:
        notes.append(
            to_act_on(
                f"By the shape of the {role} its outer side is not sure; the side its file gives was kept. See that "
                "the pad lies on that side."
            )
        )
    turned = over[small]
    if not turned.any():
        return faces, vectors, border, is_sure
    faces, vectors = faces.copy(), vectors.copy()
    faces[turned] = faces[turned][:, ::-1]
    vectors[turned] *= -1
    return faces, vectors, turned_half_edges(border, turned), is_sure
