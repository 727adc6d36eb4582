"""Fields on a mesh: gradients, even fields between fixed values, iso-lines and connected pieces."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from ..base.mesh import Bool, Float, Int, TriMesh, cross, sums_at_corners
from .solve import conjugate_gradients

SOLVE_TOLERANCE = 1e-6  # relative residual: far below what a field in mm or in shares of one is read to


def stiffness(mesh: TriMesh) -> sparse.csr_matrix:
    """Return the symmetric matrix L of a mesh: (L u)_i = sum over the neighbors of weight_ij (u_i - u_j).

    The weights are (cot a + cot b) / 2, the piecewise linear Laplacian (Pinkall & Polthier 1993, doi
    10.1080/10586458.1993.10504266), those below zero set to zero, so that a smoothed field never leaves the range of
    its values, however poor the triangles.
    """
    count = len(mesh.vertices)
    corner = mesh.triangles
    doubled = np.maximum(2.0 * mesh.face_areas, 1e-12 * max(mesh.area, 1e-30))
    rows, columns, weights = [], [], []
    for tip in range(3):
        start, end = (tip + 1) % 3, (tip + 2) % 3
        one, two = corner[:, start] - corner[:, tip], corner[:, end] - corner[:, tip]
        rows.append(mesh.faces[:, start])
        columns.append(mesh.faces[:, end])
        weights.append(0.5 * np.einsum("ij,ij->i", one, two) / doubled)
    row, column, weight = np.concatenate(rows), np.concatenate(columns), np.concatenate(weights)
    half = sparse.coo_matrix((weight, (row, column)), shape=(count, count)).tocsr()
    off = (half + half.T).tocsr()
    off.data = np.maximum(off.data, 0.0)
    total = np.asarray(off.sum(axis=1)).ravel()
    return (sparse.diags(total) - off).tocsr()


def harmonic(mesh: TriMesh, is_fixed: Bool, values: Float) -> Float:
    """Return the field that equals `values` where `is_fixed`, (n,), and is as even as can be elsewhere (L u = 0).

    The values, (n,) or (n, k), are read at the fixed vertices only, and kept where a piece of the mesh has none.

    Notes
    -----
    Weights as `stiffness(mesh)`: the answer stays within the range of the fixed values.
    """
    result = np.array(values, dtype=np.float64)
    field = result.reshape(len(mesh.vertices), -1)
    piece = pieces(mesh)
    has_fixed = np.zeros(piece.max() + 1, dtype=bool)
    has_fixed[piece[is_fixed]] = True
    matrix = stiffness(mesh)
    is_free = ~is_fixed & has_fixed[piece] & (matrix.diagonal() > 0)
    if is_free.any():
        inner = matrix[is_free]
        across = inner[:, ~is_free] @ field[~is_free]
        field[is_free] = conjugate_gradients(
            inner[:, is_free].tocsr(), -across, np.zeros((is_free.sum(), field.shape[1])), SOLVE_TOLERANCE
        )
    return field.reshape(result.shape)


def vertex_gradients(mesh: TriMesh, values: Float) -> Float:
    """Return the gradients of a piecewise linear field, (n,), on the faces around every vertex: their mean by area.

    (n, 3), units of the values per mm. Exact for linear fields; zero on faces without area.
    """
    corner, value = mesh.triangles, np.asarray(values, dtype=np.float64)[mesh.faces]
    # Each side of a face times the value of the corner across from it. The sides add up to none, so one of the values
    # may be taken off all.
    one, two = (value[:, [index]] - value[:, [0]] for index in (1, 2))
    along = one * (corner[:, 0] - corner[:, 2]) + two * (corner[:, 1] - corner[:, 0])
    total = sums_at_corners(mesh.faces, 0.5 * cross(mesh.face_normals, along), len(mesh.vertices))
    area = 3.0 * mesh.vertex_areas[:, None]
    return np.divide(total, area, out=np.zeros_like(total), where=area > 0)


def chains(start: NDArray[np.integer[Any]], end: NDArray[np.integer[Any]]) -> list[list[int]]:
    """Join directed links, (s,) each, into paths; a closed one ends with its first node.

    A node starts at most one link and ends at most one.
    """
    after = dict(zip(start.tolist(), end.tolist(), strict=True))
    ends = set(end.tolist())
    paths = []
    for first in (*(node for node in tuple(after) if node not in ends), *tuple(after)):
        if first in after:  # no path goes through it yet
            path = [first]
            while path[-1] in after:
                path.append(after.pop(path[-1]))
            paths.append(path)
    return paths


def pieces(mesh: TriMesh, label: Int | None = None) -> Int:
    """Return the connected piece each vertex belongs to, (n,) int32, numbered from 0.

    Edges between different labels, (n,) int, do not connect.
    """
    edge = mesh.links
    if label is not None:
        label = np.asarray(label)
        edge = edge[label[edge[:, 0]] == label[edge[:, 1]]]
    count = len(mesh.vertices)
    graph = sparse.coo_matrix((np.ones(len(edge), dtype=bool), (edge[:, 0], edge[:, 1])), shape=(count, count))
    return connected_components(graph, directed=False)[1].astype(np.int32)
