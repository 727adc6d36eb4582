"""The length of pad under a place: one rule for the thickness map, the load check and the fill."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..base.mesh import Bool, Float, TriMesh, sums_at_corners
from .crossings import crossings
from .query import Nearest, NearestSurface
from .through import BASE_SIDE, BODY_SIDE, STEEP, barycentric

_OFF_SURFACE = 1e-6
"""Share of the pad's size by which a ray starts inside the surface, so that it does not meet the face it starts on."""


_ON = 1e-6
"""Barycentric share below which a place lies on a triangle's edge."""


@dataclass(frozen=True, eq=False)
class PadLength:
    """Length of pad under each vertex."""

    # (n,); from the place to the other side; from the rim to the base side. Never below 0, never longer than the pad
    # is.
    length_mm: Float
    # (n,); body side with pad below it down to the base side. False on the rim and the base side, and where the way
    # leaves the pad through a steep wall, as near the edge: such a place has no column of its own and bears nothing.
    is_through: Bool


def pad_length(mesh: TriMesh, side: NDArray[Any], press_direction: Float | None) -> PadLength:
    """Return the length of pad under each vertex of a pad.

    Parameters
    ----------
    mesh : TriMesh
        Closed, mm.
    side : (n,) int
        1 body side, 2 base side, 0 rim.
    press_direction : (3,) float or None
        From the body into the part; None for a wrap-around part.

    Notes
    -----
    *With a press direction.* From the middle of every face that looks at the body a line goes along the press
    direction. What lies inside the pad is added up, until the line leaves through the base side, or for the last time:
    so a fold of a steep wall neither ends a column nor counts twice, and air below a lip is not pad. Taken off the
    height where the line began, that is the level of the base side there; a vertex takes the mean level of its faces,
    each by its area as seen along the press, and its length is its own height above that. A line that leaves through
    a steep wall for good (over `STEEP`, and no base side) says nothing of the pad: the place is at the edge and takes
    the level of the nearest line that does; it has no column of its own. So does the rim. A place on the base side
    takes the mean of the lines that end beside it, upwards.

    *Wrap-around.* The way from the body side to the nearest place of the base side: along the base's normal there, so
    the base's inward normal, wherever the base is smooth; never longer than any other way through. A place that is
    nearest to the border of the base side has no base below, and one whose surface looks past the base (over `STEEP`)
    is an end face: neither has a column of its own.
    """
    side = np.asarray(side)
    if press_direction is None:
        return _wrapped(mesh, side)
    press = np.asarray(press_direction, dtype=np.float64)
    press = press / np.linalg.norm(press)
    height = -(mesh.vertices @ press)
    is_body, is_base = side == BODY_SIDE, side == BASE_SIDE
    lines = _lines_through(mesh, side, press)
    if len(lines.start) == 0:
        return PadLength(np.zeros(len(side)), np.zeros(len(side), dtype=bool))
    level, is_own = _carried(mesh, lines.start, lines.bottom, lines.seen, ~is_base)
    length = height - level
    if is_base.any():
        top, _ = _carried(mesh, lines.end, lines.bottom + lines.inside, lines.seen, is_base)
        length = np.where(is_base, top - height, length)
    return PadLength(np.maximum(length, 0.0), is_own & is_body & (length > 0.0))


def edge_distance(mesh: TriMesh, is_through: Bool, press_direction: Float | None) -> Float:
    """Return how far each vertex is from the edge of what has pad below it down to the base side, (n,), mm.

    Along the press direction as seen by the body; straight for a wrap-around part. Infinite where there is no edge.
    """
    vertices = mesh.vertices
    if press_direction is not None:
        press = np.asarray(press_direction) / np.linalg.norm(press_direction)
        vertices = vertices - np.outer(vertices @ press, press)
    # Faces of a fold that look away from the body belong to it: a fold is no edge.
    edge = TriMesh(mesh.vertices, mesh.faces[is_through[mesh.faces].all(axis=1)]).boundary_edges
    if len(edge) == 0:
        return np.full(len(vertices), np.inf)
    # Its points lie an edge's length apart; half way between two the distance comes out too large, by less than that.
    border = np.concatenate([vertices[edge[:, 0]], vertices[edge].mean(axis=1)])
    return np.asarray(cKDTree(border).query(vertices)[0], dtype=np.float64)


