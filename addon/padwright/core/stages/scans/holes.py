"""Close small holes with a surface that follows the bend around them. No existing vertex is moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RBFInterpolator
from scipy.sparse import coo_matrix, csr_matrix, identity
from scipy.sparse.linalg import spsolve

from ...base.mesh import Float, Int, directed_edges
from .flatnet import net_in
from .topology import touches

_RINGS = 4
"""Rows of faces around a hole that shape its filling; enough to average scan noise over, few enough to stay near."""
_MOST_SUPPORT = 600
_SMOOTHING = 1.0
"""Of the thin-plate spline, with lengths in units of the hole's radius. Measured on a sphere of 30 mm with a hole of
8 mm radius, fillings off by (RMS, mm) at 0 / 0.1 / 0.3 mm of noise: 0.01: .010 / .10 / .35; 0.1: .012 / .057 / .16;
1: .022 / .036 / .057; 3: .028 / .038 / .037. The bend itself is in the free quadratic part."""
_STEEPEST = 0.35
"""Cosine of the steepest face around a hole, against the hole's plane, for which it is filled as a height over it."""


@dataclass(frozen=True, eq=False)
class Filling:
    """The new surface in one hole."""

    points: Float  # (k, 3), mm; new vertices
    faces: NDArray[np.int64]  # (f, 3); into the loop's vertices, then the new ones


def is_hole(points: Float, loop: Int, normals: Float) -> bool:
    """Return True when the loop goes around a gap, False when it goes around the surface's outline.

    Seen from outside a border runs with the surface on its left: clockwise around a gap.
    """
    around = points[loop]
    around = around - around.mean(axis=0)
    vector = 0.5 * np.cross(around, np.roll(around, -1, axis=0)).sum(axis=0)
    return bool(vector @ normals.sum(axis=0) < 0)


def neighbor_rings(faces: Int, seeds: Int, vertex_count: int, rings: int = _RINGS) -> tuple[Int, csr_matrix]:
    """Return the faces within some rings of the seeds, and the vertex neighborhood they make."""
    is_near = np.zeros(vertex_count, dtype=bool)
    is_near[seeds] = True
    is_chosen = np.zeros(len(faces), dtype=bool)
    for _ in range(rings):
        is_chosen = touches(is_near, faces)
        is_near[faces[is_chosen].reshape(-1)] = True
    near = faces[is_chosen]
    edge = directed_edges(near)
    graph = coo_matrix(
        (np.ones(2 * len(edge), dtype=bool), (np.r_[edge[:, 0], edge[:, 1]], np.r_[edge[:, 1], edge[:, 0]])),
        shape=(vertex_count, vertex_count),
    ).tocsr()
    return near, graph


def fill_hole(points: Float, loop: Int, graph: csr_matrix, border_normals: Float) -> Filling | None:
    """Return a filling for one hole, or None when none can be made without folding.

    Parameters
    ----------
    points : (n, 3) float, mm
    loop : (k,) int32
        The hole's vertices in the order its border half-edges run.
    graph : (n, n) sparse bool
        Which vertices are neighbors, at least around the hole.
    border_normals : (k, 3) float
        Normals of the faces along the loop.

    Notes
    -----
    The hole is laid in its plane and filled with an even net at the spacing of its border. Heights come from a
    smoothing thin-plate spline with a free quadratic part through the rings around (Duchon 1977; Wahba 1990, "Spline
    models for observational data", ch. 2): the surface of least bending. Where the surroundings are too steep for
    heights, the net is laid on a circle and its vertices minimize the bending of the net itself (Botsch & Kobbelt
    2004, doi 10.1145/1015706.1015772).
    """
    ring = points[loop[::-1]]
    count = len(ring)
    if count == 3:
        return Filling(np.zeros((0, 3)), np.array([[0, 1, 2]]))
    spacing = float(np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1).mean())
    center = ring.mean(axis=0)
    centered = ring - center
    normal = np.cross(centered, np.roll(centered, -1, axis=0)).sum(axis=0)
    length = float(np.linalg.norm(normal))
    is_gentle = False
    if length > 0:
        normal = normal / length
        is_gentle = bool((_smoothed(border_normals) @ normal).min() > _STEEPEST)
    if is_gentle:
        axes = _plane_axes(normal)
        flat = centered @ axes.T
        net = net_in(flat[:, :2], spacing)
        if net is not None:
            inner, faces = net
            heights = _spline_heights(points, loop, graph, center, axes, inner)
            new = np.column_stack([inner, heights]) @ axes + center
            return Filling(new, faces)
    angle = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1))])
    angle = 2 * np.pi * angle[:-1] / angle[-1]
    circle = spacing * count / (2 * np.pi) * np.column_stack([np.cos(angle), np.sin(angle)])
    net = net_in(circle, spacing)
    if net is None:
        return None
    inner, faces = net
    return Filling(_least_bending(points, loop, graph, faces, len(inner)), faces)


