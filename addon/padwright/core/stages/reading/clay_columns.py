"""Straight columns from the body side down to the base: where a line along one direction meets a surface."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Bool, Float, Int, TriMesh
from ...geometry.crossings import cells_of_boxes


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
    corner = mesh.vertices[mesh.faces[face]] @ frame.T
    query = np.asarray(points) @ frame.T
    height = np.full(len(query), np.nan)
    if len(face) == 0 or len(query) == 0:
        return height, np.zeros(len(query), dtype=bool)
    low, high = corner[:, :, :2].min(axis=1), corner[:, :, :2].max(axis=1)
    size = max(float(np.median((high - low).max(axis=1))), 1e-6)
    origin = low.min(axis=0)
    shape = np.floor((high.max(axis=0) - origin) / size).astype(np.int64) + 1
    tri, cell = cells_of_boxes(low, high, origin, size, shape)
    order = np.argsort(cell, kind="stable")
    tri, cell = tri[order], cell[order]

    where = np.floor((query[:, :2] - origin) / size).astype(np.int64)
    inside = ((where >= 0) & (where < shape)).all(axis=1)
    index = np.flatnonzero(inside)
    key = where[index, 0] * shape[1] + where[index, 1]
    start, end = np.searchsorted(cell, key), np.searchsorted(cell, key, side="right")
    count = end - start
    which = np.repeat(np.arange(len(index)), count)
    pair = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(start, count)
    point = query[index[which]]
    level, hit = _height_in_triangle(_planes(corner), tri[pair], point[:, :2])
    which, above = index[which[hit]], (point[:, 2] - level)[hit]
    if len(which) == 0:
        return height, np.zeros(len(query), dtype=bool)
    first = np.flatnonzero(np.diff(which, prepend=-1))  # pairs of one point lie side by side
    ahead = np.minimum.reduceat(np.where(above >= -slack, above, np.inf), first)
    behind = np.maximum.reduceat(np.where(above < -slack, above, -np.inf), first)
    height[which[first]] = np.where(np.isfinite(ahead), ahead, behind)
    return height, np.isfinite(height)


def _planes(corner: Float) -> Float:
    """Return per triangle the linear functions s, t (barycentric) and height over the plane, (m, 9): x, y, constant."""
    a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
    ab, ac = b - a, c - a
    area = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    inverse = np.divide(1.0, area, out=np.full_like(area, np.nan), where=np.abs(area) > 1e-12)
    s = np.stack([ac[:, 1], -ac[:, 0], ac[:, 0] * a[:, 1] - ac[:, 1] * a[:, 0]], axis=1) * inverse[:, None]
    t = np.stack([-ab[:, 1], ab[:, 0], ab[:, 1] * a[:, 0] - ab[:, 0] * a[:, 1]], axis=1) * inverse[:, None]
    height = s * ab[:, 2:] + t * ac[:, 2:]
    height[:, 2] += a[:, 2]
    return np.concatenate([s, t, height], axis=1)


def _height_in_triangle(planes: Float, triangle: Int, point: Float) -> tuple[Float, Bool]:
    """Return the height of each triangle over its point, and whether the point lies in it (borders belong to both)."""
    plane = planes[triangle]
    x, y = point[:, 0], point[:, 1]
    s = plane[:, 0] * x + plane[:, 1] * y + plane[:, 2]
    t = plane[:, 3] * x + plane[:, 4] * y + plane[:, 5]
    hit = (s >= -1e-9) & (t >= -1e-9) & (s + t <= 1.0 + 1e-9)  # false where the triangle stands on edge (NaN)
    return plane[:, 6] * x + plane[:, 7] * y + plane[:, 8], hit
