"""What a scan is: counts, size, pieces, holes and faults, as a person wants to hear it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ...base.mesh import Bool, Float, Int, TriMesh, area_vectors
from ...base.rows import bounds_of, lengths
from ...base.text import counted
from ...geometry.matching import first_equal, renumber, typical_edge, weld_exactly
from .near_corners import weld_near
from .topology import (
    EdgeTable,
    border_loops,
    edge_table,
    face_pieces,
    finite_points,
    half_edge_ends,
    has_no_area,
    touches,
)


@dataclass(frozen=True)
class Hole:
    """One open border, in the mesh's unit."""

    perimeter: float  # length around it
    width: float  # largest extent of its box
    center: tuple[float, float, float]  # (x, y, z); mean of its vertices
    edge_count: int


@dataclass(frozen=True)
class ScanFacts:
    """What a scan is. Lengths are in the mesh's unit; equal points are taken as one."""

    # triangles, vertices: as they are in the mesh.
    triangles: int
    vertices: int
    size: tuple[float, float, float]  # (x, y, z); extents of the finite points that faces use
    area: float
    edge_length: float  # the median
    pieces: int  # parts that hang together by edges
    largest_piece_share: float  # its share of the faces, 0 to 1
    holes: tuple[Hole, ...]  # open borders, the longest first (an open sheet's outline is one)
    # open_edges, crowded_edges, turned_edges: edges on one face; on more than two; between two faces turned against
    # each other.
    open_edges: int
    crowded_edges: int
    turned_edges: int
    closed: bool  # True when there is no such edge and the volume is positive
    volume: float  # signed; it means something only when closed
    repeated_points: int
    unused_points: int
    not_finite_points: int
    repeated_faces: int
    faces_without_area: int
    near_points: int = 0  # corners of open borders that lie so near another's place that they count as one with it
    near_gap: float = 0.0  # how far from it, at most

    def lines(self, unit: str = "mm") -> tuple[str, ...]:
        """Return the facts as short lines for a person."""
        size = " x ".join(f"{length:.4g}" for length in self.size)
        if self.closed:
            state = f"closed, {self.volume:.5g} cubic {unit}"
        elif self.holes:
            longest = "the longest " if len(self.holes) > 1 else ""
            borders = counted(len(self.holes), "border")
            state = f"open: {borders}, {longest}{self.holes[0].perimeter:.4g} {unit} around"
        elif self.volume < 0 and not self.crowded_edges and not self.turned_edges:
            state = "closed, but inside out"
        else:
            state = "no open border, but not a closed solid"
        result = [
            f"{counted(self.triangles, 'triangle')}, {counted(self.vertices, 'vertex', 'vertices')}, {size} {unit}, "
            f"typical edge {self.edge_length:.3g} {unit}",
            counted(self.pieces, "piece")
            + (f", the largest with {self.largest_piece_share:.1%} of the triangles" if self.pieces > 1 else ""),
            state,
        ]
        faults = (
            (self.not_finite_points, "vertex", "vertices", "without usable coordinates"),
            (self.repeated_points, "vertex", "vertices", "at another's place"),
            (self.near_points, "vertex", "vertices", f"up to {self.near_gap:.2g} {unit} from another's place"),
            (self.unused_points, "vertex", "vertices", "in no triangle"),
            (self.repeated_faces, "triangle", "triangles", "there twice or more"),
            (self.faces_without_area, "triangle", "triangles", "without area"),
            (self.crowded_edges, "edge", "edges", "on more than two triangles"),
            (self.turned_edges, "edge", "edges", "between triangles turned against each other"),
        )
        result += [f"{counted(count, one, many)} {text}" for count, one, many, text in faults if count]
        if self.holes:
            rest = [hole for hole in self.holes[1:6]]
            places = "; ".join(
                f"{hole.perimeter:.4g} around at ({', '.join(f'{at:.4g}' for at in hole.center)})" for hole in rest
            )
            if places:
                result.append(f"further borders ({unit}): {places}")
        return tuple(result)


@dataclass(frozen=True, eq=False)
class Survey:
    """A mesh with equal points joined and unusable faces set apart, its edges and its facts."""

    kept_points: Int  # (k,); which of the mesh's vertices stand for all equal to them
    number: Int  # (n,); for each of the mesh's vertices the point that stands for it
    points: Float  # (k, 3)
    faces: Int  # (f, 3); into `points`; without faces that use a point twice or one that is not finite
    face_vectors: Float  # (f, 3)
    is_flat: Bool  # (f,); faces without area
    table: EdgeTable
    piece: Int  # (f,)
    facts: ScanFacts


def scan_facts(mesh: TriMesh) -> ScanFacts:
    """Return what a scan is, as read and with any fault, in its own unit."""
    return survey(mesh).facts


