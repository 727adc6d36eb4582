"""The search for a pose from nowhere: many starts descend together, and the physical ones are kept.

Clay lies outside the base. So, at the true pose, every seen point of the impression lies on the base or outside it, and
every seen point of the base lies on the impression or under it. Both halves are counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from ...base.mesh import Bool, Float
from ...base.together import together
from ...geometry.frames import rotations_from_vectors
from .cloud import Cloud, Float32, NearestGrid

BATCH = 128
"""Poses that descend together: their arrays stay in the processor's cache (own measurement)."""


@dataclass(frozen=True, eq=False)
class SearchPoses:
    """Poses of the impression's centered cloud in the base's centered frame."""

    rotation: Float32  # (s, 3, 3)
    translation: Float32  # (s, 3), mm

    def __len__(self) -> int:
        return len(self.rotation)

    def taken(self, index) -> SearchPoses:  # type: ignore[no-untyped-def]  # any numpy index
        """Return the poses of `index` alone."""
        return SearchPoses(self.rotation[index], self.translation[index])


def joined(parts: list[SearchPoses]) -> SearchPoses:
    """Return the poses of all parts, one after the other."""
    return SearchPoses(
        np.concatenate([part.rotation for part in parts]), np.concatenate([part.translation for part in parts])
    )


@dataclass(frozen=True, eq=False)
class SearchPair:
    """Both scans ready for the search: grids, and the sample of each that is asked for its place on the other."""

    base_grid: NearestGrid
    impression_grid: NearestGrid
    # base, impression: the samples, in the centered frames.
    base: Cloud
    impression: Cloud
    size: float  # mm; root-mean-square distance of the base's points from their middle


def even_rotations(count: int) -> Float32:
    """Return `count` rotation matrices spread evenly over all rotations, (count, 3, 3).

    Notes
    -----
    Super-Fibonacci spirals, Alexa 2022, "Super-Fibonacci spirals: fast, low-discrepancy sampling of SO(3)", CVPR,
    doi 10.1109/CVPR52688.2022.00811: psi is the positive root of psi^4 = psi + 4.
    """
    step = np.arange(count) + 0.5
    first, second = 2.0 * np.pi * step / np.sqrt(2.0), 2.0 * np.pi * step / 1.533751168755204288118041
    inner, outer = np.sqrt(step / count), np.sqrt(1.0 - step / count)
    x, y = inner * np.sin(first), inner * np.cos(first)
    z, w = outer * np.sin(second), outer * np.cos(second)
    rows = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ]
    return np.array(rows).transpose(2, 0, 1).astype(np.float32)


def steps_down(own: Float | Float32, cross: Float | Float32, right_side: Float | Float32) -> Float | Float32:
    """Return the motions, (s, 6), that a Gauss-Newton step takes with less of the normals' noise in it.

    Parameters
    ----------
    own : (s, 6, 6) float
        Rows times themselves: with noisy normals it overrates how firmly the loose motions are held.
    cross : (s, 6, 6) float
        Rows of one scan's normals times rows of the other's, symmetric: that noise averages out of it.
    right_side : (s, 6) float

    Notes
    -----
    In the frame where `own` is the identity, `cross` has eigenvalues up to about 1. Those below 0.2 are taken as 0.2: a
    loose motion steps at most five times as far as plain Gauss-Newton would (common practice, no source).
    """
    root = np.linalg.cholesky(own)
    inner = np.linalg.solve(root, np.linalg.solve(root, cross).swapaxes(-1, -2))
    value, vector = np.linalg.eigh(0.5 * (inner + inner.swapaxes(-1, -2)))
    part = np.einsum("...ji,...j->...i", vector, np.linalg.solve(root, right_side[..., None])[..., 0])
    part = np.einsum("...ij,...j->...i", vector, part / np.clip(value, 0.2, 1.0))
    motion: Float = np.linalg.solve(root.swapaxes(-1, -2), part[..., None])[..., 0]
    return motion


@dataclass(frozen=True, eq=False)
class _Met:
    """Where points of one scan, moved by each pose, meet the other; in the base's frame, coordinates before points."""

    gap: Float32  # (s, n), mm; positive where the impression lies outside the base
    far2: Float32  # (s, n), mm2; to the point met
    agree: Float32  # (s, n); of both normals
    is_edge: Bool  # (s, n)
    # (3, s, n): of the point, of the surface met, and the point's own.
    point: Float32
    normal: Float32
    facing: Float32


