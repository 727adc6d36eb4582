"""Nearest places on a mesh of many even triangles for a few thousand points beside it, with no tree over the mesh."""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..base.mesh import Bool, Float, TriMesh
from ..base.rows import lengths
from .query import Nearest, nearest_of_few

_LONG = 1.5
"""Triangles with edges so many times longer than usual are looked at by themselves: they reach farther."""

_COUNTS = (20, 80)
"""Middles asked for around a point: on an even mesh twenty reach two edges far."""

Corners = tuple[Float, Float, Float]


def nearest_beside(mesh: TriMesh, points: Float) -> Nearest:
    """Return the nearest surface point of each of the points, (q, 3) mm, as `NearestSurface.find` does.

    Notes
    -----
    A triangle lies within some reach of its middle. So once a place is found, only triangles with their middle nearer
    than it and the greatest reach together can have a nearer one. Of those near the points, in cells as wide as four
    edges, the few with the nearest middles are looked at, then more where that does not settle it; what is left then,
    far off the mesh, goes to a tree. So the answer is exact. Unlike the growing of a tree it lets other threads work.
    """
    points = np.asarray(points, dtype=np.float64)
    if len(points) == 0:
        return Nearest(np.zeros(0), np.zeros(0, dtype=np.int32), points)
    a, b, c = (mesh.vertices.take(mesh.faces[:, index], axis=0) for index in range(3))
    longest = _longest(lengths(b - a), lengths(c - b), lengths(a - c))
    usual = _LONG * float(np.median(longest))
    is_long, middle = longest > usual, mesh.face_middles
    found = _NearestSoFar(points)
    is_open = np.zeros(len(points), dtype=bool)
    for chosen, within in (
        (np.flatnonzero(~is_long & _shares_cells(middle, points, 2.0 * usual)), 2.0 * usual),
        (np.flatnonzero(is_long), np.inf),
    ):
        corners = (a.take(chosen, axis=0), b.take(chosen, axis=0), c.take(chosen, axis=0))
        is_open |= found.look(chosen, corners, middle[chosen], within)
    if is_open.any():
        rest = nearest_of_few(mesh, points[is_open])
        found.distance[is_open], found.face[is_open], found.point[is_open] = rest.distance, rest.face, rest.point
    return Nearest(found.distance, found.face.astype(np.int32), found.point)


def _shares_cells(places: Float, points: Float, size: float) -> Bool:
    """Return which places, (m, 3), lie in a cell of the points, (q, 3), or beside one: all within `size` mm of one."""
    low = points.min(axis=0) - size
    shape = np.floor((points.max(axis=0) + size - low) / max(size, 1e-12)).astype(np.int64) + 2
    is_marked = np.zeros(shape, dtype=bool)
    cell = np.floor((points - low) / size).astype(np.int64)
    for way in np.ndindex(3, 3, 3):
        is_marked[tuple((cell + way - 1).T)] = True
    where = np.floor((places - low) / size)
    is_in = ((where >= 0.0) & (where < shape)).all(axis=1)
    is_in[is_in] = is_marked[tuple(where[is_in].astype(np.int64).T)]
    return np.asarray(is_in)


class _NearestSoFar:
    """The nearest places so far."""

    def __init__(self, points: Float) -> None:
        self._points = points
        self.distance = np.full(len(points), np.inf)
        self.face = np.zeros(len(points), dtype=np.int64)
        self.point = np.zeros((len(points), 3))

    def look(self, faces: NDArray[np.int64], corners: Corners, middle: Float, within: float) -> Bool:
        """Look among faces, (k,), and return for which points that does not settle it.

        Of the faces are their corners, (k, 3) each, and middles; others of their kind lie farther than `within` mm.
        """
        if len(faces) == 0:
            return np.full(len(self._points), np.isfinite(within))
        reach = _longest(*(lengths(corner - middle) for corner in corners))
        most = float(reach.max())
        tree = cKDTree(middle, leafsize=32, balanced_tree=False, compact_nodes=False)
        left = np.arange(len(self._points))
        for count in _COUNTS:
            count = min(count, len(faces))
            away, number = tree.query(self._points[left], k=count)
            away, number = away.reshape(len(left), count), number.reshape(len(left), count)
            # The nearest first: few others can be nearer than what it gives.
            for columns in (slice(0, 1), slice(1, None)):
                some = number[:, columns]
                row, column = np.nonzero(away[:, columns] - reach[some] < self.distance[left, None])
                self._take(left[row], faces, some[row, column], corners)
            is_last = count == len(faces)
            far = np.full(len(left), np.inf) if is_last else away[:, -1]
            left = left[np.minimum(far, within) < self.distance[left] + most]
            if is_last or len(left) == 0:
                break
        is_open = np.zeros(len(self._points), dtype=bool)
        is_open[left] = True
        return is_open

    def _take(
        self, which: NDArray[np.int64], faces: NDArray[np.int64], number: NDArray[np.int64], corners: Corners
    ) -> None:
        """Take what is nearer in faces, by their numbers, (p,), of the points `which`, (p,), ascending."""
        if len(which) == 0:
            return
        asked = self._points[which]
        a, b, c = (corner.take(number, axis=0) for corner in corners)
        place = _nearest_in(a, b, c, asked)
        away = lengths(place - asked)
        order = np.lexsort((away, which))
        first = order[np.flatnonzero(np.diff(which, prepend=-1))]
        first = first[away[first] < self.distance[which[first]]]
        which = which[first]
        self.distance[which], self.face[which], self.point[which] = away[first], faces[number[first]], place[first]


_dot = partial(np.einsum, "ij,ij->i")


def _longest(one: Float, two: Float, three: Float) -> Float:
    return np.maximum(np.maximum(one, two), three)


def _nearest_in(a: Float, b: Float, c: Float, point: Float) -> Float:
    """Return the nearest place in triangles to a point each, (k, 3) all: in the plane, else on the nearest side."""
    one, two, way = b - a, c - a, point - a
    of_one, mixed, of_two = _dot(one, one), _dot(one, two), _dot(two, two)
    along_one, along_two = _dot(way, one), _dot(way, two)
    area = of_one * of_two - mixed**2
    safe = np.where(area > 0.0, area, 1.0)
    second = (of_two * along_one - mixed * along_two) / safe
    third = (of_one * along_two - mixed * along_one) / safe
    place = a + second[:, None] * one + third[:, None] * two
    beside = np.flatnonzero((area <= 0.0) | (second < 0.0) | (third < 0.0) | (second + third > 1.0))
    a, b, c, point = a[beside], b[beside], c[beside], point[beside]
    sides = np.stack([_nearest_between(*ends, point) for ends in ((a, b), (b, c), (c, a))])
    off = ((sides - point) ** 2).sum(axis=2)
    place[beside] = sides[off.argmin(axis=0), np.arange(len(beside))]
    return np.asarray(place)


def _nearest_between(start: Float, end: Float, point: Float) -> Float:
    way = end - start
    length = _dot(way, way)
    share = np.clip(_dot(point - start, way) / np.where(length > 0.0, length, 1.0), 0.0, 1.0)
    return np.asarray(start + share[:, None] * way)
