"""Straight columns from the body side down to the base: where a line along one direction meets a surface."""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Bool, Float, TriMesh
from ...base.together import together
from ...geometry.crossings import Pairs, pairs_in_cells


def frame_along(direction: Float) -> Float:
    """Return a right-handed frame, (3, 3) rows across, across, and against the `direction` (so "up" is to the body)."""
    up = -np.asarray(direction, dtype=np.float64) / np.linalg.norm(direction)
    helper = np.eye(3)[np.argmin(np.abs(up))]
    across = np.cross(helper, up)
    across /= np.linalg.norm(across)
    return np.stack([across, np.cross(up, across), up])


def drop_onto(mesh: TriMesh, points: Float, direction: Float, slack: float) -> tuple[Float, Bool]:
    """Return how far each point lies above the surface it would first meet when moved along the direction.

    Points are (q, 3), mm, the direction a unit vector, (3,). Only faces turned against it count: what the body could
    touch. A point up to `slack` mm behind a surface still belongs to it (noise), with a negative height. Returns the
    height, (q,) mm, NaN where the line meets nothing, and whether it meets something, (q,).

    Notes
    -----
    Exact point-in-triangle tests against the triangles of the point's cell in a grid across the direction. A point
    with no surface ahead but one behind it gets that one, with a negative height. libigl's rays do not stand in for
    this: of lines aimed at corners of a slanting sheet they miss up to one in ten, and are 0.7 to 2.9 times as fast
    (measured on sheets of 1,600 to 160,000 corners).
    """
    frame = frame_along(direction)
    face = np.flatnonzero(mesh.face_normals @ frame[2] > 1e-6)
    corner = [mesh.vertices.take(mesh.faces[face, index], axis=0) @ frame.T for index in range(3)]
    query = np.asarray(points) @ frame.T
    ahead, behind = np.full(len(query), np.inf), np.full(len(query), -np.inf)
    if len(face) == 0 or len(query) == 0:
        return np.full(len(query), np.nan), np.zeros(len(query), dtype=bool)
    low, high = (end(end(*corner[:2]), corner[2])[:, :2] for end in (np.minimum, np.maximum))
    planes, places = _planes(*corner), np.ascontiguousarray(query[:, :2])

    def met(pairs: Pairs) -> tuple[NDArray[np.int64], Float]:
        triangle, which = pairs()
        level, hit = _height_in_triangle(planes, triangle, places.take(which, axis=0))
        return which[hit], query[which[hit], 2] - level

    size = 0.5 * float(np.median(np.maximum(*(high - low).T)))
    for which, above in together([partial(met, pairs) for pairs in pairs_in_cells(low, high, places, size)]):
        is_ahead = above >= -slack
        np.minimum.at(ahead, which[is_ahead], above[is_ahead])
        np.maximum.at(behind, which[~is_ahead], above[~is_ahead])
    height = np.where(np.isfinite(ahead), ahead, behind)
    is_met = np.isfinite(height)
    return np.where(is_met, height, np.nan), is_met


def _planes(a: Float, b: Float, c: Float) -> tuple[Float, Float]:
    """Return per triangle the linear functions s, t (barycentric), (m, 6), and height over the plane, (m, 3).

    Each as x, y and constant.
    """
    ab, ac = b - a, c - a
    area = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    inverse = np.divide(1.0, area, out=np.full_like(area, np.nan), where=np.abs(area) > 1e-12)
    s = np.stack([ac[:, 1], -ac[:, 0], ac[:, 0] * a[:, 1] - ac[:, 1] * a[:, 0]], axis=1) * inverse[:, None]
    t = np.stack([-ab[:, 1], ab[:, 0], ab[:, 1] * a[:, 0] - ab[:, 0] * a[:, 1]], axis=1) * inverse[:, None]
    height = s * ab[:, 2:] + t * ac[:, 2:]
    height[:, 2] += a[:, 2]
    return np.concatenate([s, t], axis=1), height


def _height_in_triangle(planes: tuple[Float, Float], triangle: NDArray[np.int64], point: Float) -> tuple[Float, Bool]:
    """Return whether each point, (k, 2), lies in its triangle, (k,) (borders belong to both), and the height of those.

    The height over the plane, mm, is one for each of the points that do.
    """
    share, height = planes
    plane = share.take(triangle, axis=0)
    x, y = point[:, 0], point[:, 1]
    s = plane[:, 0] * x + plane[:, 1] * y + plane[:, 2]
    t = plane[:, 3] * x + plane[:, 4] * y + plane[:, 5]
    hit = (s >= -1e-9) & (t >= -1e-9) & (s + t <= 1.0 + 1e-9)  # false where the triangle stands on edge (NaN)
    plane = height.take(triangle[hit], axis=0)
    return plane[:, 0] * x[hit] + plane[:, 1] * y[hit] + plane[:, 2], hit
