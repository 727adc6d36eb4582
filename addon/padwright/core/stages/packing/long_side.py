"""Along which way a part is longest, so that its pictures show it across."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float, TriMesh


def long_side(mesh: TriMesh, up: Float) -> tuple[Float, Float]:
    """Return the level direction along which a surface is longest, unit, and its middle, (3,) each.

    Notes
    -----
    Second moments of the surface: over a triangle the mean of x x^T is (sum of v v^T + (sum v)(sum v)^T) / 12, so
    the view does not turn with how the surface is meshed. Each vertex counts by the area of the faces around it.
    """
    around, area = 3.0 * mesh.vertex_areas, mesh.face_areas
    middle = np.array([_summed(around, column) for column in mesh.vertices.T]) / (3.0 * area.sum())
    x, y, z = (mesh.vertices - middle).T
    one, two, three = mesh.faces.T
    sums = [column[one] + column[two] + column[three] for column in (x, y, z)]
    moments = np.zeros((3, 3))
    for weight, columns in ((around, (x, y, z)), (area, sums)):
        for row in range(3):
            weighed = weight * columns[row]
            moments[row] += [_summed(weighed, column) for column in columns]
    level = np.eye(3) - np.outer(up, up)
    long = np.linalg.eigh(level @ moments @ level)[1][:, -1]
    return long * np.sign(long[np.argmax(np.abs(long))]), middle


def _summed(weight: Float, values: Float) -> float:
    """Return the weighed sum of values, (n,): unlike a product added in one order whatever the number of threads."""
    return float(np.einsum("n,n->", weight, values))
