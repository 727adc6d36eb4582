"""Points that stand for a surface, dense enough whatever its triangles are, and smoothed vertex values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ..base.mesh import Float, TriMesh, sums_at_corners
from ..base.rows import lengths

_NEAR = 9.0
"""Within this many widths of the box triangles are cut to one width: three times the reach of the widest kernel."""
_FINEST = 200.0
"""Widths along the part's diagonal: keeps the grid near two million points."""
_COARSEST = 50.0
_MOST_WIDTH_MM = 2.0
"""However coarse a scan is, the pad is made to a fiftieth of its own size and to 2 mm (our choice)."""


def smoothed_normals(mesh: TriMesh, rounds: int = 4) -> Float:
    """Return vertex normals averaged over their neighbors `rounds` times, (n, 3) unit.

    Noise of 0.3 mm on edges of 1.5 mm turns single normals by some 9 degrees (root mean square); four rounds of
    averaging reach about two edges far and bring that to some 2 degrees (measured on a noisy plane).
    """
    normal = smoothed_values(mesh, mesh.vertex_normals, rounds)
    return normal / np.maximum(lengths(normal), 1e-12)[:, None]


def smoothed_values(mesh: TriMesh, values: Float, rounds: int) -> Float:
    """Return vertex values, (n,) or (n, k), averaged with their neighbors' `rounds` times (own weight a third)."""
    count = len(mesh.vertices)
    edge = mesh.edges
    link = sparse.coo_matrix((np.ones(len(edge), np.float32), (edge[:, 0], edge[:, 1])), (count, count)).tocsr()
    link = link + link.T
    degree = np.maximum(np.diff(link.indptr), 1)
    shares = np.repeat(1.0 / (1.5 * degree), np.diff(link.indptr))
    around = sparse.csr_matrix((shares, link.indices, link.indptr), link.shape)
    for _ in range(rounds):
        values = around @ values + values / 3.0
    return np.asarray(values)


