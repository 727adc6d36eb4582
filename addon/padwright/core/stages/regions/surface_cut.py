"""A closed surface cut along the borders between labels, each border point made once and shared."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Float, TriMesh

Index = NDArray[np.int64]

LEAST_SHARE = 0.06
"""A border crosses an edge no nearer to its ends than this share of it: no needle triangles, and the border moves by
less than a tenth of an edge, a twentieth of a bead or two on the meshes that occur; common practice, no source."""


@dataclass(frozen=True, eq=False)
class SurfaceCut:
    """The surface with every triangle on one side of each border."""

    # (n, 3) float, mm: the mesh's own vertices, then the crossings on edges, then the junctions inside faces.
    vertices: Float
    faces: Index  # (m, 3) int64
    label: Index  # (m,) int64, of every face
    # Both (s,) int64: directed border segments from vertex to vertex; `left` lies on their left seen from outside.
    start: Index
    end: Index
    # Both (s,) int64: labels, left < right.
    left: Index
    right: Index
    junction: Index  # (j,) int64, vertices where three labels meet
    junction_labels: Index  # (j, 3) int64, the three, counter-clockwise seen from outside
    parents: Index  # (n, 3) int64, the mesh vertices each vertex lies between (repeated where fewer than three)


def crossing_share(weights: Float, label: Index, low: Index, high: Index) -> Float:
    """Return how far along each edge (low, high) the weights of its two labels are equal, (e,), 0 to 1."""
    rows, first, second = np.arange(len(low)), label[low], label[high]
    here = weights[low][rows, first] - weights[low][rows, second]
    there = weights[high][rows, second] - weights[high][rows, first]
    total = here + there
    return np.divide(here, total, out=np.full(len(low), 0.5), where=total > 0)


def cut_surface(mesh: TriMesh, label: Index, weights: Float) -> SurfaceCut:
    """Cut a closed mesh along the lines where the weights of two labels are equal.

    A face of two labels is divided by one segment, a face of three by three segments that meet in the point where the
    three weights are equal. Crossings lie on edges and are shared, so nothing can gape.

    Parameters
    ----------
    label : (n,) int
        Of every vertex.
    weights : (n, k) float
        Largest, or as large as any, at each vertex's own label.
    """
    count = np.int64(len(mesh.vertices))
    corner = mesh.faces.astype(np.int64)
    at = label[corner]
    is_whole = (at[:, 0] == at[:, 1]) & (at[:, 1] == at[:, 2])
    corner, at = corner[~is_whole], at[~is_whole]
    after = np.roll(corner, -1, axis=1)
    key = np.minimum(corner, after) * count + np.maximum(corner, after)
    differs = at != np.roll(at, -1, axis=1)
    keys = np.unique(key[differs])
    low, high = keys // count, keys % count
    share = np.clip(crossing_share(weights, label, low, high), LEAST_SHARE, 1.0 - LEAST_SHARE)[:, None]
    points = mesh.vertices[low] * (1.0 - share) + mesh.vertices[high] * share
    crossing = np.where(differs, count + np.searchsorted(keys, key), -1)

    is_triple = differs.all(axis=1)
    triple = corner[is_triple]
    center, center_points = _triple_points(mesh, triple, at[is_triple], weights, int(count) + len(keys))
    parts: list[Index] = [mesh.faces[is_whole].astype(np.int64)]
    labels: list[Index] = [label[mesh.faces[is_whole, 0]]]
    segments: list[Index] = []
    for tip in range(3):
        one, two = (tip + 1) % 3, (tip + 2) % 3
        _cut_lone(corner, at, crossing, differs, (tip, one, two), points, mesh, parts, labels, segments)
        here, there = crossing[is_triple, tip], crossing[is_triple, two]
        parts.append(np.stack([triple[:, tip], here, center], axis=1))
        parts.append(np.stack([triple[:, tip], center, there], axis=1))
        labels += [at[is_triple, tip]] * 2
        segments.append(np.stack([here, center, at[is_triple, tip], at[is_triple, one]], axis=1))
    border = np.concatenate(segments)
    turned = border[:, 2] > border[:, 3]
    border[turned] = border[turned][:, [1, 0, 3, 2]]
    own = np.repeat(np.arange(count)[:, None], 3, axis=1)
    return SurfaceCut(
        vertices=np.concatenate([mesh.vertices, points, center_points]),
        faces=np.concatenate(parts),
        label=np.concatenate(labels).astype(np.int64),
        start=border[:, 0],
        end=border[:, 1],
        left=border[:, 2],
        right=border[:, 3],
        junction=center,
        junction_labels=at[is_triple].astype(np.int64),
        parents=np.concatenate([own, np.stack([low, high, low], axis=1), triple]),
    )


def _cut_lone(
    corner: Index,
    at: Index,
    crossing: Index,
    differs: Index,
    turn: tuple[int, int, int],
    points: Float,
    mesh: TriMesh,
    parts: list[Index],
    labels: list[Index],
    segments: list[Index],
) -> None:
    """Divide the faces whose corner `turn[0]` has another label than the two others, which have one."""
    tip, one, two = turn
    chosen = differs[:, tip] & differs[:, two] & ~differs[:, one]
    lone, second, third = corner[chosen, tip], corner[chosen, one], corner[chosen, two]
    here, there = crossing[chosen, tip], crossing[chosen, two]
    count = len(mesh.vertices)
    first_diagonal = np.linalg.norm(points[here - count] - mesh.vertices[third], axis=1)
    is_first = (first_diagonal <= np.linalg.norm(points[there - count] - mesh.vertices[second], axis=1))[:, None]
    parts.append(np.stack([lone, here, there], axis=1))
    parts.append(np.where(is_first, np.stack([here, second, third], axis=1), np.stack([here, second, there], axis=1)))
    parts.append(np.where(is_first, np.stack([here, third, there], axis=1), np.stack([second, third, there], axis=1)))
    labels += [at[chosen, tip], at[chosen, one], at[chosen, one]]
    segments.append(np.stack([here, there, at[chosen, tip], at[chosen, one]], axis=1))


def _triple_points(mesh: TriMesh, triple: Index, at: Index, weights: Float, start: int) -> tuple[Index, Float]:
    """Return the vertex numbers and places where the three weights of a face are equal, kept well inside it."""
    if len(triple) == 0:
        return np.zeros(0, dtype=np.int64), np.zeros((0, 3))
    value = weights[triple[:, :, None], at[:, None, :]]  # face, corner, label
    share = np.cross(value[:, :, 0] - value[:, :, 1], value[:, :, 1] - value[:, :, 2])
    total = share.sum(axis=1, keepdims=True)
    share = np.divide(share, total, out=np.full_like(share, 1 / 3), where=np.abs(total) > 1e-12)
    share = np.clip(share, 0.15, 1.0)
    share /= share.sum(axis=1, keepdims=True)
    return start + np.arange(len(triple)), np.einsum("jc,jcx->jx", share, mesh.vertices[triple])