@dataclass(frozen=True, eq=False)
class _Lines:
    """Lines through the pad.

    The faces where they begin and end, (k,), the level of the base side below them and what lies inside the pad above
    that, mm, and the area each stands for as seen along the press, mm2.
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    bottom: Float
    inside: Float
    seen: Float


def _lines_through(mesh: TriMesh, side: NDArray[Any], press: Float) -> _Lines:
    facing = mesh.face_normals @ press
    start = np.flatnonzero((facing < 0.0) & (side[mesh.faces] == BODY_SIDE).any(axis=1))
    place = mesh.face_middles[start]
    depth = place @ press
    met = crossings(mesh, place, press)
    way = met.along - depth[met.line]
    # The start's own face is crossed at its middle, where rounding decides; it is known to be an entry.
    is_ahead = (way > 0.0) & (met.face != start[met.line])
    line, face, way = met.line[is_ahead], met.face[is_ahead], way[is_ahead]
    is_exit = met.is_out[is_ahead]
    is_to_base = (side[mesh.faces] == BASE_SIDE).sum(axis=1) >= 2
    number = np.arange(len(line))
    stop = np.full(len(start), -1)
    outward = number[is_exit]
    stop[line[outward]] = outward  # the last of them stays
    to_base = number[is_exit & is_to_base[face]][::-1]
    stop[line[to_base]] = to_base  # the first of them stays
    is_counted = number <= stop[line]
    inside = np.bincount(line[is_counted], np.where(is_exit, way, -way)[is_counted], len(start))
    good = np.flatnonzero(stop >= 0)
    end = face[stop[good]]
    is_good = (facing[end] > STEEP) | is_to_base[end]
    good, end = good[is_good], end[is_good]
    seen = mesh.face_areas[start[good]] * -facing[start[good]]
    return _Lines(start[good], end, -(depth + inside)[good], inside[good], seen)


def _carried(
    mesh: TriMesh, face: NDArray[np.int64], value: Float, weight: Float, is_wanted: Bool
) -> tuple[Float, Bool]:
    """Return values of faces, (k,), at the vertices wanted, (n,), and where a vertex has faces of its own among them.

    The weighted mean of a vertex's own faces; else the value of the nearest. Zero where it is not wanted.
    """
    count = len(mesh.vertices)
    sums, total = sums_at_corners(mesh.faces[face], np.stack([weight * value, weight], axis=1), count).T
    is_own = total > 0.0
    found = np.divide(sums, total, out=np.zeros(count), where=is_own)
    is_beside = ~is_own & is_wanted
    tree = cKDTree(mesh.face_middles[face], balanced_tree=False, compact_nodes=False)
    _, nearest = tree.query(mesh.vertices[is_beside])
    found[is_beside] = value[nearest]
    return found, is_own


def _wrapped(mesh: TriMesh, side: NDArray[Any]) -> PadLength:
    is_body, is_base = side == BODY_SIDE, side == BASE_SIDE
    body_faces, base_faces = is_body[mesh.faces].all(axis=1), is_base[mesh.faces].all(axis=1)
    if not base_faces.any():
        # An envelope that stands off the base everywhere: what lies across is the far side of its own wall.
        return PadLength(_straight_through(mesh), is_body)
    base = mesh.submesh(base_faces)
    found = NearestSurface(base).find(mesh.vertices)
    length, is_through = found.distance.copy(), is_body.copy()
    way = found.point - mesh.vertices
    along = -np.einsum("ij,ij->i", way, mesh.vertex_normals)
    is_through &= (along > STEEP * length) & (length > 0.0) & ~_is_on_border(base, found)
    if body_faces.any():
        length[is_base] = NearestSurface(mesh.submesh(body_faces)).find(mesh.vertices[is_base]).distance
    return PadLength(length, is_through)


def _is_on_border(mesh: TriMesh, found: Nearest) -> Bool:
    """Return which places found on an open mesh lie on its border, (q,)."""
    count = len(mesh.vertices)
    border = mesh.boundary_edges.astype(np.int64)
    if len(border) == 0:
        return np.zeros(len(found.face), dtype=bool)
    at_border = np.zeros(count, dtype=bool)
    at_border[border.ravel()] = True
    key = border[:, 0] * count + border[:, 1]
    corner = mesh.faces[found.face].astype(np.int64)
    share = barycentric(mesh.vertices[corner], found.point)
    result = ((share > 1.0 - _ON) & at_border[corner]).any(axis=1)
    for one, two, opposite in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        is_border = np.isin(corner[:, one] * count + corner[:, two], key)
        result |= is_border & (share[:, opposite] < _ON)
    return np.asarray(result)


def _straight_through(mesh: TriMesh) -> Float:
    inward = -mesh.vertex_normals
    offset = _OFF_SURFACE * float(np.linalg.norm(mesh.bounds[1] - mesh.bounds[0]))
    start = mesh.vertices + offset * inward
    face, share = NearestSurface(mesh).first_hit(start, inward)
    place = np.einsum("qc,qcx->qx", share, mesh.triangles[np.maximum(face, 0)])
    return np.where(face >= 0, np.linalg.norm(place - mesh.vertices, axis=1), 0.0)
