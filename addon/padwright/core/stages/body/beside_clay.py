"""What a scan of virtual clay shows beside it: the bare base, as it was scanned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from ...base.mesh import Bool, Float, Int, TriMesh
from ...geometry.query import NearestSurface
from ...geometry.subdivide import subdivided

_ROWS = 7
"""So many places the sheet itself goes on at its border: wider than what the reading smooths over. Our choice."""

_AT_END = 0.3  # of a place: going on by a place and moving less, the surface has ended that way
_COVERED = 0.5  # of a place: a face of the base so near the sheet is shown by the sheet already
_ALIKE = 0.5  # cosine between two faces that show the same place
_LOOKS_AWAY = 0.3  # cosine to the press direction: a face that is turned farther is no top

_OUT, _DOWN, _BELOW, _ENDED, _STRAIGHT = range(5)
"""Ways that the border goes on: outwards, down a side, back below the base; not at all; past the end of the scan."""


def with_border(sheet: TriMesh, base: TriMesh, press: Float, step: float) -> TriMesh:
    """Return the sheet with rows of triangles at its border that lie on the base: outwards, down its sides, below it.

    Where the base's scan ends at the sheet's own border there is nothing to lie on: there it goes straight on, since
    clay is told by the bare surface beside it. The sheet's places lie a step apart, mm.
    """
    edge = sheet.boundary_edges
    ring, place = np.unique(edge[:, 0], return_inverse=True)
    follows = np.searchsorted(ring, edge[:, 1])
    away = np.zeros((len(ring), 3))
    out = np.cross(sheet.vertices[edge[:, 1]] - sheet.vertices[edge[:, 0]], sheet.vertex_normals[edge[:, 0]])
    for ends in (place, follows):
        np.add.at(away, ends, out)
    away /= np.maximum(np.linalg.norm(away, axis=1, keepdims=True), 1e-9)
    walk = _Walk(base, press, away, step, sheet.vertices[ring])
    vertices, faces, past, above = [sheet.vertices], [], [np.zeros(len(sheet.vertices), bool)], ring.astype(np.int64)
    for row in range(_ROWS):
        walk.go_on()
        vertices.append(walk.at)
        past.append(walk.way == _STRAIGHT)
        below = len(sheet.vertices) + row * len(ring) + np.arange(len(ring))
        faces.append(np.stack([above[place], below[place], below[follows]], axis=1).astype(np.int32))
        faces.append(np.stack([above[place], below[follows], above[follows]], axis=1).astype(np.int32))
        above = below
    rows = TriMesh(np.concatenate(vertices), np.concatenate(faces))
    is_kept = np.concatenate(past)[rows.faces].any(axis=1) | _lies_on(rows, base, step)
    # Where a way ends, its rows fall together.
    is_kept &= rows.face_areas > 1e-3 * step**2
    whole = TriMesh(rows.vertices, np.concatenate([sheet.faces, rows.faces[is_kept]]))
    return whole.submesh(np.ones(len(whole.faces), dtype=bool))


def _lies_on(rows: TriMesh, base: TriMesh, step: float) -> Bool:
    """Return which faces lie on the base: between places that went other ways they would cut through it."""
    found = NearestSurface(base).find(rows.triangles.mean(axis=1))
    is_turned_alike = np.einsum("ij,ij->i", rows.face_normals, base.face_normals[found.face]) > _ALIKE
    return np.asarray(is_turned_alike & (found.distance < _COVERED * step))


@dataclass
class _Walk:
    """Places that go over the base a step at a time, each its own way."""

    base: TriMesh
    press: Float
    away: Float  # (n, 3), unit vectors
    step: float
    at: Float  # (n, 3)
    way: Int = field(init=False)
    back: Float = field(init=False)  # (n, 3), unit vectors across the press direction, under the base
    is_open: Bool = field(init=False)  # faces of the base at which its scan ends

    def __post_init__(self) -> None:
        self.way = np.full(len(self.at), _OUT)
        self.surface = NearestSurface(self.base)
        level = self.away - (self.away @ self.press)[:, None] * self.press
        self.back = -level / np.maximum(np.linalg.norm(level, axis=1, keepdims=True), 1e-9)
        self.is_open = self.base.is_on_border[self.base.faces].sum(axis=1) >= 2

    def go_on(self) -> None:
        """Go on by a step; where the surface ends the way it went, the next way."""
        was, at, is_asked = self.way.copy(), self.at.copy(), self.way < _ENDED
        for _ in (_OUT, _DOWN, _BELOW):
            ask = np.flatnonzero(is_asked & (self.way < _ENDED))
            nearest = self.surface.find(self.at[ask] + self.step * self._directions()[ask])
            moved = np.linalg.norm(nearest.point - self.at[ask], axis=1)
            # Below is only what looks down: else it leads back over the top.
            is_back = (self.way[ask] == _BELOW) & (self.base.face_normals[nearest.face] @ self.press < 0.0)
            is_on = (moved >= _AT_END * self.step) & ~is_back
            at[ask[is_on]] = nearest.point[is_on]
            is_asked[ask[is_on]] = False
            self.way[ask[~is_on]] += 1
        ended = np.flatnonzero((was == _OUT) & (self.way == _ENDED))
        self.way[ended[self.is_open[self.surface.find(self.at[ended]).face]]] = _STRAIGHT
        is_past = self.way == _STRAIGHT
        at[is_past] = self.at[is_past] + self.step * self.away[is_past]
        self.at = at

    def _directions(self) -> Float:
        is_out = (self.way == _OUT)[:, None]
        return np.where(is_out, self.away, np.where((self.way == _DOWN)[:, None], self.press, self.back))


def rest_of_base(
    base: TriMesh, sheet: TriMesh, is_below: Callable[[Float], Bool], press: Float, step: float
) -> TriMesh:
    """Return what a scan shows of the base besides the sheet: its sides, its underside, all that lies beside the clay.

    `is_below` says of places, (k, 3), whether the sheet covers them, seen along the press direction, (3,). Large
    triangles of the base are cut to two steps, mm, so that none reaches far under the clay.
    """
    fine = subdivided(base, 2.0 * step)
    middle = fine.triangles.mean(axis=1)
    is_rest = (fine.face_normals @ press > _LOOKS_AWAY) | ~is_below(middle)
    asked = np.flatnonzero(is_rest)
    is_rest[asked] = NearestSurface(sheet).find(middle[asked]).distance > _COVERED * step
    return fine.submesh(is_rest)
