"""Clean a scan: one welded, consistently turned surface without debris; every change is told with a number."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...base.errors import ScanError
from ...base.mesh import Bool, Float, Int, TriMesh, area_vectors
from ...base.notes import to_act_on, to_look_at
from ...base.progress import Progress, Steps
from ...base.rows import lengths
from ...base.text import counted
from .debris import choose_pieces
from .filling import assembled, fill_small_holes
from .mend import part_crowded_edges, repeats_to_drop, split_at_parted_edges, take_out_flat_faces, turn_alike
from .mended import Mended, find_mended
from .outer_side import outside_evidence
from .scan_facts import ScanFacts, survey
from .spikes import far_points, needle_tips
from .topology import (
    EdgeTable,
    edge_table,
    face_pieces,
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
    mended: Mended  # where


def clean_scan(mesh: TriMesh, *, role: str = "scan", widest_filled_mm: float | None = None) -> Steps[CleanScan]:
    """Clean a scan, mm, as read, with any fault; the person calls it by its role ("base scan").

    Holes up to a width are filled; by default 40 mm or a fifth of the part's length, whichever is less.

    Raises ScanError when no usable triangle is left, or the surface is in shreds.
    """
    yield Progress(0.0, f"Looking at the {role}")
    work = _Surface(mesh, role)
    for fraction, text, step in (
        (0.35, "Taking out spikes and broken triangles", work.take_out_faults),
        (0.5, "Turning patches alike", work.turn_alike),
        (0.65, "Telling the part from debris", work.leave_out_debris),
        (0.75, "Finding the outside", work.turn_outside_out),
    ):
        yield Progress(fraction, text)
        step()
    yield Progress(0.8, "Filling small holes")
    new_points, new_faces, filled = fill_small_holes(
        work.points, work.faces, work.vectors, work.border, widest_filled_mm, work.notes
    )
    cleaned = assembled(mesh, work.kept, work.points, work.faces, new_points, new_faces)
    yield Progress(0.9, f"Looking at the cleaned {role}")
    after = work.facts_of(cleaned, is_filled=len(new_faces) > 0)
    mended = find_mended(mesh, work.number, work.origin[work.faces], work.points, work.faces, new_points, new_faces)
    yield Progress(1.0, f"The {role} is clean")
    return CleanScan(
        cleaned, work.before, after, filled, len(new_points), work.outside_is_sure, tuple(work.notes), mended
    )


def doubt_words(role: str) -> str:
    """Return what is said of a scan whose outer side is not sure."""
    return (
        f"By the shape of the {role} its outer side is not sure; the side its file gives was kept. See that the pad "
        "lies on that side."
    )


class _Surface:
    """A scan's surface in work: its faces, what is known of them, and notes of what each step changed."""

    def __init__(self, mesh: TriMesh, role: str) -> None:
        found = survey(mesh)
        self.role, self.before = role, found.facts
        self.points, self.faces, self.kept, self.table = found.points, found.faces, found.kept_points, found.table
        self.number, self.origin = found.number, np.arange(len(found.points), dtype=np.int32)
        self.vectors, self.piece, self.is_flat = found.face_vectors, found.piece, found.is_flat
        self.piece_count, self.border = self.before.pieces, self.table.border
        self.is_touched = False
        self.outside_is_sure = True
        self.notes: list[str] = []
        if len(self.faces) == 0:
            held = counted(self.before.triangles, "triangle")
            raise ScanError(f"The {role} has {held} and none can be used.", hint="Scan it again.")
        _note_counts(self.before, self.notes)

    def take_out_faults(self) -> None:
        """Take out spikes, needles, faces without area and those that repeat another."""
        self.faces, self.is_touched = _without_faults(
            self.points, self.faces, self.is_flat, self.before.edge_length, self.notes
        )
        if len(self.faces) == 0:
            raise ScanError(f"The {self.role} has no usable triangle left after cleaning.", hint="Scan it again.")
        if self.is_touched:
            self.table = edge_table(self.faces, len(self.points))
        if len(self.table.crowded):
            self.is_touched = True
            self.faces, self.table = _without_repeats(self.points, self.faces, self.table, self.notes)

    def turn_alike(self) -> None:
        """Cut the surface loose at edges of more than two faces, and turn neighbors to face alike."""
        pairs = part_crowded_edges(self.points, self.faces, self.table)
        if len(self.table.crowded):
            self.notes.append(
                f"{counted(self.table.crowded_count, 'edge')} lay on more than two triangles; the flattest pair stayed "
                "joined at each, the rest was cut loose."
            )
            self.faces, source = split_at_parted_edges(self.faces, pairs, self.table.crowded)
            self.points, self.kept, self.origin = self.points[source], self.kept[source], source
        if self.is_touched:
            self.vectors = area_vectors(self.points, self.faces)
        runs_alike = half_edge_ends(self.faces, pairs[:, 0])[0] == half_edge_ends(self.faces, pairs[:, 1])[0]
        self.faces, pairs, turned, parted = turn_alike(self.faces, pairs, runs_alike, _areas(self.vectors))
        if turned:
            self.vectors = area_vectors(self.points, self.faces)
            self.notes.append(f"Turned over to face like their neighbors: {counted(turned, 'triangle')}.")
        if parted:
            cut = f"it was cut at {counted(parted, 'edge')}."
            self.notes.append(to_look_at(f"The surface has one side only (a twisted band); {cut}"))
        if self.is_touched or parted:
            self.piece_count, self.piece = face_pieces(len(self.faces), pairs)
        self.is_touched |= bool(turned or parted)
        is_border = np.ones(3 * len(self.faces), dtype=bool)
        is_border[pairs.reshape(-1)] = False
        self.border = np.flatnonzero(is_border).astype(np.int32)

    def leave_out_debris(self) -> None:
        """Keep the pieces of the part."""
        if self.piece_count > 1:
            is_kept, notes = choose_pieces(
                self.points, self.faces, self.vectors, self.piece, self.piece_count, self.border,
                self.before.edge_length, self.role,
            )  # fmt: skip
            self.notes += notes
            is_kept = is_kept[self.piece]
            self.faces, self.vectors, self.piece = self.faces[is_kept], self.vectors[is_kept], self.piece[is_kept]
            self.border = kept_half_edges(self.border, is_kept)

    def turn_outside_out(self) -> None:
        """Turn over the pieces that are inside out."""
        labels, small = np.unique(self.piece, return_inverse=True)
        small = small.reshape(-1)
        area = np.bincount(small, _areas(self.vectors), len(labels))
        over = np.zeros(len(labels), dtype=bool)
        reasons: list[str] = []
        border_at = self.points[half_edge_ends(self.faces, self.border)[0]]
        owner = small[self.border // 3]
        for label in np.argsort(-area)[:20]:
            mine = slice(None) if len(labels) == 1 else small == label
            evidence = outside_evidence(self.points, self.faces[mine], self.vectors[mine], border_at[owner == label])
            if evidence.is_inside_out:
                over[label] = True
                reasons.append(evidence.words)
            elif not evidence.is_sure and area[label] >= 0.5 * area.max():
                self.outside_is_sure = False
        if reasons:
            some = (
                f"The {self.role} was"
                if len(labels) == 1
                else f"{counted(len(reasons), 'piece')} of the {self.role} came"
            )
            self.notes.append(f"{some} inside out ({reasons[0]}); turned over.")
        if not self.outside_is_sure:
            self.notes.append(to_act_on(doubt_words(self.role)))
        turned = over[small]
        if turned.any():
            self.is_touched = True
            self.faces, self.vectors = self.faces.copy(), self.vectors.copy()
            self.faces[turned] = self.faces[turned][:, ::-1]
            self.vectors[turned] *= -1
            self.border = turned_half_edges(self.border, turned)

    def facts_of(self, cleaned: TriMesh, *, is_filled: bool) -> ScanFacts:
        """Return the facts of the cleaned scan, which are those it had where its faces stayed as they were."""
        if self.is_touched or is_filled or len(cleaned.faces) != self.before.triangles:
            return survey(cleaned, is_welded=True).facts
        # Nothing but joined or unused points went, and the facts take equal points as one anyway.
        return replace(
            self.before, vertices=len(cleaned.vertices), repeated_points=0, near_points=0, near_gap=0.0, unused_points=0
        )


def _areas(vectors: Float) -> Float:
    """Return the areas of faces, (m,), by their area vectors."""
    return lengths(vectors)


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


def _without_faults(points: Float, faces: Int, is_flat: Bool, edge: float, notes: list[str]) -> tuple[Int, bool]:
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
    tips = needle_tips(points, faces, edge)
    if len(tips):
        is_tip = np.zeros(len(points), dtype=bool)
        is_tip[tips] = True
        faces = faces[~touches(is_tip, faces)]
        notes.append(f"Needles out of the surface dropped: {counted(len(tips), 'vertex', 'vertices')}.")
    removed = 0
    if is_flat.any():
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
