"""An even net of triangles inside an outline in the plane, every edge of the outline kept."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay, QhullError, cKDTree

from ...base.mesh import Bool, Float, directed_edges

_MOST_POINTS = 100000


def net_in(outline: Float, spacing: float) -> tuple[Float, NDArray[np.int64]] | None:
    """Return points (p, 2) of an even net inside a polygon and triangles (t, 3) over the polygon's corners, then these.

    The outline, (k, 2), runs counter-clockwise. None where it crosses itself or passes through a point.

    Notes
    -----
    Delaunay triangles over corners and net; edges of the outline that are not among them are put in by filling both
    sides of the gap they cut anew (Anglada 1997, doi 10.1016/S0097-8493(96)00085-4).
    """
    low, high = outline.min(axis=0), outline.max(axis=0)
    row = spacing * np.sqrt(3) / 2
    steps = np.ceil((high - low) / (spacing, row)).astype(int) + 1
    if steps.prod() > _MOST_POINTS:
        return None
    column, line = np.meshgrid(np.arange(steps[0]), np.arange(steps[1]), indexing="ij")
    grid = np.stack([low[0] + (column + 0.5 * (line % 2)) * spacing, low[1] + line * row], axis=-1).reshape(-1, 2)
    grid = grid[is_inside(grid, outline)]
    if len(grid):
        after = np.roll(outline, -1, axis=0)
        along = np.concatenate([outline + share * (after - outline) for share in (0.0, 0.25, 0.5, 0.75)])
        grid = grid[cKDTree(along).query(grid)[0] > 0.6 * spacing]
    every = np.concatenate([outline, grid])
    try:
        triangles = Delaunay(every).simplices.astype(np.int64)
    except QhullError:
        return None
    doubled = _doubled_areas(every, triangles)
    triangles = np.where((doubled < 0)[:, None], triangles[:, ::-1], triangles)[np.abs(doubled) > 1e-12 * spacing**2]
    count = len(outline)
    for begin in _missing(triangles, count, len(every)):
        forced = _with_edge(every, triangles, int(begin), int((begin + 1) % count))
        if forced is None:
            return None
        triangles = forced
    triangles = triangles[is_inside(every[triangles].mean(axis=1), outline)]
    return (grid, triangles) if _fills_outline(triangles, count, len(every)) else None


def is_inside(query: Float, outline: Float) -> Bool:
    """Return which points lie inside a polygon: a ray from them crosses an odd number of its edges (Shimrat 1962)."""
    begin, end = outline, np.roll(outline, -1, axis=0)
    rise = np.where(end[:, 1] == begin[:, 1], 1.0, end[:, 1] - begin[:, 1])
    inside = np.zeros(len(query), dtype=bool)
    for first in range(0, len(query), 4096):
        x, y = query[first : first + 4096, 0, None], query[first : first + 4096, 1, None]
        spans = (begin[:, 1] > y) != (end[:, 1] > y)
        at = begin[:, 0] + (y - begin[:, 1]) * (end[:, 0] - begin[:, 0]) / rise
        inside[first : first + 4096] = (spans & (x < at)).sum(axis=1) % 2 == 1
    return inside


def _doubled_areas(points: Float, triangles: NDArray[np.int64]) -> Float:
    """Return twice the signed area of each triangle."""
    corner = points[triangles]
    return _cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])


def _cross(one: Float, other: Float) -> Float:
    return one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0]


def _missing(triangles: NDArray[np.int64], outline_count: int, count: int) -> NDArray[np.int64]:
    """Return the outline's edges, by where they begin, that no triangle has."""
    edge = directed_edges(triangles)
    have = np.minimum(edge[:, 0], edge[:, 1]) * count + np.maximum(edge[:, 0], edge[:, 1])
    step = np.arange(outline_count)
    after = np.roll(step, -1)
    return np.flatnonzero(~np.isin(np.minimum(step, after) * count + np.maximum(step, after), have))


def _with_edge(points: Float, triangles: NDArray[np.int64], begin: int, end: int) -> NDArray[np.int64] | None:
    """Return the triangles with the edge put in; None when it meets a point or the gap is not simple."""
    start, way = points[begin], points[end] - points[begin]
    side = _cross(way, points - start)
    corner_side = side[triangles]
    is_cut = np.zeros(len(triangles), dtype=bool)
    for k in range(3):
        one, other = triangles[:, k], triangles[:, (k + 1) % 3]
        splits = corner_side[:, k] * corner_side[:, (k + 1) % 3] < 0
        edge = points[other] - points[one]
        from_start, from_end = _cross(edge, start - points[one]), _cross(edge, points[end] - points[one])
        is_cut |= splits & (from_start * from_end < 0)
    if not is_cut.any():
        return triangles  # an edge put in before has brought this one; what is really missing shows at the end
    gap = directed_edges(triangles[is_cut])
    inner = {(int(b), int(a)) for a, b in gap}
    leads = {int(a): int(b) for a, b in gap if (int(a), int(b)) not in inner}
    if len(leads) != len({v for pair in leads.items() for v in pair}) or begin not in leads or end not in leads:
        return None
    new: list[tuple[int, int, int]] = []
    for first, last in ((begin, end), (end, begin)):
        chain = [first]
        while chain[-1] != last:
            if len(chain) > len(leads):
                return None
            chain.append(leads[chain[-1]])
        new += _fill_chain(points, chain)
    return np.concatenate([triangles[~is_cut], np.array(new, dtype=np.int64).reshape(-1, 3)])


def _fill_chain(points: Float, chain: list[int]) -> list[tuple[int, int, int]]:
    """Return triangles between a chain of points and the straight edge from its end back to its begin."""
    todo, made = [chain], []
    while todo:
        part = todo.pop()
        if len(part) < 3:
            continue
        best = 1
        for place in range(2, len(part) - 1):
            if _in_circle(points[[part[0], part[best], part[-1]]], points[part[place]]):
                best = place
        made.append((part[0], part[best], part[-1]))
        todo += [part[: best + 1], part[best:]]
    return made


def _in_circle(corner: Float, query: Float) -> bool:
    """Return True when the point lies in the circle through a counter-clockwise triangle's corners."""
    offset = corner - query
    table = np.column_stack([offset, (offset**2).sum(axis=1)])
    return bool(np.linalg.det(table) > 0)


def _fills_outline(triangles: NDArray[np.int64], outline_count: int, count: int) -> bool:
    """Return True when the triangles use every point and their only border is the outline, in its order."""
    if len(triangles) == 0 or len(np.unique(triangles)) != count:
        return False
    edge = directed_edges(triangles)
    forward, backward = edge[:, 0] * count + edge[:, 1], edge[:, 1] * count + edge[:, 0]
    if len(np.unique(forward)) != len(forward):
        return False
    open_edges = np.sort(forward[~np.isin(forward, backward)])
    step = np.arange(outline_count)
    return bool(np.array_equal(open_edges, np.sort(step * count + np.roll(step, -1))))
