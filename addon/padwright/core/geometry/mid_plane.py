"""The mid-plane of a part that mirrors itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..base.errors import InputError, SolveError
from ..base.mesh import Bool, Float, Int, TriMesh, sums_by

NO_PLANE = 0.02
"""Part of the part's size that the best plane may leave (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class MidPlane:
    """The plane a shape mirrors itself in."""

    point: Float  # (3,), mm
    normal: Float  # (3,)
    rms_mm: float  # distance of the mirrored surface from the surface, over the nearest `share` of the points
    share: float
    # The same figure of the best plane that is turned by more than 20 degrees from it; infinite when there is none.
    runner_up_mm: float


def mid_plane(points: Float, normals: Float, *, share: float = 0.8) -> MidPlane:
    """Return the plane in which surface points, a few thousand, evenly spread, (n, 3) mm, mirror themselves best.

    That share of them must find a mate; the rest may be holes or one-sided details.

    Raises InputError when the shapes differ or there are fewer than 50 points; SolveError when the best plane leaves
    more than 2 % of the part's size.

    Notes
    -----
    The best twelve of 500 even directions (Fibonacci lattice on the half sphere) through the middle are refined: the
    mirrored points are fitted to the surface point-to-plane (Chen & Medioni 1992) over the plane's own three freedoms,
    trimmed (Chetverikov 2002).
    """
    points, normals = np.asarray(points, dtype=np.float64), np.asarray(normals, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 3 or points.shape != normals.shape or len(points) < 50:
        raise InputError(f"A mid-plane needs 50 points and normals, (n, 3); got {points.shape} and {normals.shape}.")
    center = points.mean(axis=0)
    cloud = points - center
    tree = cKDTree(cloud)
    size = float(np.sqrt((cloud * cloud).sum(axis=1).mean()))
    few = cloud[:: max(1, len(cloud) // 400)]

    step = np.arange(500) + 0.5
    height, turn = step / 500.0, np.pi * (3.0 - np.sqrt(5.0)) * step
    ring = np.sqrt(1.0 - height * height)
    starts = np.stack([ring * np.cos(turn), ring * np.sin(turn), height], axis=1)
    rough = [_left_over(few, cloud, normals, tree, start, 0.0, share)[0] for start in starts]
    found = []
    for best in np.argsort(rough, kind="stable")[:12]:
        normal, offset = starts[best], 0.0
        for sample in [few] * 15 + [cloud] * 5:
            normal, offset = _better(sample, cloud, normals, tree, normal, offset, share)
        found.append((_left_over(cloud, cloud, normals, tree, normal, offset, share)[1], normal, offset))
    found.sort(key=lambda plane: plane[0])
    rms, normal, offset = found[0]
    if rms > NO_PLANE * size:
        raise SolveError(
            f"The part has no mid-plane: the best leaves {rms:.1f} mm over {100 * share:.0f} % of its surface.",
            hint="Give the datum by points instead.",
        )
    others = [plane[0] for plane in found if abs(plane[1] @ normal) < np.cos(np.radians(20.0))]
    return MidPlane(center + offset * normal, normal, rms, share, min(others, default=float("inf")))


def mesh_mid_plane(mesh: TriMesh, *, count: int = 4000, share: float = 0.8) -> MidPlane:
    """Return the mid-plane of a scan, from about `count` points: vertices averaged by area over the cells of a grid.

    Raises InputError, SolveError as `mid_plane`.
    """
    cell = max(float(np.sqrt(mesh.area / count)), 1e-9)
    where = np.floor((mesh.vertices - mesh.bounds[0]) / cell).astype(np.int64)
    span = where.max(axis=0) + 1
    _, group = np.unique((where[:, 0] * span[1] + where[:, 1]) * span[2] + where[:, 2], return_inverse=True)
    area = mesh.vertex_areas
    total = np.bincount(group.reshape(-1), area)
    values = np.concatenate([mesh.vertices, mesh.vertex_normals], axis=1) * area[:, None]
    mean = sums_by(group.reshape(-1), values)
    length = np.linalg.norm(mean[:, 3:], axis=1)
    is_kept = (total > 0) & (length > 0.5 * total)
    return mid_plane(mean[is_kept, :3] / total[is_kept, None], mean[is_kept, 3:] / length[is_kept, None], share=share)


def _mirrored(sample: Float, normal: Float, offset: float) -> Float:
    mirrored: Float = sample - 2.0 * (sample @ normal - offset)[:, None] * normal
    return mirrored


def _met(sample: Float, tree: cKDTree, normal: Float, offset: float, share: float) -> tuple[Float, Float, Int, Bool]:
    """Return mirrored points, how far and which are the nearest of the cloud, and which of them to keep."""
    mirrored = _mirrored(sample, normal, offset)
    distance, index = tree.query(mirrored)
    return mirrored, distance, index, distance <= np.quantile(distance, share)


def _left_over(
    sample: Float, cloud: Float, normals: Float, tree: cKDTree, normal: Float, offset: float, share: float
) -> tuple[float, float]:
    """Return the trimmed root-mean-square distance to the nearest point and to its plane, mm."""
    mirrored, distance, index, is_kept = _met(sample, tree, normal, offset, share)
    gap = ((mirrored - cloud[index]) * normals[index]).sum(axis=1)[is_kept]
    return float(np.sqrt(np.square(distance[is_kept]).mean())), float(np.sqrt(np.square(gap).mean()))


def _better(
    sample: Float, cloud: Float, normals: Float, tree: cKDTree, normal: Float, offset: float, share: float
) -> tuple[Float, float]:
    mirrored, _, index, is_kept = _met(sample, tree, normal, offset, share)
    mate, facing, own = cloud[index][is_kept], normals[index][is_kept], sample[is_kept]
    gap = ((mirrored[is_kept] - mate) * facing).sum(axis=1)
    across = np.linalg.svd(normal[None])[2][1:]
    height, along = own @ normal - offset, facing @ normal
    rows = [-2.0 * ((own @ side) * along + height * (facing @ side)) for side in across]
    # A turn of the plane and its shift in one measure, so that the small pull to no motion weighs on both alike.
    matrix = np.stack([*rows, 2.0 * along * np.abs(own).max()], axis=1)
    pull = 1e-6 * np.trace(matrix.T @ matrix) * np.eye(3)
    change = np.linalg.solve(matrix.T @ matrix + pull, -matrix.T @ gap)
    turned = normal + np.clip(change[0], -0.3, 0.3) * across[0] + np.clip(change[1], -0.3, 0.3) * across[1]
    return turned / np.linalg.norm(turned), offset + float(change[2]) * float(np.abs(own).max())