def _met(grid: NearestGrid, points: Float32, facing: Float32) -> tuple[Float32, Float32, Float32, Bool, Float32]:
    """Return gap, squared distance, agreement of normals, is_edge and the normal met of points, (3, s, n)."""
    index = grid.find(points)
    normal = grid.columns[3:].take(index, axis=1)
    apart = points - grid.columns[:3].take(index, axis=1)
    return _dot(apart, normal), _dot(apart, apart), _dot(facing, normal), grid.is_edge[index], normal


def _dot(one: Float32, other: Float32) -> Float32:
    return np.asarray(one[0] * other[0] + one[1] * other[1] + one[2] * other[2])


def _turned(turn: Float32, vectors: Float32) -> Float32:
    """Return vectors, (3, n) or (3, s, n), turned by each pose's matrix, (s, 3, 3): (3, s, n)."""
    if vectors.ndim == 2:
        return np.asarray((turn.transpose(1, 0, 2).reshape(-1, 3) @ vectors).reshape(3, len(turn), -1))
    first, second, third = vectors
    turned = np.zeros_like(vectors)
    for row in range(3):
        turned[row] = turn[:, row, 0, None] * first
        turned[row] += turn[:, row, 1, None] * second
        turned[row] += turn[:, row, 2, None] * third
    return turned


def _gaps(pair: SearchPair, poses: SearchPoses, base_at: Cloud, impression_at: Cloud) -> tuple[_Met, _Met]:
    """Return where the impression's sample meets the base, and the base's the impression."""
    turn, shift = poses.rotation, poses.translation.T[:, :, None]
    back = turn.transpose(0, 2, 1)
    (point, facing), (own, own_normal) = (
        (each.points.T.astype(np.float32), each.normals.T.astype(np.float32)) for each in (impression_at, base_at)
    )
    points, facing = _turned(turn, point), _turned(turn, facing)
    points += shift
    gap, far2, agree, is_edge, normal = _met(pair.base_grid, points, facing)
    forward = _Met(gap, far2, agree, is_edge, points, normal, facing)
    points = _turned(back, own)
    points -= np.einsum("sji,sj->is", turn, poses.translation)[:, :, None]
    gap, far2, agree, is_edge, normal = _met(pair.impression_grid, points, _turned(back, own_normal))
    own, own_normal = (np.broadcast_to(each[:, None], points.shape) for each in (own, own_normal))
    return forward, _Met(-gap, far2, agree, is_edge, own, _turned(turn, normal), own_normal)


def _rows(point: Float32, normal: Float32, size: float) -> Float32:
    """Return the point-to-plane rows [p x n / size, n] of points and normals, (3, s, n): (s, 6, n)."""
    rows = np.zeros((point.shape[1], 6, point.shape[2]), dtype=np.float32)
    for axis, (second, third) in enumerate(((1, 2), (2, 0), (0, 1))):
        rows[:, axis] = (point[second] * normal[third] - point[third] * normal[second]) / np.float32(size)
        rows[:, 3 + axis] = normal[axis]
    return rows


def descend(
    pair: SearchPair,
    poses: SearchPoses,
    base_count: int,
    impression_count: int,
    steps: int,
    wide: float,
    narrow: float,
    is_close: bool = False,
) -> SearchPoses:
    """Return the poses after `steps` one-sided point-to-plane steps.

    Parameters
    ----------
    base_count, impression_count : int
        How many of the samples take part (the first ones: samples are in random order).
    wide, narrow : float, mm
        Width within which a point outside the base counts, at the first and at the last step. A point inside counts
        fully.

    Notes
    -----
    Point-to-plane rows [p x n, n] (Chen & Medioni 1992, doi 10.1016/0262-8856(92)90066-C), weighted exp(-(gap /
    width)^2) on the outside only. A small pull towards no motion (1e-3 of the mean diagonal) keeps loose motions still.
    """
    base_at = pair.base.taken(slice(0, base_count))
    impression_at = pair.impression.taken(slice(0, impression_count))

    def descended(current: SearchPoses) -> SearchPoses:
        for step in range(steps):
            width = wide * (narrow / wide) ** (step / max(1, steps - 1))
            current = _step_down(pair, current, _gaps(pair, current, base_at, impression_at), width, is_close)
        return current

    return joined(together([partial(descended, some) for some in _batches(poses)]))


