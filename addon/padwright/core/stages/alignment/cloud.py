"""A scan made ready for fitting: evenly spread smoothed points with normals, and a grid that finds the nearest one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Bool, Float, Int, TriMesh, sums_by
from ...geometry.drawn import drawn_points

Float32 = NDArray[np.float32]

DRAWN = 150_000
"""Points drawn on a scan before averaging: 8 to 20 in each cell below (own measurement, docs/models/align.md)."""

EDGE_CELLS = 1.0
"""So many cells from an open border, what lies beyond was not seen: the mean of a cell there lies off its middle."""


@dataclass(frozen=True, eq=False)
class Cloud:
    """Evenly spread points of a scan's surface, each the mean of its cell."""

    points: Float  # (n, 3), mm
    normals: Float  # (n, 3)
    is_edge: Bool  # (n,); within `EDGE_CELLS` of an open border of the scan: what lies beyond was not seen
    cell: float  # mm; edge of the cells that were averaged

    def taken(self, index: NDArray[Any] | slice) -> Cloud:
        """Return the points of `index` alone."""
        return Cloud(self.points[index], self.normals[index], self.is_edge[index], self.cell)


def make_cloud(mesh: TriMesh, cell: float, rng: np.random.Generator) -> Cloud:
    """Return a scan's surface as points averaged over cells of edge `cell` mm.

    Notes
    -----
    Points drawn evenly by area take their normal from the corners; those in one cell that look the same way (along the
    same of six half axes) become one point. The mean over k scan vertices lowers white noise by sqrt(k).
    """
    points, normals = drawn_points(mesh, DRAWN, rng)
    where = np.floor((points - mesh.bounds[0]) / cell).astype(np.int64) + 1
    span = where.max(axis=0) + 2
    strongest = np.abs(normals).argmax(axis=1)
    side = 2 * strongest + (normals[np.arange(DRAWN), strongest] > 0)
    key = ((where[:, 0] * span[1] + where[:, 1]) * span[2] + where[:, 2]) * 6 + side
    _, group = np.unique(key, return_inverse=True)
    group = group.reshape(-1)
    count = np.bincount(group)
    mean_point, mean_normal = sums_by(group, points) / count[:, None], sums_by(group, normals)
    length = np.linalg.norm(mean_normal, axis=1)
    # Cells with a lone stray point, or whose normals cancel, say nothing about the surface.
    is_kept = (count >= min(3.0, 0.25 * count.mean())) & (length > 0.5 * count)
    mean_point, mean_normal = mean_point[is_kept], mean_normal[is_kept] / length[is_kept, None]
    is_edge = np.zeros(len(mean_point), dtype=bool)
    if mesh.is_on_border.any():
        from scipy.spatial import cKDTree

        distance, _ = cKDTree(mesh.vertices[mesh.is_on_border]).query(
            mean_point, distance_upper_bound=EDGE_CELLS * cell
        )
        is_edge = np.isfinite(distance)
    return Cloud(mean_point, mean_normal, is_edge, cell)


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
