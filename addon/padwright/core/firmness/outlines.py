"""Which vertices a closed line surrounds, seen along the press direction or on the surface itself."""

from __future__ import annotations

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from ..errors import InputError
from ..geometry.fields import pieces
from ..geometry.through import BodySide
from ..mesh import Bool, Float, Int, TriMesh


def share_inside_projected(body: BodySide, points: Float) -> Float:
    """Return the distance of each body-side vertex to a closed line across the press direction, (b,) mm, + inside.

    Inside where the winding number of the projected line is not zero.

    Parameters
    ----------
    body : BodySide
        With a press direction.
    points : (p, 3) float, mm
    """
    across = _across(np.asarray(body.press_direction))
    line, place = points @ across.T, body.mesh.vertices @ across.T
    distance = np.full(len(place), np.inf)
    turns = np.zeros(len(place), dtype=np.int64)
    for start, end in zip(line, np.roll(line, -1, axis=0), strict=True):
        along = end - start
        length = float(along @ along)
        if length == 0.0:
            continue
        offset = place - start
        share = np.clip(offset @ along / length, 0.0, 1.0)
        distance = np.minimum(distance, np.linalg.norm(offset - share[:, None] * along, axis=1))
        is_left = along[0] * offset[:, 1] - along[1] * offset[:, 0] > 0
        turns += (start[1] <= place[:, 1]) & (end[1] > place[:, 1]) & is_left
        turns -= (start[1] > place[:, 1]) & (end[1] <= place[:, 1]) & ~is_left
    return np.where(turns != 0, distance, -distance)


def share_inside_drawn_line(mesh: TriMesh, points: Float, edge_mm: float) -> Float:
    """Return the share of each vertex inside a closed line laid on the surface, (n,), 0 to 1.

    The line follows the shortest path along edges between the nearest vertices of its points; of the parts it divides
    the surface into, the inside is all but the largest.

    Raises
    ------
    InputError
        When the line does not divide the surface.
    """
    path = _path_on_edges(mesh, points)
    on_path = np.zeros(len(mesh.vertices), dtype=bool)
    on_path[path] = True
    part = pieces(mesh, np.where(on_path, np.arange(len(mesh.vertices)) + 1, 0))
    area = np.bincount(part, mesh.vertex_areas)
    area[np.unique(part[on_path])] = 0.0
    whole = pieces(mesh)
    touched = np.isin(whole, np.unique(whole[path]))
    candidates = np.unique(part[touched & ~on_path])
    candidates = candidates[area[candidates] > edge_mm**2]
    if len(candidates) < 2:
        raise InputError(
            f"The outline of {len(points)} points does not divide the body side into inside and outside.",
            hint="Give more points, in order along the line, so that it closes on the surface.",
        )
    inside = candidates[candidates != candidates[np.argmax(area[candidates])]]
    return np.where(on_path, 0.5, np.isin(part, inside).astype(np.float64))


def _across(direction: Float) -> Float:
    """Return two unit vectors across a direction, (2, 3), right-handed with it."""
    least = np.eye(3)[np.argmin(np.abs(direction))]
    first = np.cross(direction, least)
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(direction, first)])


def _path_on_edges(mesh: TriMesh, points: Float) -> Int:
    edge = mesh.edges
    length = np.linalg.norm(mesh.vertices[edge[:, 0]] - mesh.vertices[edge[:, 1]], axis=1)
    count = len(mesh.vertices)
    graph = sparse.coo_matrix((length, (edge[:, 0], edge[:, 1])), shape=(count, count)).tocsr()
    graph = graph.maximum(graph.T)
    stops = cKDTree(mesh.vertices).query(points)[1]
    stops = stops[np.r_[True, np.diff(stops) != 0]]
    path: list[int] = []
    for here, there in zip(stops, np.roll(stops, -1), strict=True):
        reach = 4.0 * float(np.linalg.norm(mesh.vertices[here] - mesh.vertices[there])) + 4.0 * float(length.mean())
        _, before = dijkstra(graph, indices=here, return_predecessors=True, limit=reach)
        node = int(there)
        while node != here:
            path.append(node)
            node = int(before[node])
            if node < 0:
                raise InputError(
                    "Two neighbouring points of an outline lie on parts of the body side that do not join.",
                    hint="Give more points along the line.",
                )
    return np.array(path, dtype=np.int32)


def is_enclosed(mesh: TriMesh, is_marked: Bool) -> Bool:
    """Return the vertices (n,) bool that are marked, or that marks surround so that no way leads to the open border."""
    part = pieces(mesh, is_marked.astype(np.int32))
    reached = np.unique(part[np.unique(mesh.boundary_edges)]) if len(mesh.boundary_edges) else np.zeros(0, dtype=int)
    if len(reached) == 0:
        return is_marked
    return np.asarray(is_marked | ~np.isin(part, reached))
