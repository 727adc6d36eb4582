"""What marks surround on a part that wraps around: found on its own body side, cut as fine as a pen's line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, Int, TriMesh
from ...geometry.fields import pieces
from ...geometry.subdivide import subdivided
from .mark_area import SPECK_MM2

_EDGE_MM = 0.8
"""Of the fine body side: less than a pen's line of 1 mm, so that no edge steps over it. Ours."""
_MOST_VERTICES = 1_500_000
_SHORTENS = 0.6  # of the longest edge asked for: about the mean edge that halving leaves


@dataclass(frozen=True)
class WrappedPiece:
    """One piece of a marked area."""

    area_mm2: float
    position_mm: tuple[float, float, float]  # the middle of its places


@dataclass(frozen=True, eq=False)
class WrappedArea:
    """What marks cover and surround of a body side."""

    inside_mm: Float  # (b,); distance of each vertex of the body side to the area's edge, + inside
    pieces: tuple[WrappedPiece, ...]  # the largest first
    dropped: int  # pieces smaller than the least
    dropped_mm2: float


def wrapped_area(
    mesh: TriMesh, places: Float, is_mark: Bool, *, gap_mm: float, is_filled: bool, least_mm2: float, reach_mm: float
) -> WrappedArea:
    """Return the area of a body side that marks cover and surround; the mark itself belongs to it.

    The body side is cut into triangles finer than a line; each of their corners is as the nearest sample of the scan,
    so a line that ends where the scan ends goes on to the body side's edge, which closes it. Of what the lines part,
    the largest of each connected piece of the body side is outside.

    Parameters
    ----------
    mesh : TriMesh
        The body side, mm.
    places, is_mark : (s, 3) float, (s,) bool
        Samples of the scan, and which of them are marked.
    reach_mm : float
        Farther than this from every sample nothing is marked.
    """
    fine = subdivided(mesh, max(_EDGE_MM, float(np.sqrt(mesh.area / (0.87 * _MOST_VERTICES))) / _SHORTENS))
    points, areas = fine.vertices, fine.vertex_areas
    away, nearest = cKDTree(places).query(points)
    is_on = is_mark[nearest] & (away <= reach_mm)
    is_on = _without_small(fine, areas, is_on, SPECK_MM2)[0]
    is_in = is_on | _surrounded(fine, areas, is_on, gap_mm) if is_filled else _closed(fine, is_on, gap_mm)
    is_in, label, dropped = _without_small(fine, areas, is_in, least_mm2)
    found = [
        WrappedPiece(float(areas[label == each].sum()), tuple(points[label == each].mean(axis=0).tolist()))
        for each in np.unique(label[is_in])
    ]
    inside = np.full(len(mesh.vertices), -np.inf)
    if is_in.any():
        edge = fine.edges
        border = points[edge[is_in[edge[:, 0]] != is_in[edge[:, 1]]]].mean(axis=1)
        far = cKDTree(border).query(mesh.vertices)[0] if len(border) else np.full(len(mesh.vertices), np.inf)
        inside = np.where(is_in[: len(mesh.vertices)], far, -far)  # those of the body side keep their numbers
    return WrappedArea(inside, tuple(sorted(found, key=lambda each: -each.area_mm2)), len(dropped), sum(dropped))


def _surrounded(fine: TriMesh, areas: Float, is_on: Bool, gap_mm: float) -> Bool:
    """Return what the marks surround, (n,), their gaps closed: beside a line as the nearer of its two sides is."""
    if not is_on.any():
        return is_on
    points = fine.vertices
    is_wall = is_on | (cKDTree(points[is_on]).query(points)[0] <= 0.5 * gap_mm)
    part = pieces(fine, np.where(is_wall, -1 - np.arange(len(points)), 0))
    size = np.bincount(part, np.where(is_wall, 0.0, areas))
    whole = pieces(fine)
    is_in = np.zeros(len(points), dtype=bool)
    for piece in np.unique(whole[is_wall]):
        is_here = whole == piece
        among = np.unique(part[is_here & ~is_wall])
        if len(among) < 2:
            continue
        is_outer = is_here & (part == among[np.argmax(size[among])])
        is_inner = is_here & ~is_wall & ~is_outer
        beside = np.flatnonzero(is_here & is_wall)
        to_inner, to_outer = (cKDTree(points[each]).query(points[beside])[0] for each in (is_inner, is_outer))
        is_in |= is_inner
        is_in[beside] |= to_inner < to_outer
    return is_in


def _closed(fine: TriMesh, is_on: Bool, gap_mm: float) -> Bool:
    """Return the marks with what lies in gaps between them: grown by half a gap, and shrunk again by as much."""
    points = fine.vertices
    if not is_on.any() or gap_mm <= 0.0:
        return is_on
    is_wide = cKDTree(points[is_on]).query(points)[0] <= 0.5 * gap_mm
    if is_wide.all():
        return is_wide
    return is_on | (is_wide & (cKDTree(points[~is_wide]).query(points)[0] > 0.5 * gap_mm))


def _without_small(fine: TriMesh, areas: Float, is_in: Bool, least_mm2: float) -> tuple[Bool, Int, list[float]]:
    """Return the places that are in without pieces smaller than the least, each place's piece, and their areas."""
    label = pieces(fine, is_in.astype(np.int32))
    size = np.bincount(label, areas)
    inner = np.unique(label[is_in])
    small = inner[size[inner] < least_mm2]
    return is_in & ~np.isin(label, small), label, [float(each) for each in size[small]]
