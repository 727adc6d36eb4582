"""A scan made ready for fitting: evenly spread smoothed points with normals, and a grid that finds the nearest one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Bool, Float, Int, TriMesh, sums_at_corners, sums_by
from ...geometry.drawn import drawn_points

Float32 = NDArray[np.float32]

DRAWN = 150_000
"""Points drawn on a scan that is not dense, 8 to 20 in each cell (own measurement, docs/models/align.md)."""

WIDE_CELLS = 2.0
"""Edges longer than so many cells leave cells between their corners without a point."""

EDGE_CELLS = 1.0
"""So many cells from an open border, what lies beyond was not seen: the mean of a cell there lies off its middle."""


@dataclass(frozen=True, eq=False)
class Cloud:
    """Evenly spread points of a scan's surface, each the mean of its cell."""

    points: Float  # (n, 3), mm
    normals: Float  # (n, 3)
    is_edge: Bool  # (n,); within `EDGE_CELLS` of an open border of the scan: what lies beyond was not seen
    number: NDArray[np.intp]  # (n,); among the points of the whole scan
    cell: float  # mm; edge of the cells that were averaged

    def taken(self, index: NDArray[Any] | slice) -> Cloud:
        """Return the points of `index` alone."""
        return Cloud(self.points[index], self.normals[index], self.is_edge[index], self.number[index], self.cell)


def make_cloud(mesh: TriMesh, cell: float, rng: np.random.Generator, *, is_dense: bool = False) -> Cloud:
    """Return a scan's surface as points averaged over cells of edge `cell` mm.

    Notes
    -----
    Points of the surface, each for its share of the area: of a dense scan its corners, else points drawn on it. Those
    in one cell that look the same way (along the same of six half axes) become one point. The mean over k scan vertices
    lowers white noise by sqrt(k).
    """
    points, normals, area = _samples(mesh, WIDE_CELLS * cell if is_dense else 0.0, rng)
    where = np.floor((points - mesh.bounds[0]) / cell).astype(np.int64) + 1
    span = where.max(axis=0) + 2
    strongest = np.abs(normals).argmax(axis=1)
    side = 2 * strongest + (normals[np.arange(len(points)), strongest] > 0)
    key = ((where[:, 0] * span[1] + where[:, 1]) * span[2] + where[:, 2]) * 6 + side
    _, group = np.unique(key, return_inverse=True)
    group = group.reshape(-1)
    total = np.bincount(group, area)
    sums = sums_by(group, np.concatenate([points, normals], axis=1) * area[:, None])
    mean_point, mean_normal = sums[:, :3] / total[:, None], sums[:, 3:]
    length = np.linalg.norm(mean_normal, axis=1)
    # Cells with a lone stray point, or whose normals cancel, say nothing about the surface.
    is_kept = (total >= 0.25 * total.mean()) & (length > 0.5 * total)
    mean_point, mean_normal = mean_point[is_kept], mean_normal[is_kept] / length[is_kept, None]
    is_edge = np.zeros(len(mean_point), dtype=bool)
    if mesh.is_on_border.any():
        from scipy.spatial import cKDTree

        distance, _ = cKDTree(mesh.vertices[mesh.is_on_border]).query(
            mean_point, distance_upper_bound=EDGE_CELLS * cell
        )
        is_edge = np.isfinite(distance)
    return Cloud(mean_point, mean_normal, is_edge, np.arange(len(mean_point)), cell)


def _samples(mesh: TriMesh, widest: float, rng: np.random.Generator) -> tuple[Float, Float, Float]:
    """Return points of a surface, (n, 3), mm, the corners' normals there, (n, 3), and the area each is for, (n,), mm2.

    Corners, and points drawn on triangles with an edge longer than `widest`, mm.
    """
    is_wide = np.ones(len(mesh.faces), dtype=bool)
    if widest > 0.0:
        is_wide[:] = False
        corner = [mesh.vertices[mesh.faces[:, each]] for each in range(3)]
        for one, other in ((0, 1), (1, 2), (2, 0)):
            way = corner[one] - corner[other]
            is_wide |= np.einsum("nk,nk->n", way, way) > widest**2
    if not is_wide.any():
        return mesh.vertices, mesh.vertex_normals, mesh.vertex_areas
    of_wide = np.where(is_wide, mesh.face_areas, 0.0)
    of_corner = sums_at_corners(mesh.faces, (mesh.face_areas - of_wide)[:, None] / 3.0, len(mesh.vertices))[:, 0]
    wide = float(of_wide.sum())
    count = int(np.ceil(DRAWN * wide / mesh.area))
    points, normals = drawn_points(mesh, count, rng, of_wide, is_rounded=True)
    used = np.flatnonzero(of_corner)
    return (
        np.concatenate([mesh.vertices[used], points]),
        np.concatenate([mesh.vertex_normals[used], normals]),
        np.concatenate([of_corner[used], np.full(count, wide / count)]),
    )


@dataclass(frozen=True, eq=False)
class NearestGrid:
    """For every voxel around a cloud the index of about the nearest point; one look-up instead of a search."""

    low: Float32  # (3,), mm
    step: float  # mm
    shape: Int  # (3,)
    index: Int  # (voxels,)
    columns: Float32  # (6, n); of the cloud: coordinates, mm, then normals
    is_edge: Bool  # (n,)

    def find(self, queries: Float32) -> Int:
        """Return the index of about the nearest point of each query, (3, ...); outside the grid that of its rim."""
        scale = np.float32(1.0 / self.step)
        flat = np.zeros(queries.shape[1:], dtype=np.int32)
        for query, low, count in zip(queries, self.low, self.shape, strict=True):
            cell = ((query - low) * scale).astype(np.int32)
            np.clip(cell, 0, count - 1, out=cell)
            flat *= count
            flat += cell
        return self.index.take(flat)


def make_grid(cloud: Cloud, voxels: int, margin: float) -> NearestGrid:
    """Return the nearest-point grid of a cloud with about `voxels` voxels and `margin` mm around it.

    Notes
    -----
    Exact Euclidean distance transform between voxel centers (scipy.ndimage), so the index is that of the nearest point
    to within about one voxel.
    """
    from scipy.ndimage import distance_transform_edt

    low = cloud.points.min(axis=0) - margin
    span = cloud.points.max(axis=0) + margin - low
    step = max(float((span.prod() / voxels) ** (1.0 / 3.0)), 0.4 * cloud.cell)
    shape = np.ceil(span / step).astype(np.int32) + 1
    where = np.minimum(((cloud.points - low) / step).astype(np.int32), shape - 1)
    owner = np.full(shape, -1, dtype=np.int32)
    owner[where[:, 0], where[:, 1], where[:, 2]] = np.arange(len(cloud.points), dtype=np.int32)
    nearest = distance_transform_edt(owner < 0, return_distances=False, return_indices=True)
    index = owner[nearest[0], nearest[1], nearest[2]].ravel()
    return NearestGrid(
        low.astype(np.float32),
        step,
        shape,
        index,
        np.concatenate([cloud.points.T, cloud.normals.T]).astype(np.float32),
        cloud.is_edge,
    )
