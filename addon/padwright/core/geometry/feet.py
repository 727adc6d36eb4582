"""Nearest places of a surface for very many points: beside it exactly, far off it by its corners."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from scipy.spatial import cKDTree

from ..base.mesh import Float, Int, TriMesh, cross
from ..base.rows import lengths
from .query import NearestSurface

_FAR = float(np.sqrt(10.0))
"""From so many reaches of its triangles on the nearest corner is no more than a twentieth farther than the surface."""

_FEW = 5_000
"""Points that are asked sooner than threads start."""


@dataclass(frozen=True, eq=False)
class Feet:
    """Where points stand nearest to a surface."""

    distance: Float  # (q,), mm
    place: Float  # (q, 3), mm
    corners: Int  # (q, 3); of the face that the place is in; far off three times the nearest corner

    def normals_on(self, mesh: TriMesh) -> Float:
        """Return the unit normal of the face that each place is in, (q, 3); far off that of the nearest corner."""
        a, b, c = (mesh.vertices.take(self.corners[:, index], axis=0) for index in range(3))
        flat = cross(b - a, c - a)
        length = lengths(flat)[:, None]
        at_corner = mesh.vertex_normals[self.corners[:, 0]]
        return np.divide(flat, length, out=at_corner, where=length > 0.0)

    def weights_in(self, mesh: TriMesh) -> Float:
        """Return the barycentric place of each between its corners, (q, 3)."""
        a, b, c = (mesh.vertices.take(self.corners[:, index], axis=0) for index in range(3))
        one, two, way = b - a, c - a, self.place - a
        of_one, mixed, of_two = (np.einsum("ij,ij->i", *pair) for pair in ((one, one), (one, two), (two, two)))
        along_one, along_two = (np.einsum("ij,ij->i", way, side) for side in (one, two))
        area = of_one * of_two - mixed**2
        second, third = (
            np.divide(share, area, out=np.zeros_like(area), where=area > 0.0)
            for share in (of_two * along_one - mixed * along_two, of_one * along_two - mixed * along_one)
        )
        return np.stack([1.0 - second - third, second, third], axis=1)


class FootSurface:
    """A surface, ready to answer where points stand nearest to it.

    Notes
    -----
    A place on a triangle lies within r = longest edge / sqrt(3) of a corner, so from d away the nearest corner is
    farther than the nearest place by r^2 / 2 d at the most. Corners are asked where that is under a twentieth of the
    way: 0.35 mm at 6.8 mm off a scan whose longest edge is 3.6 mm (measured on a seat: 0.001 mm on average). It takes
    half the time, and threads do not wait for each other.
    """

    def __init__(self, mesh: TriMesh, *, is_exact: bool = False) -> None:
        self._far = np.inf if is_exact else _FAR * _reach(mesh)
        self._vertices, self._faces = mesh.vertices, mesh.faces
        self._surface = NearestSurface.of(mesh)
        is_used = np.zeros(len(mesh.vertices), dtype=bool)
        is_used[mesh.faces.ravel()] = True
        self._corner = np.flatnonzero(is_used)
        # Without boxes drawn tight, larger leaves: half the time for points far off a surface.
        self._corners = cKDTree(mesh.vertices[self._corner], leafsize=64, balanced_tree=False, compact_nodes=False)
        self._under: WeakKeyDictionary[TriMesh, Feet] = WeakKeyDictionary()

    @classmethod
    def of(cls, mesh: TriMesh) -> FootSurface:
        """Return that of a mesh that several stages ask: made once, kept as long as the mesh is."""
        if mesh not in _SURFACES:
            _SURFACES[mesh] = cls(mesh)
        return _SURFACES[mesh]

    def under(self, mesh: TriMesh) -> Feet:
        """Return the feet of a mesh's vertices: found once, kept as long as the mesh is."""
        if mesh not in self._under:
            self._under[mesh] = self.find(mesh.vertices)
        return self._under[mesh]

    def find(self, points: Float) -> Feet:
        """Return the feet of points, (q, 3) mm."""
        points = np.asarray(points, dtype=np.float64)
        if np.isinf(self._far):
            found = self._surface.find(points)
            return Feet(found.distance, found.point, self._faces[found.face])
        distance, number = self._corners.query(points, workers=-1 if len(points) > _FEW else 1)
        number = self._corner[number]
        place, corners = self._vertices.take(number, axis=0), np.repeat(number[:, None].astype(np.int32), 3, axis=1)
        is_near = distance < self._far
        found = self._surface.find(points[is_near])
        distance[is_near], place[is_near], corners[is_near] = found.distance, found.point, self._faces[found.face]
        return Feet(distance, place, corners)


def _reach(mesh: TriMesh) -> float:
    """Return how far a place on the mesh may lie from the nearest corner of its triangle, mm."""
    ends = [mesh.vertices.take(mesh.faces[:, index], axis=0) for index in range(3)]
    longest = max(float(lengths(ends[index] - ends[index - 1]).max(initial=0.0)) for index in range(3))
    return longest / float(np.sqrt(3.0))


_SURFACES: WeakKeyDictionary[TriMesh, FootSurface] = WeakKeyDictionary()
