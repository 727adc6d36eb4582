"""Which vertices a closed line surrounds, seen along the press direction or on the surface itself."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.mesh import Float, Int, TriMesh
from ...geometry.closed_lines import turns_around
from ...geometry.fields import pieces
from ...geometry.through import BodySide


def distance_inside_projected(body: BodySide, points: Float, reach_mm: float) -> Float:
    """Return the distance of each body-side vertex to a closed line across the press direction, (b,) mm, + inside.

    Inside where the winding number of the projected line is not zero.

    Parameters
    ----------
    body : BodySide
        With a press direction.
    points : (p, 3) float, mm
    reach_mm : float
        Distances above this are given as this.
    """
    across = across_press(np.asarray(body.press_direction))
    line, place = points @ across.T, body.mesh.vertices @ across.T
    after = np.roll(line, -1, axis=0)
    turns = turns_around(line, place)
    samples, segment = _sampled(line, after, 0.5 * reach_mm)
    found, nearest = cKDTree(samples).query(place, distance_upper_bound=1.5 * reach_mm)
    near = np.flatnonzero(np.isfinite(found))
    distance = np.full(len(place), reach_mm)
    start, along = line[segment[nearest[near]]], (after - line)[segment[nearest[near]]]
    offset = place[near] - start
    length = np.maximum(np.einsum("ij,ij->i", along, along), 1e-300)
    share = np.clip(np.einsum("ij,ij->i", offset, along) / length, 0.0, 1.0)[:, None]
    distance[near] = np.minimum(np.linalg.norm(offset - share * along, axis=1), reach_mm)
    return np.where(turns != 0, distance, -distance)


def _sampled(start: Float, end: Float, step: float) -> tuple[Float, NDArray[np.int64]]:
    """Return points at most `step` apart along segments, and the segment each lies on."""
    count = np.maximum(np.ceil(np.linalg.norm(end - start, axis=1) / step).astype(np.int64), 1)
    segment = np.repeat(np.arange(len(start)), count)
    first = np.concatenate([[0], np.cumsum(count)[:-1]])
    share = ((np.arange(len(segment)) - first[segment] + 0.5) / count[segment])[:, None]
    return start[segment] * (1 - share) + end[segment] * share, segment


def share_inside_drawn_line(mesh: TriMesh, points: Float, edge_mm: float) -> Float:
    """Return the share of each vertex inside a closed line laid on the surface, (n,), 0 to 1.

    The line follows the shortest path along edges between the nearest vertices of its points; of the parts it divides
    the surface into, the inside is all but the largest.

    Raises InputError when the line does not divide the surface.
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


def across_press(direction: Float) -> Float:
    """Return two unit vectors across a direction, (2, 3), right-handed with it."""
    least = np.eye(3)[np.argmin(np.abs(direction))]
    first = np.cross(direction, least)
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(direction, first)])


def _path_on_edges(mesh: TriMesh, points: Float) -> Int:
    """Return the vertices on the shortest paths along edges from each point's nearest vertex to the next, rising."""
    edge = mesh.edges
    count = len(mesh.vertices)
    graph = sparse.coo_matrix((mesh.edge_lengths, (edge[:, 0], edge[:, 1])), shape=(count, count)).tocsr()
    graph = graph.maximum(graph.T)
    stops = cKDTree(mesh.vertices).query(points)[1].astype(np.int64)
    step = np.unique(stops * count + np.roll(stops, -1))
    here, there = step // count, step % count
    # An edge is the shortest way between its ends, and the path has both of them already.
    is_far = (here != there) & (np.asarray(graph[here, there]).ravel() == 0.0)
    here, there = here[is_far], there[is_far]
    reach = 4.0 * (np.linalg.norm(mesh.vertices[here] - mesh.vertices[there], axis=1) + mesh.edge_lengths.mean())
    path = [stops]
    for source in np.unique(here):
        mine = np.flatnonzero(here == source)
        _, before = dijkstra(graph, indices=source, return_predecessors=True, limit=float(reach[mine].max()))
        node = there[mine]
        while len(node := node[node != source]):
            path.append(node)
            node = before[node]
            if (node < 0).any():
                raise InputError(
                    "Two neighboring points of an outline lie on parts of the body side that do not join.",
                    hint="Give more points along the line.",
                )
    return np.unique(np.concatenate(path)).astype(np.int32)
