"""Points drawn at random on a surface, evenly by area."""

from __future__ import annotations

import numpy as np

from ..base.mesh import Float, TriMesh


def drawn_points(
    mesh: TriMesh, count: int, rng: np.random.Generator, areas: Float | None = None
) -> tuple[Float, Float]:
    """Return points of a surface, (count, 3), mm, in random order, and their normals, (count, 3).

    Normals are the corners', weighed: shorter than 1 where these look apart. With areas, (m,), each face has as many
    points as that.
    """
    total = np.cumsum(mesh.face_areas if areas is None else areas)
    face = np.minimum(np.searchsorted(total, rng.random(count) * total[-1]), len(mesh.faces) - 1)
    first, second = rng.random((2, count))
    is_far = first + second > 1.0
    first, second = np.where(is_far, 1.0 - first, first), np.where(is_far, 1.0 - second, second)
    weight = np.stack([1.0 - first - second, first, second], axis=1)
    corner = mesh.faces[face]
    points = np.einsum("nk,nkd->nd", weight, mesh.vertices[corner])
    return points, np.einsum("nk,nkd->nd", weight, mesh.vertex_normals[corner])
