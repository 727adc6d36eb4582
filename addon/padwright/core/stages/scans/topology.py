"""Which faces share an edge, which edges are open or crowded, and the border loops."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ...base.mesh import Bool, Float, Int
from ...base.rows import lengths
from ...geometry.matching import first_equal


@dataclass(frozen=True, eq=False)
class EdgeTable:
    """The edges of a list of triangles. Half-edge 3 f + k runs from corner k of face f to its next corner."""

    pairs: Int  # (p, 2); half-edges that share an edge on exactly two faces
    runs_alike: Bool  # (p,); True where both run the same way: the two faces are turned against each other
    border: Int  # (b,); half-edges whose edge lies on one face only
    crowded: Int  # (c,); half-edges whose edge lies on more than two faces
    crowded_edge: Int  # (c,); for each of `crowded`, the first half-edge of its edge: equal for all on the same edge

    @property
    def crowded_count(self) -> int:
        """How many edges lie on more than two faces."""
        return len(np.unique(self.crowded_edge))


def edge_table(faces: Int, vertex_count: int) -> EdgeTable:
    """Return the edges of the faces, (m, 3)."""
    origin = faces.reshape(-1)
    target = faces[:, [1, 2, 0]].reshape(-1)
    key = np.minimum(origin, target).astype(np.int64)
    key *= vertex_count
    key += np.maximum(origin, target)
    first = first_equal([key])
    del key
    count = np.bincount(first, minlength=len(first)).astype(np.int32)
    double = np.flatnonzero(count == 2).astype(np.int32)
    last = np.zeros(len(first), dtype=np.int32)
    last[first] = np.arange(len(first), dtype=np.int32)
    pairs = np.stack([double, last[double]], axis=1)
    border = np.flatnonzero(count == 1).astype(np.int32)
    crowded = np.zeros(0, dtype=np.int32)
    if (count > 2).any():
        crowded = np.flatnonzero(count[first] > 2).astype(np.int32)
    return EdgeTable(pairs, origin[pairs[:, 0]] == origin[pairs[:, 1]], border, crowded, first[crowded])


def face_pieces(face_count: int, pairs: Int) -> tuple[int, Int]:
    """Return how many pieces the faces form through the paired half-edges, and each face's piece, (m,)."""
    return clusters(face_count, pairs[:, 0] // 3, pairs[:, 1] // 3)


def clusters(count: int, one: NDArray[Any], other: NDArray[Any]) -> tuple[int, Int]:
    """Return how many clusters so many things form through links between one and another, (k,), and each one's own."""
    links = coo_matrix((np.ones(len(one), dtype=np.int8), (one, other)), shape=(count, count))
    found, label = connected_components(links, directed=False)
    return int(found), label.astype(np.int32)


def touches(is_marked: Bool, faces: Int) -> Bool:
    """Return which faces have a marked corner, (m,)."""
    return is_marked[faces[:, 0]] | is_marked[faces[:, 1]] | is_marked[faces[:, 2]]


def finite_points(points: Float) -> Bool:
    """Return which points have three finite coordinates, (n,)."""
    return np.isfinite(points[:, 0]) & np.isfinite(points[:, 1]) & np.isfinite(points[:, 2])


def kept_half_edges(half_edges: Int, is_kept: Bool) -> Int:
    """Return the half-edges of the kept faces, numbered as they are once the other faces are gone."""
    number = np.cumsum(is_kept, dtype=np.int32) - np.int32(1)
    mine = half_edges[is_kept[half_edges // 3]]
    return (3 * number[mine // 3] + mine % 3).astype(np.int32)


def turned_half_edges(half_edges: Int, is_turned: Bool) -> Int:
    """Return the half-edges renumbered for faces whose corners were put in the opposite order: k becomes 4 - k."""
    return np.where(is_turned[half_edges // 3], 3 * (half_edges // 3) + (4 - half_edges % 3) % 3, half_edges)


def half_edge_ends(faces: Int, half_edges: Int) -> tuple[Int, Int]:
    """Return the vertices where the half-edges begin and end, (k,) each."""
    face, corner = half_edges // 3, half_edges % 3
    return faces[face, corner], faces[face, (corner + 1) % 3]


def has_no_area(points: Float, faces: Int, vectors: Float) -> Bool:
    """Return which faces are a line or a point, (m,).

    A face counts as one when twice its area is under 1e-7 of its longest edge squared: the height is then below what
    32-bit coordinates of one part can tell apart (their step is 6e-8 of the size).
    """
    area = lengths(vectors)
    typical = float(np.median(area[:: max(len(area) // 100000, 1)])) if len(area) else 0.0
    suspect = np.flatnonzero(~(area > 1e-3 * typical))
    corner = points[faces[suspect]]
    longest = (np.linalg.norm(corner - np.roll(corner, -1, axis=1), axis=2).max(axis=1)) ** 2
    result = np.zeros(len(faces), dtype=bool)
    result[suspect] = ~(2 * area[suspect] > 1e-7 * longest)
    return result


def border_loops(faces: Int, border: Int) -> list[NDArray[np.int32]]:
    """Return the closed border loops, each the vertices in the order the border half-edges run.

    At a vertex where several borders meet, the half-edge that is reached first by turning around the vertex is not
    known here; loops are closed as soon as a vertex comes back, so each loop is simple.
    """
    origin, target = half_edge_ends(faces, border)
    leaving: dict[int, list[int]] = {}
    for begin, end in zip(origin.tolist(), target.tolist(), strict=True):
        leaving.setdefault(begin, []).append(end)
    loops: list[NDArray[np.int32]] = []
    for seed in origin.tolist():
        while leaving.get(seed):
            path, place, vertex = [seed], {seed: 0}, seed
            while leaving.get(vertex):
                vertex = leaving[vertex].pop()
                if vertex in place:
                    at = place[vertex]
                    loops.append(np.array(path[at:], dtype=np.int32))
                    for gone in path[at + 1 :]:
                        del place[gone]
                    del path[at + 1 :]
                else:
                    place[vertex] = len(path)
                    path.append(vertex)
            if len(path) == 1:
                continue
    return loops