def survey(mesh: TriMesh, *, is_welded: bool = False) -> Survey:
    """Return the scan's facts together with the tables they rest on; `is_welded` when no points repeat."""
    is_finite = finite_points(mesh.vertices)
    if is_welded:
        kept, points, faces = np.arange(len(mesh.vertices), dtype=np.int32), mesh.vertices, mesh.faces
        number = kept
    else:
        kept, number = weld_exactly(mesh.vertices)
        points, faces = mesh.vertices.take(kept, axis=0), number[mesh.faces]
    usable, pinched = _usable(faces, is_finite[kept])
    table = edge_table(usable, len(points))
    near = None if is_welded else weld_near(points, usable, _on_border(usable, table), typical_edge(points, usable))
    if near is not None:
        stands, renumbered = renumber(near.stands_for)
        kept, points, faces, number = kept[stands], points[stands], renumbered[faces], renumbered[number]
        usable, pinched = _usable(faces, is_finite[kept])
        table = edge_table(usable, len(points))
    faces = usable
    vectors = area_vectors(points, faces)
    is_flat = has_no_area(points, faces, vectors)
    piece_count, piece = face_pieces(len(faces), table.pairs)
    facts = ScanFacts(
        **_facts(mesh, points, faces, vectors, table, piece),
        pieces=piece_count,
        repeated_points=len(mesh.vertices) - len(kept) - (near.joined if near else 0),
        near_points=near.joined if near else 0,
        near_gap=near.farthest if near else 0.0,
        not_finite_points=int(len(is_finite) - is_finite.sum()),
        faces_without_area=int(is_flat.sum()) + pinched,
    )
    return Survey(kept, number, points, faces, vectors, is_flat, table, piece, facts)


def _usable(faces: Int, is_finite: Bool) -> tuple[Int, int]:
    """Return the faces with three corners that are finite, and how many others have finite corners only."""
    is_whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    if is_finite.all():
        pinched = int(len(faces) - is_whole.sum())
        return (faces[is_whole] if pinched else faces), pinched
    is_lost = touches(~is_finite, faces)
    return faces[is_whole & ~is_lost], int((~is_whole & ~is_lost).sum())


def _on_border(faces: Int, table: EdgeTable) -> Int:
    """Return the vertices on open borders, each once."""
    return np.unique(np.concatenate(half_edge_ends(faces, table.border))).astype(np.int32)


def _facts(mesh: TriMesh, points: Float, faces: Int, vectors: Float, table: EdgeTable, piece: Int) -> dict[str, Any]:
    """Return the facts that the usable faces tell."""
    used = np.zeros(len(points), dtype=bool)
    used[faces.reshape(-1)] = True
    used_any = np.zeros(len(mesh.vertices), dtype=bool)
    used_any[mesh.faces.reshape(-1)] = True
    seen = points.compress(used, axis=0)
    low, high = bounds_of(seen) if len(seen) else np.zeros((2, 3))
    size = high - low
    volume = 0.0
    if len(faces):
        volume = float(np.einsum("ij,ij->", points.take(faces[:, 0], axis=0) - 0.5 * (low + high), vectors) / 3.0)
    turned, crowded = int(table.runs_alike.sum()), table.crowded_count
    return dict(
        triangles=len(mesh.faces),
        vertices=len(mesh.vertices),
        size=(float(size[0]), float(size[1]), float(size[2])),
        area=float(lengths(vectors).sum()),
        edge_length=typical_edge(points, faces),
        largest_piece_share=float(np.bincount(piece).max() / len(piece)) if len(piece) else 0.0,
        holes=find_holes(points, faces, table),
        open_edges=len(table.border),
        crowded_edges=crowded,
        turned_edges=turned,
        closed=len(faces) >= 4 and not len(table.border) and not crowded and not turned and volume > 0,
        volume=volume,
        unused_points=int(len(mesh.vertices) - used_any.sum()),
        repeated_faces=_repeat_count(faces, table, piece),
    )


def is_repeat(faces: Int) -> Bool:
    """Return which faces have the same three corners as an earlier one, in any order, (m,)."""
    corner = np.sort(faces, axis=1)
    first = first_equal([corner[:, 0], corner[:, 1], corner[:, 2]])
    return first != np.arange(len(faces))


def _repeat_count(faces: Int, table: EdgeTable, piece: Int) -> int:
    """Return how many faces repeat an earlier one.

    A repeat shares all three edges with its twin: on a surface that crowds these edges; alone, the two are a piece of
    two faces. No other faces need a look.
    """
    alone = np.flatnonzero(np.bincount(piece)[piece] == 2) if len(piece) else np.zeros(0, dtype=np.int64)
    chosen = np.union1d(table.crowded // 3, alone)
    return int(is_repeat(faces[chosen]).sum()) if len(chosen) else 0


def find_holes(points: Float, faces: Int, table: EdgeTable) -> tuple[Hole, ...]:
    """Return the open borders, the longest first."""
    loops = border_loops(faces, table.border)
    if not loops:
        return ()
    # All at once: debris may have hundreds of thousands of borders.
    count = np.array([len(loop) for loop in loops])
    first = np.cumsum(count) - count
    around = points[np.concatenate(loops)]
    after = np.arange(1, len(around) + 1)
    after[first + count - 1] = first
    perimeter = np.add.reduceat(lengths(around - around[after]), first)
    center = np.add.reduceat(around, first) / count[:, None]
    width = (np.maximum.reduceat(around, first) - np.minimum.reduceat(around, first)).max(axis=1)
    found = zip(perimeter.tolist(), width.tolist(), center.tolist(), count.tolist(), strict=True)
    holes = [Hole(long, wide, (place[0], place[1], place[2]), corners) for long, wide, place, corners in found]
    return tuple(sorted(holes, key=lambda hole: -hole.perimeter))