def _smoothed(normals: Float, reach: int = 4) -> Float:
    """Return normals averaged along the loop: single faces at a torn border tilt far with noise."""
    total = sum(np.roll(normals, step, axis=0) for step in range(-reach, reach + 1))
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-300))


def _plane_axes(normal: Float) -> Float:
    """Return two axes of the plane and its normal as rows."""
    first = np.cross(normal, np.eye(3)[int(np.abs(normal).argmin())])
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(normal, first), normal])


def _around(graph: csr_matrix, loop: Int, rings: int) -> Int:
    """Return the loop's vertices and those within some rings of it."""
    found = np.unique(loop)
    newest = found
    for _ in range(rings):
        reached = np.unique(graph[newest].indices)
        newest = np.setdiff1d(reached, found, assume_unique=True)
        found = np.union1d(found, newest)
    return found


def _spline_heights(points: Float, loop: Int, graph: csr_matrix, center: Float, axes: Float, inner: Float) -> Float:
    """Return the heights of the new points over the hole's plane."""
    if len(inner) == 0:
        return np.zeros(0)
    support = _around(graph, loop, _RINGS)
    if len(support) > _MOST_SUPPORT:
        support = support[np.linspace(0, len(support) - 1, _MOST_SUPPORT).astype(int)]
    local = (points[support] - center) @ axes.T
    radius = float(np.linalg.norm((points[loop] - center), axis=1).mean())
    local /= radius
    degree = 2 if len(support) >= 30 else 1
    if len(support) < 6:
        return np.zeros(len(inner))
    try:
        spline = RBFInterpolator(
            local[:, :2], local[:, 2], kernel="thin_plate_spline", smoothing=_SMOOTHING, degree=degree
        )
    except np.linalg.LinAlgError:
        return np.zeros(len(inner))
    return np.asarray(spline(inner / radius)) * radius


def _least_bending(points: Float, loop: Int, graph: csr_matrix, faces: NDArray[np.int64], new_count: int) -> Float:
    """Return places of the new vertices for which the net's second differences vanish, joined to the rings around."""
    if new_count == 0:
        return np.zeros((0, 3))
    around = _around(graph, loop, 2)
    outer = np.setdiff1d(around, loop)
    old = np.concatenate([loop[::-1], outer])
    old_count, total = len(old), len(old) + new_count
    index = np.concatenate([np.arange(len(loop)), old_count + np.arange(new_count)])
    edge = index[directed_edges(faces)]
    known = graph[old][:, old].tocoo()
    one = np.r_[edge[:, 0], edge[:, 1], known.row]
    other = np.r_[edge[:, 1], edge[:, 0], known.col]
    weight = coo_matrix((np.ones(len(one)), (one, other)), shape=(total, total)).tocsr()
    weight.data[:] = 1.0
    scale = coo_matrix((1.0 / np.asarray(weight.sum(axis=1)).ravel(), (np.arange(total), np.arange(total))))
    laplace = identity(total, format="csr") - scale.tocsr() @ weight
    twice = (laplace @ laplace).tocsr()[old_count:]
    solved = spsolve(twice[:, old_count:].tocsc(), -twice[:, :old_count] @ points[old])
    return np.asarray(solved).reshape(new_count, 3)
