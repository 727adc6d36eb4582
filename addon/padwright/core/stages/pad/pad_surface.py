"""From the pad's grid field to a closed mesh of well-shaped triangles that knows its sides."""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ...base.errors import SolidError
from ...base.mesh import TriMesh
from ...base.rows import lengths
from ...base.text import counted
from ...geometry.fields import pieces
from ...geometry.implicit import Field, Grid
from ...geometry.query import iso_surface

BODY, BASE, RIM = 1, 2, 0
"""Which side of the pad a vertex lies on."""


_LEAST_VOID = 0.001
"""A hollow inside the pad smaller than a thousandth of it is noise; a larger one is the base that it closes around."""


def main_body(mesh: TriMesh) -> tuple[TriMesh, float]:
    """Return the largest of the closed bodies a mesh is made of, with its large hollows, and the volume left out, mm3.

    A grid's field that dips below zero at a point or two beside the pad shows as a body of a few triangles of its own;
    one that rises above zero within it, as a hollow turned inside out. Small hollows are filled.
    """
    piece = pieces(mesh)
    if piece.max(initial=0) == 0:
        return mesh, 0.0
    corner = mesh.triangles - mesh.bounds.mean(axis=0)
    signed = np.einsum("ij,ij->i", corner[:, 0], np.cross(corner[:, 1], corner[:, 2])) / 6.0
    of_face = piece[mesh.faces[:, 0]]
    volume = np.bincount(of_face, signed)
    main = int(np.argmax(volume))
    is_kept = volume < -_LEAST_VOID * volume[main]
    is_kept[main] = True
    left_out = float(np.abs(volume[~is_kept]).sum())
    return mesh.submesh(is_kept[of_face]), left_out


def extract_surface(field: Field, grid: Grid, rounds: int = 5) -> tuple[TriMesh, float]:
    """Return the field's zero surface as one closed mesh with even triangles, and the volume of other bodies, mm3.

    The field, (nx, ny, nz) float32, mm, is a signed distance, negative inside the pad. Each round of evening moves the
    vertices towards the middle of their neighbors, within the surface. Raises SolidError when it is not closed.
    """
    mesh, left_out = main_body(iso_surface(field, grid.origin, grid.step))
    if len(mesh.faces) == 0:
        raise SolidError("Nothing of the pad is left: base, body side and outline leave no room between them.")
    count = len(mesh.vertices)
    edge = mesh.edges
    link = sparse.coo_matrix((np.ones(len(edge)), (edge[:, 0], edge[:, 1])), (count, count)).tocsr()
    mean = sparse.diags(1.0 / np.maximum(np.asarray(link.sum(axis=1)).ravel(), 1.0)) @ link
    place = mesh.vertices
    for round_index in range(rounds + 2):
        value, gradient = grid.sample_with_gradient(field, place)
        # A gradient under 0.2 belongs to no distance field; bounding it keeps the Newton step within the cell.
        square = np.maximum(_dot(gradient, gradient), 0.04)[:, None]
        move = -(value[:, None] / square) * gradient
        if round_index < rounds:
            pull = mean @ place - place
            move += 0.7 * (pull - (_dot(pull, gradient)[:, None] / square) * gradient)
        place = place + move * np.minimum(1.0, 0.5 * grid.step / np.maximum(lengths(move), 1e-12))[:, None]
    mesh = TriMesh(place, mesh.faces)
    if not mesh.is_closed:
        raise SolidError(
            f"The pad's surface is not closed: {counted(len(mesh.boundary_edges), 'open edge')}.",
            hint="Choose another resolution.",
        )
    return mesh, left_out


_dot = partial(np.einsum, "ij,ij->i")


def vertex_sides(mesh: TriMesh, grid: Grid, body: Field, base: Field, rim: Field) -> NDArray[np.int8]:
    """Return BODY, BASE or RIM for each vertex: the bounding field that is largest there, (n,) int8."""
    value = np.stack([grid.sample(part, mesh.vertices) for part in (rim, body, base)])
    return np.array([RIM, BODY, BASE], dtype=np.int8)[np.argmax(value, axis=0)]
