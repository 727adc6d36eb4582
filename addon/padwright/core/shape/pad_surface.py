"""From the pad's grid field to a closed mesh of well-shaped triangles that knows its sides."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ..errors import SolidError
from ..geometry.implicit import Field, Grid
from ..geometry.query import iso_surface
from ..mesh import TriMesh

BODY, BASE, RIM = 1, 2, 0
"""Which side of the pad a vertex lies on."""


def extract_surface(field: Field, grid: Grid, rounds: int = 5) -> TriMesh:
    """Return the field's zero surface as one closed mesh with even triangles.

    Parameters
    ----------
    field : (nx, ny, nz) float32, mm
        Signed distance, negative inside the pad.
    rounds : int
        Rounds of evening: each moves the vertices towards the middle of their neighbours, within the surface.

    Raises
    ------
    SolidError
        When the surface is not closed.
    """
    mesh = iso_surface(field, grid.origin, grid.step)
    count = len(mesh.vertices)
    edge = mesh.edges
    link = sparse.coo_matrix((np.ones(len(edge)), (edge[:, 0], edge[:, 1])), (count, count)).tocsr()
    mean = sparse.diags(1.0 / np.maximum(np.asarray(link.sum(axis=1)).ravel(), 1.0)) @ link
    place = mesh.vertices
    for round_index in range(rounds + 2):
        value, gradient = grid.sample_with_gradient(field, place)
        # A gradient under 0.2 belongs to no distance field; bounding it keeps the Newton step within the cell.
        square = np.maximum((gradient**2).sum(axis=1, keepdims=True), 0.04)
        move = -(value[:, None] / square) * gradient
        if round_index < rounds:
            pull = mean @ place - place
            move += 0.7 * (pull - ((pull * gradient).sum(axis=1, keepdims=True) / square) * gradient)
        length = np.linalg.norm(move, axis=1, keepdims=True)
        place = place + move * np.minimum(1.0, 0.5 * grid.step / np.maximum(length, 1e-12))
    mesh = TriMesh(place, mesh.faces)
    if not mesh.is_closed:
        raise SolidError(
            f"The pad's surface is not closed: {len(mesh.boundary_edges)} open edges.",
            hint="Choose another resolution.",
        )
    return mesh


def vertex_sides(mesh: TriMesh, grid: Grid, body: Field, base: Field, rim: Field) -> NDArray[np.int8]:
    """Return BODY, BASE or RIM for each vertex: the bounding field that is largest there, (n,) int8."""
    value = np.stack([grid.sample(part, mesh.vertices) for part in (rim, body, base)])
    return np.array([RIM, BODY, BASE], dtype=np.int8)[np.argmax(value, axis=0)]
