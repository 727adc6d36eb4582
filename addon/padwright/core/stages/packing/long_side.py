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
    edge = triangles[:, 1:] - triangles[:, :1]
    area = np.linalg.norm(np.cross(edge[:, 0], edge[:, 1]), axis=1)
    middle = np.average(triangles.mean(axis=1), axis=0, weights=area)
    level = triangles - middle
    level = level - (level @ up)[:, :, None] * up
    total = level.sum(axis=1)
    weighted = level * area[:, None, None]
    moments = np.einsum("fci,fcj->ij", weighted, level) + (total * area[:, None]).T @ total
    long = np.linalg.eigh(moments)[1][:, -1]
    return long * np.sign(long[np.argmax(np.abs(long))]), middle
