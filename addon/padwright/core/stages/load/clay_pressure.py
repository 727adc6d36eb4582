"""The pressure under which the clay took the body's shape, between two ends: it was never measured."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components, dijkstra

from ...base.mesh import Float, Int, TriMesh
from .load_case import ContactPatch

EDGE = 1.0 + 0.5 * np.pi
"""Pressure at the edge of a body that is pressed into a plastic mass, over twice the mass's shear strength (Prandtl
1920; Hill 1950, The Mathematical Theory of Plasticity, chapter 9; both cited, not read)."""


def clay_pressure(patch: ContactPatch, touch: Float, force_mn: float) -> Float:
    """Return the least and the most heaped up pressure the clay can have borne, (2, n), kPa; both add up to the force.

    The patch has faces; its thickness stands for the clay that was left. The force is that with which it was pressed.
    Touch, (n,), is 1 where the body pressed the clay and falls to 0 where it only just touched it.

    Notes
    -----
    Clay flows: it bears no more than moves it. Where it slips along the film and the base, nothing holds it back and
    the pressure is even. Where it sticks to both, its shear strength k holds it back all the way to the edge: from
    there inward the pressure rises by 2 k / h a millimeter, h the clay left, so that it is highest in the middle and
    where the clay is thin (squeezing between rough plates, Prandtl 1923; Hill 1950, chapter 8; cited, not read). With
    `EDGE` that is p = 2 k (EDGE + L), L the least sum of ds / h on a way to the edge. How strong the clay is falls
    out, as the force is known. Ways along the triangles' sides are longer than straight ones by up to a tenth; only
    the shape counts.
    """
    even = _summing_to(touch, patch.area_mm2, force_mn)
    far = _way_to_edge(patch, touch)
    heaped = even if far is None else _summing_to(touch * (EDGE + far), patch.area_mm2, force_mn)
    return np.stack([even, heaped])


def _summing_to(pressure: Float, area: Float, force_mn: float) -> Float:
    return np.asarray(pressure * (force_mn / float(pressure @ area)))


def _way_to_edge(patch: ContactPatch, touch: Float) -> Float | None:
    """Return the least sum of ds / h from each point to where clay was pressed no more; None where there is no edge."""
    if patch.faces is None:
        return None
    pressed = TriMesh(patch.position, patch.faces[(touch[patch.faces] > 0.0).any(axis=1)])
    edge = _outlets(pressed, patch.thickness_mm)
    if len(edge) == 0:
        return None
    first, second = pressed.edges.T
    per_mm = 1.0 / patch.thickness_mm
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