def median_edge(mesh: TriMesh) -> float:
    """Return the median length of the mesh's edges, mm, over 20,000 of them at the most."""
    count = len(mesh.faces)
    side, face = np.divmod(np.arange(0, 3 * count, max(1, 3 * count // 20000)), max(count, 1))
    start, end = mesh.faces[face, side], mesh.faces[face, (side + 1) % 3]
    return float(np.median(lengths(mesh.vertices[start] - mesh.vertices[end])))


def averaging_width(spacing_mm: float, diagonal_mm: float) -> float:
    """Return the averaging kernel's width, mm, for scans with edges of `spacing_mm` and a part of `diagonal_mm`.

    Wider than the scan's spacing, so that noise is averaged over several points, but never so wide that the fineness
    of the scan sets the accuracy of the pad: triangles longer than that are sampled within (`surface_samples`).
    """
    finest = diagonal_mm / _FINEST
    coarsest = max(finest, min(_MOST_WIDTH_MM, diagonal_mm / _COARSEST))
    return min(max(1.2 * spacing_mm, finest), coarsest)


def averaging_width_of(scan: TriMesh) -> float:
    """Return the kernel's width, mm, that a scan by itself asks for; its bounds stand for the part's."""
    return averaging_width(median_edge(scan), float(np.linalg.norm(np.ptp(scan.bounds, axis=0))))


@dataclass(frozen=True)
class Fineness:
    """How fine a scan is."""

    edge_mm: float  # median length of its edges
    sag_mm: float  # how far a smooth surface may lie off its triangles: 95th percentile over the edges


def fineness(mesh: TriMesh, low: Float, high: Float) -> Fineness:
    """Return how fine the scan is within a box, (3,) and (3,), mm.

    Notes
    -----
    A chord of length e on a circle of radius r sags by e^2 / 8 r, and two chords meet at an angle e / r: so by e / 8
    times the angle between two triangles, e being the way across them both, halved.
    """
    corner = mesh.triangles
    is_near = ((corner.max(axis=1) >= low) & (corner.min(axis=1) <= high)).all(axis=1)
    if not is_near.any():
        return Fineness(median_edge(mesh), 0.0)
    part = mesh.submesh(is_near)
    count, edge = len(part.vertices), part.edges.astype(np.int64)
    forward, backward = edge[:, 0] * count + edge[:, 1], edge[:, 1] * count + edge[:, 0]
    order = np.argsort(forward, kind="stable")
    place = np.minimum(np.searchsorted(forward[order], backward), len(order) - 1)
    mate = order[place]
    both = (forward[mate] == backward) & (edge[:, 0] < edge[:, 1])
    face = np.tile(np.arange(len(part.faces)), 3)
    one, two = face[both], face[mate[both]]
    cosine = np.einsum("ij,ij->i", part.face_normals[one], part.face_normals[two])
    length = np.linalg.norm(part.vertices[edge[both, 0]] - part.vertices[edge[both, 1]], axis=1)
    span = (part.face_areas[one] + part.face_areas[two]) / np.maximum(length, 1e-12)
    sag = span / 8.0 * np.arccos(np.clip(cosine, -1.0, 1.0))
    return Fineness(median_edge(part), float(np.percentile(sag, 95.0)) if len(sag) else 0.0)


@dataclass(frozen=True)
class Samples:
    """Points of a surface that stand for it: position (n, 3) mm, unit normal (n, 3), area (n,) mm2."""

    point: Float
    normal: Float
    area: Float


def surface_samples(mesh: TriMesh, width: float, low: Float, high: Float) -> Samples:
    """Return the vertices with smoothed normals and, where triangles are longer than 2 `width`, points within them.

    All in mm; `low` and `high`, (3,), are the box that matters.

    Notes
    -----
    A long triangle (of a coarse scan, or on a steep flank between two scan lines) has no vertex in its middle, so it
    is halved across its longest edge until no piece is longer than `width`, or than half its distance to the box; each
    piece stands at its centroid with the face's own normal. Up to two widths the kernel itself closes the gap between
    vertices. Normals are averaged over a neighborhood of some two widths, whatever the edges are.
    """
    ends = [mesh.vertices.take(mesh.faces[:, index], axis=0) for index in range(3)]
    is_short = np.ones(len(mesh.faces), dtype=bool)
    for one in range(3):
        side = ends[one] - ends[one - 1]
        is_short &= np.einsum("ij,ij->i", side, side) <= (2.0 * width) ** 2
    third = np.where(is_short, mesh.face_areas, 0.0)[:, None] / 3.0
    area = sums_at_corners(mesh.faces, third, len(mesh.vertices))[:, 0]
    is_used = area > 0.0
    # The reach of averaging grows with the root of the rounds: four over edges of width / 1.2, fewer over longer ones.
    rounds = int(np.clip(np.rint(4.0 * (width / (1.2 * max(median_edge(mesh), 1e-12))) ** 2), 1, 4))
    is_long = np.flatnonzero(~is_short)
    cut, face = _halved(np.stack([end.take(is_long, axis=0) for end in ends], axis=1), width, low, high)
    face = is_long[face]
    cross = np.cross(cut[:, 1] - cut[:, 0], cut[:, 2] - cut[:, 0])
    return Samples(
        np.concatenate([mesh.vertices[is_used], cut.mean(axis=1)]),
        np.concatenate([smoothed_normals(mesh, rounds)[is_used], mesh.face_normals[face]]),
        np.concatenate([area[is_used], 0.5 * lengths(cross)]),
    )


def _halved(corner: Float, width: float, low: Float, high: Float) -> tuple[Float, NDArray[np.int64]]:
    """Return triangles (k, 3, 3) halved until short, and the number of the triangle each was cut from, (k,)."""
    face = np.arange(len(corner))
    done, of = [np.zeros((0, 3, 3))], [np.zeros(0, dtype=np.int64)]
    while len(corner):
        side = np.linalg.norm(np.roll(corner, -1, axis=1) - corner, axis=2)
        outside = np.maximum(np.maximum(low - corner.max(axis=1), corner.min(axis=1) - high), 0.0)
        away = np.linalg.norm(outside, axis=1) - _NEAR * width
        is_done = side.max(axis=1) <= np.maximum(width, 0.5 * away)
        done.append(corner[is_done])
        of.append(face[is_done])
        left, which = corner[~is_done], side[~is_done].argmax(axis=1)
        # Turned so that the longest edge runs from the first corner to the second.
        row = np.arange(len(left))[:, None]
        left = left[row, (which[:, None] + np.arange(3)) % 3]
        middle = 0.5 * (left[:, 0] + left[:, 1])
        first = np.stack([left[:, 0], middle, left[:, 2]], axis=1)
        second = np.stack([middle, left[:, 1], left[:, 2]], axis=1)
        corner = np.concatenate([first, second])
        face = np.concatenate([face[~is_done], face[~is_done]])
    return np.concatenate(done), np.concatenate(of)
