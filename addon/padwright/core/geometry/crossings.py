"""Where straight lines along one direction cross a closed mesh."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ..base.mesh import Bool, Float, Int, TriMesh
from ..base.rows import bounds_of
from ..base.together import together

Pairs = Callable[[], tuple[NDArray[np.int64], NDArray[np.int64]]]

_CELLS = 2.0**25
"""Across, places are rounded to this share of the mesh's extent (a hundred-thousandth of a millimeter on 300): products
of two differences then have 52 bits at most, so which side of an edge a place lies on is worked out exactly."""

_SHARE = 125_000
"""Pairs of a line and a triangle looked at in one go: some 12 MB."""

_MOST_CELLS = 2000
"""Cells of a grid along each of its axes: their counts take 32 MB at the most."""


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
    least, most = bounds_of(flat[:, :2])
    extent = float((most - least).max())
    for seen in (flat, query):
        seen[:, :2] = np.rint((seen[:, :2] - least) * (_CELLS / max(extent, 1e-9)))
    a, b, c = (flat.take(mesh.faces[:, index], axis=0) for index in range(3))
    twice = _cross(b - a, c - a)
    face = np.flatnonzero(twice != 0.0)
    if len(face) == 0 or len(query) == 0:
        return _none()
    low, high = (end(end(a[face, :2], b[face, :2]), c[face, :2]) for end in (np.minimum, np.maximum))
    size = 0.5 * float(np.median(np.maximum(*(high - low).T)))
    sides, places = _sides(flat, mesh.faces, twice), np.ascontiguousarray(query[:, :2])

    def met(pairs: Pairs) -> tuple[NDArray[np.int64], NDArray[np.int64], Float]:
        box, line = pairs()
        triangle, point = face.take(box), places.take(line, axis=0)
        for side in sides:
            hit = np.flatnonzero(_is_inside(side, triangle, point))
            triangle, line, point = triangle.take(hit), line.take(hit), point.take(hit, axis=0)
        return line, triangle, _height(a, b, c, twice, triangle, point)

    found = together([partial(met, pairs) for pairs in pairs_in_cells(low, high, places, size)])
    if not found:
        return _none()
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


def _sides(flat: Float, faces: Int, twice: Float) -> list[tuple[Float, Bool]]:
    """Return of the triangles' three sides where each begins and which way it runs, (m, 4), and of which are on it.

    Every side runs from the corner of the lesser number, turned so that what is within its triangle lies to its left; a
    place on it counts as within, (m,), as the hair beside it does.
    """
    sides = []
    for one, two in ((0, 1), (1, 2), (2, 0)):
        is_turned = faces[:, one] > faces[:, two]
        first = flat.take(np.where(is_turned, faces[:, two], faces[:, one]), axis=0)[:, :2]
        way = flat.take(np.where(is_turned, faces[:, one], faces[:, two]), axis=0)[:, :2] - first
        is_on = (way[:, 1] < 0.0) | ((way[:, 1] == 0.0) & (way[:, 0] > 0.0))
        is_right = is_turned ^ (twice < 0.0)
        way[is_right] *= -1.0
        sides.append((np.concatenate([first, way], axis=1), is_on ^ is_right))
    return sides


def _is_inside(side: tuple[Float, Bool], triangle: NDArray[np.int64], point: Float) -> Bool:
    """Return whether points, (k, 2), lie on the inner side of one side of their triangles, (k,)."""
    line, is_on = side
    at = line.take(triangle, axis=0)
    beside = at[:, 2] * (point[:, 1] - at[:, 1]) - at[:, 3] * (point[:, 0] - at[:, 0])
    is_inside = beside > 0.0
    edge = np.flatnonzero(beside == 0.0)
    is_inside[edge] = is_on[triangle[edge]]
    return is_inside


def _height(a: Float, b: Float, c: Float, twice: Float, triangle: NDArray[np.int64], point: Float) -> Float:
    a, b, c = (corner.take(triangle, axis=0) for corner in (a, b, c))
    to = point - a[:, :2]
    second = _cross(to, (c - a)[:, :2]) / twice[triangle]
    third = _cross((b - a)[:, :2], to) / twice[triangle]
    value = a[:, 2] + second * (b - a)[:, 2] + third * (c - a)[:, 2]
    # A triangle almost on edge has next to no area to divide by: the crossing still lies between its corners.
    low, high = (end(end(a[:, 2], b[:, 2]), c[:, 2]) for end in (np.minimum, np.maximum))
    return np.asarray(np.clip(value, low, high))


def pairs_in_cells(low: Float, high: Float, points: Float, size: float) -> list[Pairs]:
    """Return works that give all pairs of a box and a point in it, and some in which the point lies beside it.

    Boxes, `low` to `high`, (m, 2) mm, and points, (q, 2) mm, lie in the plane; what tells that a point is near a box is
    a grid with cells of `size` mm or more. Each work gives numbers of boxes and points, (k,) each, in the boxes' order.
    """
    origin, farthest = bounds_of(low)[0], bounds_of(high)[1]
    extent = farthest - origin
    size = max(size, float(extent.max()) / _MOST_CELLS, 1e-12)
    columns, rows = (np.floor(extent / size).astype(np.int64) + 1).tolist()
    is_near = [(at >= least) & (at <= most) for at, least, most in zip(points.T, origin, farthest, strict=True)]
    near = np.flatnonzero(is_near[0] & is_near[1])
    where = np.floor((points[near] - origin) / size).astype(np.int64)
    cell = where[:, 0] * rows + where[:, 1]
    near = near[np.argsort(cell, kind="stable")]
    before = np.concatenate([[0], np.cumsum(np.bincount(cell, minlength=columns * rows))])
    first, last = (np.floor((end - origin) / size).astype(np.int64) for end in (low, high))
    count = last[:, 0] - first[:, 0] + 1
    box = np.repeat(np.arange(len(low)), count)
    column = np.arange(len(box)) - np.repeat(np.cumsum(count) - count - first[:, 0], count)
    # Points of cells one over the other lie side by side.
    begin, end = before[column * rows + first[box, 1]], before[column * rows + last[box, 1] + 1]
    is_met = end > begin
    box, begin, count = box[is_met], begin[is_met], (end - begin)[is_met]
    total = np.cumsum(count)

    def pairs(part: slice) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        done = total[part.start] - count[part.start]
        skip = np.repeat(begin[part] - (total[part] - count[part] - done), count[part])
        return np.repeat(box[part], count[part]), near[np.arange(len(skip)) + skip]

    stops = np.searchsorted(total, np.arange(_SHARE, total[-1] if len(total) else 0, _SHARE), side="right")
    ends = np.unique([0, *stops.tolist(), len(box)])
    return [partial(pairs, slice(start, stop)) for start, stop in pairwise(ends)]
