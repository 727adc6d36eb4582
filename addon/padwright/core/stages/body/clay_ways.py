"""How far clay has to flow out from under a body: what holds back the clay that sticks to what is above and below."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components, dijkstra

from ...base.mesh import Float, Int, TriMesh

EDGE = 1.0 + 0.5 * np.pi
"""Pressure at the edge of a body that is pressed into a plastic mass, over twice the mass's shear strength (Prandtl
1920; Hill 1950, The Mathematical Theory of Plasticity, chapter 9; both cited, not read)."""


def way_to_edge(clay: TriMesh, thickness: Float, touch: Float) -> Float | None:
    """Return the least sum of ds / h from each point, (n,), to where clay was pressed no more; None without an edge.

    Thickness, (n,), mm, is h, the clay left; touch, (n,), is above 0 where the clay was pressed.
    """
    pressed = TriMesh(clay.vertices, clay.faces[(touch[clay.faces] > 0.0).any(axis=1)])
    if len(pressed.faces) == 0:
        return None
    edge = _outlets(pressed, thickness)
    if len(edge) == 0:
        return None
    first, second = pressed.edges.T
    per_mm = 1.0 / thickness
    cost = pressed.edge_lengths * 0.5 * (per_mm[first] + per_mm[second])
    graph = csr_matrix((cost, (first, second)), (len(per_mm), len(per_mm)))
    far = dijkstra(graph, directed=False, indices=edge, min_only=True)
    return np.where(np.isfinite(far), far, 0.0)


def _outlets(pressed: TriMesh, thickness: Float) -> Int:
    """Return the points on outlines that clay can flow to: the longest of each piece, and holes wider than it is thick.

    A smaller hole, as a single spot that was not read leaves, fills: clay bears on across it.
    """
    border, count = pressed.boundary_edges, len(thickness)
    length = np.linalg.norm(pressed.vertices[border[:, 0]] - pressed.vertices[border[:, 1]], axis=1)

    def labels(sides: Int) -> Int:
        return np.asarray(connected_components(csr_matrix((np.ones(len(sides)), sides.T), (count, count)))[1])

    piece, outline = labels(pressed.edges), labels(border)
    around = np.bincount(outline[border[:, 0]], length, count)
    thick = np.bincount(outline[border[:, 0]], length * thickness[border[:, 0]], count) / np.maximum(around, 1e-12)
    longest = np.zeros(count)
    np.maximum.at(longest, piece[border[:, 0]], around[outline[border[:, 0]]])
    points = np.unique(border)
    own = around[outline[points]]
    return points[(own >= longest[piece[points]]) | (own > np.pi * thick[outline[points]])]
