"""Patches of a surface: their pieces, and opening and closing them by a distance in mm."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, Int, TriMesh


def pieces(mesh: TriMesh, is_in: Bool) -> Int:
    """Return the number of the connected piece each vertex of the patch belongs to, (n,); -1 outside."""
    edge = mesh.edges[is_in[mesh.edges].all(axis=1)]
    count = len(mesh.vertices)
    graph = coo_matrix((np.ones(len(edge), dtype=np.int8), (edge[:, 0], edge[:, 1])), shape=(count, count))
    label = connected_components(graph, directed=False)[1]
    answer = np.full(count, -1, dtype=np.int32)
    answer[is_in] = np.unique(label[is_in], return_inverse=True)[1].reshape(-1)
    return answer


def keep_large(mesh: TriMesh, is_in: Bool, *, least_area: float, least_share: float) -> Bool:
    """Return the patch without pieces under `least_area` mm2 or under `least_share` of the largest piece."""
    label = pieces(mesh, is_in)
    if not is_in.any():
        return is_in
    area = np.bincount(label[is_in], mesh.vertex_areas[is_in])
    is_kept = (area >= least_area) & (area >= least_share * area.max())
    return is_in & is_kept[np.maximum(label, 0)]


def fill_islands(mesh: TriMesh, is_in: Bool, *, most_area: float) -> Bool:
    """Return the patch with the gaps in it that are at most `most_area` mm2 filled."""
    outside = ~is_in
    label = pieces(mesh, outside)
    if not outside.any() or not is_in.any():
        return is_in
    area = np.bincount(label[outside], mesh.vertex_areas[outside])
    return is_in | (outside & (area <= most_area)[np.maximum(label, 0)])


def shrunk(mesh: TriMesh, is_in: Bool, distance: float) -> Bool:
    """Return the patch less everything within `distance` mm of what is outside; a mesh border is no outside."""
    edge = mesh.edges
    rim = np.unique(edge[is_in[edge].any(axis=1) & ~is_in[edge].all(axis=1)])
    rim = rim[~is_in[rim]]
    return is_in & ~_within(mesh.vertices, rim, is_in, distance)


def grown(mesh: TriMesh, is_in: Bool, distance: float, allowed: Bool) -> Bool:
    """Return the patch with every `allowed` vertex within `distance` mm of it."""
    edge = mesh.edges
    rim = np.unique(edge[is_in[edge].any(axis=1) & ~is_in[edge].all(axis=1)])
    rim = rim[is_in[rim]]
    return is_in | _within(mesh.vertices, rim, allowed & ~is_in, distance)


def opened(mesh: TriMesh, is_in: Bool, distance: float) -> Bool:
    """Return the patch without what is narrower than twice the distance."""
    return grown(mesh, shrunk(mesh, is_in, distance), distance, is_in)


def closed(mesh: TriMesh, is_in: Bool, distance: float, allowed: Bool) -> Bool:
    """Return the patch with gaps narrower than twice the distance closed, where `allowed`."""
    return is_in | shrunk(mesh, grown(mesh, is_in, distance, allowed), distance)


def _within(points: Float, rim: Int, asked: Bool, distance: float) -> Bool:
    answer = np.zeros(len(points), dtype=bool)
    index = np.flatnonzero(asked)
    if len(rim) and len(index):
        gap, _ = cKDTree(points[rim]).query(points[index], distance_upper_bound=distance)
        answer[index] = np.isfinite(gap)
    return answer
