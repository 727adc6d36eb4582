"""Along which way a part is longest, so that its pictures show it across."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float


def long_side(triangles: Float, up: Float) -> tuple[Float, Float]:
    """Return the level direction along which a surface, (m, 3, 3), is longest, unit, and its middle, (3,) each.

    Notes
    -----
    Second moments of the surface: over a triangle the mean of x x^T is (sum of v v^T + (sum v)(sum v)^T) / 12, so
    the view does not turn with how the surface is meshed.
    """
    corners = [triangles[:, corner] for corner in range(3)]
    area = np.linalg.norm(np.cross(corners[1] - corners[0], corners[2] - corners[0]), axis=1)
    middle = np.average(corners[0] + corners[1] + corners[2], axis=0, weights=area) / 3.0
    placed = [corner - middle for corner in corners]
    # einsum adds in one order whatever the number of threads; a matrix product does not.
    moments = sum(
        np.einsum("fi,fj->ij", each * area[:, None], each) for each in (*placed, placed[0] + placed[1] + placed[2])
    )
    level = np.eye(3) - np.outer(up, up)
    long = np.linalg.eigh(level @ moments @ level)[1][:, -1]
    return long * np.sign(long[np.argmax(np.abs(long))]), middle
