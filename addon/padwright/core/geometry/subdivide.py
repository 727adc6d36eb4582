"""A mesh with its long edges cut, on the same surface."""

from __future__ import annotations

import numpy as np

from ..base.mesh import Float, Int, TriMesh

_ROUNDS = 24
"""Each round halves what is too long: more than any scan of a part can need."""


def subdivided(mesh: TriMesh, longest_mm: float) -> TriMesh:
    """Return the mesh with no edge longer than asked, mm, above 0; the same mesh where there is none.

    Every edge that is too long gets a vertex in its middle, which both its faces use, so nothing opens; a face with
    one, two or three such edges becomes two, three or four. New vertices lie on the old triangles: the surface stays,
    and vertices that were there keep their numbers. Colors are the mean of both ends.
    """
    vertices, faces, colors = mesh.vertices, mesh.faces, mesh.colors
    for _ in range(_ROUNDS):
        ends = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1).astype(np.int64)
        is_long = np.linalg.norm(vertices[ends[:, 0]] - vertices[ends[:, 1]], axis=1) > longest_mm
        if not is_long.any():
            break
        unique, index = np.unique(ends[is_long, 0] * len(vertices) + ends[is_long, 1], return_inverse=True)
        pair = np.stack(np.divmod(unique, len(vertices)), axis=1)
        middle = np.full(len(ends), -1, dtype=np.int32)
        middle[is_long] = len(vertices) + index
        if colors is not None:
            mean = np.rint(colors[pair].astype(np.float64).mean(axis=1)).astype(np.uint8)
            colors = np.concatenate([colors, mean])
        vertices = np.concatenate([vertices, vertices[pair].mean(axis=1)])
        faces = _cut(faces, middle.reshape(-1, 3), vertices)
    return mesh if faces is mesh.faces else TriMesh(vertices, faces, colors)


def _cut(faces: Int, middle: Int, vertices: Float) -> Int:
    """Return the faces (m, 3) cut at the middles (m, 3) of their edges 01, 12, 20; -1 where an edge stays whole."""
    count = (middle >= 0).sum(axis=1)
    # Turned so that a lone cut edge, and a lone whole one, is the first.
    first = np.where(count == 1, np.argmax(middle >= 0, axis=1), np.where(count == 2, np.argmin(middle, axis=1), 0))
    turn = (first[:, None] + np.arange(3)) % 3
    row = np.arange(len(faces))[:, None]
    (a, b, c), (ab, bc, ca) = faces[row, turn].T, middle[row, turn].T
    one, two, three = (count == number for number in (1, 2, 3))
    # With two cuts a four-cornered piece is left; its shorter diagonal gives the rounder triangles.
    is_short = np.linalg.norm(vertices[a] - vertices[bc], axis=1) <= np.linalg.norm(vertices[b] - vertices[ca], axis=1)
    pieces = [
        (count == 0, (a, b, c)),
        (one, (a, ab, c)),
        (one, (ab, b, c)),
        (two, (bc, c, ca)),
        (two & is_short, (a, b, bc)),
        (two & is_short, (a, bc, ca)),
        (two & ~is_short, (a, b, ca)),
        (two & ~is_short, (b, bc, ca)),
        (three, (a, ab, ca)),
        (three, (ab, b, bc)),
        (three, (bc, c, ca)),
        (three, (ab, bc, ca)),
    ]
    return np.concatenate([np.stack([corner[chosen] for corner in corners], axis=1) for chosen, corners in pieces])
