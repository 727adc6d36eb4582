"""Points drawn at random on a surface, evenly by area."""

from __future__ import annotations

import numpy as np

from ..base.mesh import Float, TriMesh

_SMOOTH = np.cos(np.radians(30.0))


def drawn_points(
    mesh: TriMesh, count: int, rng: np.random.Generator, areas: Float | None = None, *, is_rounded: bool = False
) -> tuple[Float, Float]:
    """Return points of a surface, (count, 3), mm, in random order, and their normals, (count, 3).

    Normals are the corners', weighed: shorter than 1 where these look apart. With areas, (m,), each face has as many
    points as that.
    `is_rounded`: on the bent surface that the corners lie on, rather than on the flat triangles within it.

    Notes
    -----
    Rounded: a point goes half the way to its mean place on the planes at the three corners (Phong tessellation:
    Boubekeur & Alexa 2008, doi 10.1145/1409060.1409094), which is right on a paraboloid. Not where a corner's normal is
    more than 30 degrees off the triangle's: there an edge is sharp.
    """
    total = np.cumsum(mesh.face_areas if areas is None else areas)
    face = np.minimum(np.searchsorted(total, rng.random(count) * total[-1]), len(mesh.faces) - 1)
    first, second = rng.random((2, count))
    is_far = first + second > 1.0
    first, second = np.where(is_far, 1.0 - first, first), np.where(is_far, 1.0 - second, second)
    weight = np.stack([1.0 - first - second, first, second], axis=1)
    corner = mesh.faces[face]
    places, normals = mesh.vertices.take(corner, axis=0), mesh.vertex_normals.take(corner, axis=0)
    points = np.einsum("nk,nkd->nd", weight, places)
    if is_rounded:
        alike = np.einsum("nkd,nd->nk", normals, mesh.face_normals.take(face, axis=0)).min(axis=1)
        off = np.einsum("nkd,nkd->nk", places - points[:, None], normals)
        points += np.einsum("nk,nkd->nd", np.where(alike > _SMOOTH, 0.5, 0.0)[:, None] * weight * off, normals)
    return points, np.einsum("nk,nkd->nd", weight, normals)
