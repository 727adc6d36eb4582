"""Where straight lines along one direction cross a closed mesh."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..base.mesh import Bool, Float, Int, TriMesh

_CELLS = 2.0**25
"""Across, places are rounded to this share of the mesh's extent (a hundred-thousandth of a millimeter on 300): products
of two differences then have 52 bits at most, so which side of an edge a place lies on is worked out exactly."""

_SHARE = 4_000_000
"""Pairs of a line and a triangle looked at in one go: some 300 MB at the most."""


@dataclass(frozen=True, eq=False)
class Crossings:
    """Crossings of lines with a mesh, those of one line together and in order along the direction."""

    line: NDArray[np.int64]  # (k,)
    face: NDArray[np.int64]  # (k,)
    along: Float  # (k,), mm; place along the direction, from the origin of coordinates
    # (k,); the line leaves the solid there. From the same numbers that tell if it crosses: the normal of a face that is
    # all but on edge may say something else.
    is_out: Bool


def across(direction: Float) -> Float:
    """Return a right-handed frame (3, 3) whose last row is the unit direction."""
    along = np.asarray(direction, dtype=np.float64) / np.linalg.norm(direction)
    first = np.cross(np.eye(3)[np.argmin(np.abs(along))], along)
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(along, first), along])


def crossings(mesh: TriMesh, points: Float, direction: Float) -> Crossings:
    """Return every crossing of the lines through `points`, (q, 3), along a direction, (3,), with the mesh.

    Notes
    -----
    A triangle counts when the point lies on the inner side of its three edges as seen along the direction. On which
    side of an edge a point lies is worked out in one way for both triangles that share it, so a line through an edge
    crosses one of them, never both or none: lines go in as often as they come out. A point right on an edge counts as a
    hair beside it, by e along the first axis across and e^2 along the second (Edelsbrunner & Muecke 1990, simulation
    of simplicity, doi 10.1145/77635.77639), which holds at corners too. Triangles on edge count for nothing.
    """
    frame = across(direction)
    flat, query = _seen(mesh.vertices, frame), _seen(np.asarray(points, dtype=np.float64), frame)
    if len(flat) == 0:
        return _none()
    least, extent = flat[:, :2].min(axis=0), float(np.ptp(flat[:, :2], axis=0).max())
    for seen in (flat, query):
        seen[:, :2] = np.rint((seen[:, :2] - least) * (_CELLS / max(extent, 1e-9)))
    corner = flat[mesh.faces]
    twice = _cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    face = np.flatnonzero(twice != 0.0)
    if len(face) == 0 or len(query) == 0:
        return _none()
    low, high = corner[face, :, :2].min(axis=1), corner[face, :, :2].max(axis=1)
    size = max(
        0.5 * float(np.median((high - low).max(axis=1))), float((high.max(axis=0) - low.min(axis=0)).max()) / 2000.0
    )
    origin = low.min(axis=0)
    shape = np.floor((high.max(axis=0) - origin) / size).astype(np.int64) + 1
    entry, cell = cells_of_boxes(low, high, origin, size, shape)
    order = np.argsort(cell, kind="stable")
    entry, cell = face[entry[order]], cell[order]
    where = np.floor((query[:, :2] - origin) / size).astype(np.int64)
    inside = np.flatnonzero(((where >= 0) & (where < shape)).all(axis=1))
    key = where[inside, 0] * shape[1] + where[inside, 1]
    start, end = np.searchsorted(cell, key), np.searchsorted(cell, key, side="right")
    found: list[tuple[NDArray[np.int64], NDArray[np.int64], Float]] = []
    parts = max(1, int((end - start).sum()) // _SHARE + 1)
    for some in np.array_split(np.arange(len(inside)), parts):
        count = (end - start)[some]
        line = np.repeat(inside[some], count)
        pair = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(start[some], count)
        triangle = entry[pair]
        is_hit = _is_within(flat, mesh.faces, twice, triangle, query[line, :2])
        line, triangle = line[is_hit], triangle[is_hit]
        found.append((line, triangle, _height(corner, twice, triangle, query[line, :2])))
    line, triangle, along = (np.concatenate(each) for each in zip(*found, strict=True))
    order = np.lexsort((along, line))
    triangle = triangle[order]
    return Crossings(line[order], triangle, along[order], twice[triangle] > 0.0)


def _seen(points: Float, frame: Float) -> Float:
    """Return the points in the frame; written out, so that the last bits hang on no library."""
    x, y, z = points.T
    return np.stack([x * row[0] + y * row[1] + z * row[2] for row in frame], axis=1)


def _none() -> Crossings:
    return Crossings(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0), np.zeros(0, dtype=bool))


def _cross(first: Float, second: Float) -> Float:
    return np.asarray(first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0])


def _is_within(flat: Float, faces: Int, twice: Float, triangle: NDArray[np.int64], point: Float) -> NDArray[np.bool_]:
    """Return whether each triangle, (k,), has its point, (k, 2), within; edge by edge, looking at what is left only."""
    left = np.arange(len(triangle))
    for one, two in ((0, 1), (1, 2), (2, 0)):
        from_, to = faces[triangle[left], one], faces[triangle[left], two]
        is_turned = from_ > to
        first = flat[np.where(is_turned, to, from_), :2]
        edge = flat[np.where(is_turned, from_, to), :2] - first
        beside = _cross(edge, point[left] - first)
        is_left = (beside > 0.0) | ((beside == 0.0) & ((edge[:, 1] < 0.0) | ((edge[:, 1] == 0.0) & (edge[:, 0] > 0.0))))
        left = left[is_left != (is_turned ^ (twice[triangle[left]] < 0.0))]
    result = np.zeros(len(triangle), dtype=bool)
    result[left] = True
    return result


def _height(corner: Float, twice: Float, triangle: NDArray[np.int64], point: Float) -> Float:
    a, b, c = (corner[triangle, index] for index in range(3))
    to = point - a[:, :2]
    second = _cross(to, (c - a)[:, :2]) / twice[triangle]
    third = _cross((b - a)[:, :2], to) / twice[triangle]
    value = a[:, 2] + second * (b - a)[:, 2] + third * (c - a)[:, 2]
    # A triangle almost on edge has next to no area to divide by: the crossing still lies between its corners.
    low, high = (end(end(a[:, 2], b[:, 2]), c[:, 2]) for end in (np.minimum, np.maximum))
    return np.asarray(np.clip(value, low, high))


def cells_of_boxes(
    low: Float, high: Float, origin: Float, size: float, shape: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return every (box, cell) pair that overlap on a grid in the plane, (k,) int each.

    The boxes, `low` to `high`, (m, 2) mm, begin within the grid, which begins at `origin`, (2,) mm, and has `shape`
    cells of `size` mm. A cell's number is its column times the rows, and its row.
    """
    first = np.floor((low - origin) / size).astype(np.int64)
    span = np.minimum(np.floor((high - origin) / size).astype(np.int64), shape - 1) - first + 1
    count = span[:, 0] * span[:, 1]
    entry = np.repeat(np.arange(len(low)), count)
    inner = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    column = first[entry, 0] + inner // span[entry, 1]
    row = first[entry, 1] + inner % span[entry, 1]
    return entry, column * shape[1] + row
