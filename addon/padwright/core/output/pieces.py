"""Closed pieces put together from a cut surface and the walls between its labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from ..mesh import TriMesh
from .surface_cut import Index, SurfaceCut
from .walls import Wall


@dataclass(frozen=True, eq=False)
class Piece:
    """One connected piece of one label.

    Attributes
    ----------
    label : int
    mesh : TriMesh
    wall_number : (m,) int64
        For every face the number of the wall face it is, -1 on the pad's own surface.
    """

    label: int
    mesh: TriMesh
    wall_number: Index


def assembled(cut: SurfaceCut, walls: Sequence[Wall], count: int) -> list[Piece]:
    """Return the connected pieces of every label, closed by the walls.

    Parameters
    ----------
    cut : SurfaceCut
    walls : sequence of Wall
        Their faces are numbered one after the other.
    count : int
        Number of labels.

    Notes
    -----
    Pieces of one label come in the order of their centres along the axis of the part frame on which these lie
    farthest apart, so that small changes of the shape do not swap their numbers.
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
        pieces.append(Piece(int(label[chosen[0]]), mesh, wall_number[chosen]))
    return [piece for column in range(count) for piece in _ordered([p for p in pieces if p.label == column])]


def _ordered(pieces: list[Piece]) -> list[Piece]:
    if len(pieces) < 2:
        return pieces
    centres = np.array([piece.mesh.bounds.mean(axis=0) for piece in pieces])
    axis = int(np.argmax(np.ptp(centres, axis=0)))
    return [pieces[index] for index in np.argsort(centres[:, axis], kind="stable")]
