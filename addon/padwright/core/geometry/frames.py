"""Rigid motions: made, undone, compared and fitted in closed form; a part laid on its datum."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..base.errors import InputError
from ..base.mesh import Float

_COLLINEAR_SHARE = 1e-3
"""Points whose spread across their line is below this share of the spread along it pin no plane.

Common practice, no source: 0.2 mm across a line of 200 mm is picking error, not a second direction.
"""


def rigid(rotation: Float, translation: Float) -> Float:
    """Return the (4, 4) matrix of a rotation (3, 3) followed by a translation (3,), mm."""
    matrix = np.eye(4)
    matrix[:3, :3] = rotation
    matrix[:3, 3] = translation
    return matrix


def inverse_rigid(matrix: Float) -> Float:
    """Return the inverse of a rigid (4, 4) matrix; exact up to rounding, no solve."""
    turn = matrix[:3, :3].T
    return rigid(turn, -turn @ matrix[:3, 3])


def moved(matrix: Float, points: Float) -> Float:
    """Return `points`, (n, 3), moved by a (4, 4) matrix."""
    return np.asarray(points) @ matrix[:3, :3].T + matrix[:3, 3]


def rotations_from_vectors(vectors: Float) -> Float:
    """Return the rotation matrices, (..., 3, 3), of rotation vectors, (..., 3), radians.

    Notes
    -----
    R = I + sin(a)/a K + (1 - cos(a))/a^2 K^2 with K the cross-product matrix (Rodrigues 1840).
    """
    vectors = np.asarray(vectors)
    angle2 = (vectors * vectors).sum(-1)[..., None, None]
    angle = np.sqrt(angle2)
    is_small = angle2 < 1e-12
    safe = np.where(is_small, 1.0, angle)
    first = np.where(is_small, 1.0 - angle2 / 6.0, np.sin(safe) / safe)
    half = np.sin(safe / 2.0) / safe
    second = np.where(is_small, 0.5 - angle2 / 24.0, 2.0 * half * half)
    cross = np.zeros((*vectors.shape, 3), dtype=vectors.dtype)
    cross[..., 0, 1], cross[..., 0, 2] = -vectors[..., 2], vectors[..., 1]
    cross[..., 1, 0], cross[..., 1, 2] = vectors[..., 2], -vectors[..., 0]
    cross[..., 2, 0], cross[..., 2, 1] = -vectors[..., 1], vectors[..., 0]
    result = np.eye(3) + first * cross + second * (cross @ cross)
    return result.astype(vectors.dtype, copy=False)


def rotation_angle_deg(rotation: Float) -> float:
    """Return by how much a rotation matrix (3, 3) turns, degrees, 0 to 180; exact near 0 too.

    Notes
    -----
    |R - I|_F = 2 sqrt(2) sin(a/2); the arc cosine of the trace would lose half the digits near 0.
    """
    half_sine = np.linalg.norm(np.asarray(rotation)[:3, :3] - np.eye(3)) / (2.0 * np.sqrt(2.0))
    return float(np.degrees(2.0 * np.arcsin(min(1.0, half_sine))))


def motion_between(first: Float, second: Float, points: Float) -> float:
    """Return the mean distance, mm, between where two (4, 4) matrices put the same `points`, (n, 3)."""
    return float(
        np.linalg.norm(np.asarray(points) @ (first - second)[:3, :3].T + (first - second)[:3, 3], axis=1).mean()
    )


@dataclass(frozen=True, eq=False)
class Similarity:
    """A scale, then a rotation, then a translation, fitted to point pairs."""

    scale: float
    rotation: Float  # (d, d); its determinant is +1: never a mirror
    translation: Float  # (d,), mm
    rms: float  # mm; root of the mean squared distance of the pairs after the fit
    would_mirror: bool  # True when a mirror image would have fitted better than any rotation

    def moved(self, points: Float) -> Float:
        """Return `points`, (n, d), moved."""
        return self.scale * np.asarray(points) @ self.rotation.T + self.translation


def fit_similarity(source: Float, target: Float, *, with_scale: bool = True) -> Similarity:
    """Return the similarity that carries `source` to `target`, both (n, d) mm, with the least squared distance.

    Without `with_scale` the scale stays 1 (Kabsch 1976).

    Raises InputError when all source points are one point.

    Notes
    -----
    Umeyama 1991, doi 10.1109/34.88573: covariance U D V^T, R = U S V^T, scale = tr(D S) / variance of the source, with
    the last entry of S -1 where U V^T would mirror.
    """
    source_mean, target_mean = source.mean(axis=0), target.mean(axis=0)
    from_mean, to_mean = source - source_mean, target - target_mean
    variance = float((from_mean * from_mean).sum(axis=1).mean())
    if variance <= 0:
        raise InputError("All source points are one and the same point.")
    left, singular, right = np.linalg.svd(to_mean.T @ from_mean / len(source))
    sign = np.ones(source.shape[1])
    would_mirror = bool(np.linalg.det(left) * np.linalg.det(right) < 0)
    if would_mirror:
        sign[-1] = -1.0
    rotation = (left * sign) @ right
    scale = float(singular @ sign / variance) if with_scale else 1.0
    translation = target_mean - scale * rotation @ source_mean
    left_over = target - (scale * source @ rotation.T + translation)
    rms = float(np.sqrt((left_over * left_over).sum(axis=1).mean()))
    is_flat = singular[-1] <= 1e-9 * singular[0]
    return Similarity(scale, rotation, translation, rms, would_mirror and not is_flat)


def is_collinear(points: Float) -> bool:
    """Return True when points, (n, 3), lie on one line (or in one point) as far as picking can tell."""
    along, *across = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return not across or bool(across[0] <= _COLLINEAR_SHARE * along)


def datum_frame(plane_points: Float, line_points: Float, origin_point: Float, *, outside: Float | None = None) -> Float:
    """Return the (4, 4) matrix that lays a part on its datum: 3 points a plane, 2 a line, 1 a point.

    Raises InputError when the plane's points lie on one line, or the line stands on the plane.

    Parameters
    ----------
    plane_points : (3 or more, 3) float, mm
        They come to lie in z = 0 (in the mean, when there are more than three).
    line_points : (2, 3) float, mm
        Seen from above they lie on the x axis, the second further along than the first.
    origin_point : (3,) float, mm
        Seen from above it comes to lie at x = 0.
    outside : (3,) float, optional
        A point that shall have z > 0. Left out, the plane's turn is that of its first three points,
        counter-clockwise seen from z > 0.

    Notes
    -----
    The 3-2-1 order of datum features of ISO 5459 (cited, not read).
    """
    if is_collinear(plane_points):
        raise InputError("The datum plane's points lie on one line.", hint="Pick three that span a wide triangle.")
    middle = plane_points.mean(axis=0)
    up = np.linalg.svd(plane_points - middle)[2][2]
    turn = np.cross(plane_points[1] - plane_points[0], plane_points[2] - plane_points[0])
    if (turn if outside is None else outside - middle) @ up < 0:
        up = -up
    along = line_points[1] - line_points[0]
    flat = along - (along @ up) * up
    if np.linalg.norm(flat) <= _COLLINEAR_SHARE * max(float(np.linalg.norm(along)), 1e-12):
        raise InputError("The datum line stands upright on the datum plane.", hint="Pick two points along the part.")
    ahead = flat / np.linalg.norm(flat)
    aside = np.cross(up, ahead)
    start = np.array([origin_point @ ahead, line_points[0] @ aside, middle @ up])
    return rigid(np.stack([ahead, aside, up]), -start)
