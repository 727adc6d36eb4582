"""Patches of a surface: their pieces, and opening and closing them by a distance in mm."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, Int, TriMesh


def rim_of(mesh: TriMesh, is_in: Bool, *, is_inner: bool = False) -> Int:
    """Return the vertices outside a patch that have a neighbor in it, (k,) ascending; with `is_inner` those in it."""
    corner = [is_in[mesh.faces[:, index]] for index in range(3)]
    mixed = (corner[0] != corner[1]) | (corner[1] != corner[2])
    is_rim = np.zeros(len(is_in), dtype=bool)
    is_rim[mesh.faces[mixed]] = True
    return np.flatnonzero(is_rim & (is_in if is_inner else ~is_in)).astype(np.int32)


def pieces(mesh: TriMesh, is_in: Bool) -> Int:
    """Return the number of the connected piece each vertex of the patch belongs to, (n,); -1 outside."""
    number = np.cumsum(is_in, dtype=np.int32) - 1
    start, end = mesh.links.T
    within = np.flatnonzero(is_in[start] & is_in[end])
    start, end = number[start[within]], number[end[within]]
    count = int(np.count_nonzero(is_in))
    graph = coo_matrix((np.ones(len(start), dtype=np.int8), (start, end)), shape=(count, count))
    answer = np.full(len(is_in), -1, dtype=np.int32)
    answer[is_in] = connected_components(graph, directed=False)[1]
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
    return is_in & ~_within(mesh.vertices, rim_of(mesh, is_in), is_in, distance)


def grown(mesh: TriMesh, is_in: Bool, distance: float, allowed: Bool) -> Bool:
    """Return the patch with every `allowed` vertex within `distance` mm of it."""
    return is_in | _within(mesh.vertices, rim_of(mesh, is_in, is_inner=True), allowed & ~is_in, distance)


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