def _batches(poses: SearchPoses) -> list[SearchPoses]:
    """Return the poses in batches of about one size, an even number of them where there are more than one."""
    count = max(1, -(-len(poses) // BATCH))
    count += count % 2 if count > 1 else 0
    return [poses.taken(index) for index in np.array_split(np.arange(len(poses)), count)]


def _step_down(
    pair: SearchPair, poses: SearchPoses, gaps: tuple[_Met, _Met], width: float, is_close: bool
) -> SearchPoses:
    normal_matrix = np.zeros((len(poses), 6, 6), dtype=np.float32)
    right_side = np.zeros((len(poses), 6), dtype=np.float32)
    cross = np.zeros_like(normal_matrix)
    for met in gaps:
        weight = np.exp(-np.square(np.maximum(met.gap, 0.0) / width) - met.far2 / (6.0 * width + 10.0) ** 2)
        weight *= met.agree > 0.3
        weight *= np.where(met.is_edge, np.float32(0.2), np.float32(1.0))
        weight /= met.gap.shape[1]
        rows = _rows(met.point, met.normal, pair.size)
        weighted = rows * weight[:, None]
        normal_matrix += weighted @ rows.transpose(0, 2, 1)
        if is_close:
            cross += weighted @ _rows(met.point, met.facing, pair.size).transpose(0, 2, 1)
        right_side -= (weighted @ met.gap[..., None])[..., 0]
    ridge = 1e-3 * np.trace(normal_matrix, axis1=1, axis2=2) / 6.0 + 1e-6
    normal_matrix += ridge[:, None, None] * np.eye(6, dtype=np.float32)
    if is_close:
        motion = steps_down(normal_matrix, 0.5 * (cross + cross.transpose(0, 2, 1)), right_side)
    else:
        motion = np.linalg.solve(normal_matrix, right_side[..., None])[..., 0]
    vector = motion[:, :3] / np.float32(pair.size)
    angle = np.linalg.norm(vector, axis=1, keepdims=True)
    vector *= np.minimum(1.0, 0.35 / np.maximum(angle, 1e-9))
    slide = np.clip(motion[:, 3:], -0.4 * pair.size, 0.4 * pair.size)
    turn = rotations_from_vectors(vector)
    return SearchPoses(turn @ poses.rotation, np.einsum("sij,sj->si", turn, poses.translation) + slide)


def score(pair: SearchPair, poses: SearchPoses, base_count: int, impression_count: int, tolerance: float) -> Float:
    """Return how well each pose explains both scans, (s,): shares on the other, less shares that cannot lie there.

    A point within the tolerance, mm, lies on the other scan; one more than twice it on the wrong side cannot be.
    """
    base_at = pair.base.taken(slice(0, base_count))
    impression_at = pair.impression.taken(slice(0, impression_count))

    def scored(current: SearchPoses) -> Float:
        total = np.zeros(len(current))
        for met in _gaps(pair, current, base_at, impression_at):
            near = met.far2 < (2.0 * tolerance + 4.0) ** 2
            is_on = (np.abs(met.gap) < tolerance) & (met.agree > 0.5) & near
            is_wrong = (met.gap < -2.0 * tolerance) & ~met.is_edge
            total += is_on.mean(axis=1) - is_wrong.mean(axis=1)
        return total / 2.0

    return np.concatenate(together([partial(scored, some) for some in _batches(poses)]))


def distinct(poses: SearchPoses, points: Float, apart: float, most: int) -> list[int]:
    """Return the indices of poses, best first, that put `points` more than `apart` mm (mean) from every better one."""
    sample = points.astype(np.float32)
    kept: list[int] = []
    places = np.zeros((most, *sample.shape), dtype=np.float32)
    for index in range(len(poses)):
        place = sample @ poses.rotation[index].T + poses.translation[index]
        if (np.linalg.norm(places[: len(kept)] - place, axis=2).mean(axis=1) > apart).all():
            places[len(kept)] = place
            kept.append(index)
            if len(kept) == most:
                break
    return kept
