"""Closed pieces put together from a cut surface and the walls between its labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from ...base.mesh import TriMesh
from .surface_cut import Index, SurfaceCut
from .walls import Wall


@dataclass(frozen=True, eq=False)
class Piece:
    """One connected piece of one label."""

    label: int
    mesh: TriMesh
    wall_number: Index  # (m,) int64, for every face the number of the wall face it is, -1 on the pad's own surface
    # (n,) int64: for every vertex its number in the cut surface; empty where the piece was made another way.
    vertex: Index = field(default_factory=lambda: np.zeros(0, dtype=np.int64))


def assembled(cut: SurfaceCut, walls: Sequence[Wall], count: int) -> list[Piece]:
    """Return the connected pieces of every label, closed by the walls.

    Pieces of one label come in the order of their centers along the axis of the part frame on which these lie
    farthest apart, so that small changes of the shape do not swap their numbers.

    Parameters
    ----------
    walls : sequence of Wall
        Their faces are numbered one after the other.
    count : int
        Number of labels.
    """
    inner = np.concatenate([np.zeros((0, 3), np.int64), *(wall.faces for wall in walls)])
    sizes = [len(wall.faces) for wall in walls]
    first = np.repeat([wall.first for wall in walls], sizes).astype(np.int64)
    second = np.repeat([wall.second for wall in walls], sizes).astype(np.int64)
    number = np.arange(len(inner))
    faces = np.concatenate([cut.faces, inner, inner[:, ::-1]])
    label = np.concatenate([cut.label, first, second])
    wall_number = np.concatenate([np.full(len(cut.faces), -1), number, number])
    # a vertex on a border belongs to several labels: it counts once for each
    key = faces + (label * len(cut.vertices))[:, None]
    size = count * len(cut.vertices)
    graph = sparse.coo_matrix(
        (np.ones(2 * len(key), dtype=bool), (key[:, [0, 0]].ravel(), key[:, [1, 2]].ravel())), shape=(size, size)
    )
    part = connected_components(graph, directed=False)[1][key[:, 0]]
    order = np.argsort(part, kind="stable")
    bounds = np.flatnonzero(np.r_[True, np.diff(part[order]) != 0, True])
    pieces = []
    for begin, end in pairwise(bounds):
        chosen = order[begin:end]
        used, renumbered = np.unique(faces[chosen], return_inverse=True)
        mesh = TriMesh(cut.vertices[used], renumbered.reshape(-1, 3))
        pieces.append(Piece(int(label[chosen[0]]), mesh, wall_number[chosen], used))
    return [piece for column in range(count) for piece in _ordered([p for p in pieces if p.label == column])]


def unsound_vertices(piece: Piece) -> Index:
    """Return vertices of the cut surface, one for each place where a piece is no solid; none where it is one.

    Where walls touch themselves or each other, an edge has more than two faces. Where a wall is twisted, so that a
    piece is inside out, the vertex of its walls nearest to their middle stands for the place.
    """
    if piece.mesh.is_closed:
        return np.zeros(0, dtype=np.int64)
    edge = np.sort(piece.mesh.edges.astype(np.int64), axis=1)
    found, count = np.unique(edge, axis=0, return_counts=True)
    if (count < 2).any():  # the pad's own surface has a hole: no border is to blame
        return np.zeros(0, dtype=np.int64)
    shared = np.unique(found[count > 2])
    if len(shared):
        return piece.vertex[shared]
    inner = np.unique(piece.mesh.faces[piece.wall_number >= 0])
    if len(inner) == 0:
        return piece.vertex[:1]
    place = piece.mesh.vertices[inner]
    return piece.vertex[inner[[((place - place.mean(axis=0)) ** 2).sum(axis=1).argmin()]]]


def _ordered(pieces: list[Piece]) -> list[Piece]:
    if len(pieces) < 2:
        return pieces
    centers = np.array([piece.mesh.bounds.mean(axis=0) for piece in pieces])
    axis = int(np.argmax(np.ptp(centers, axis=0)))
    return [pieces[index] for index in np.argsort(centers[:, axis], kind="stable")]
