"""Checks of the artist's own solid before the base is taken out of it."""

from __future__ import annotations

import numpy as np

from ...base.errors import InputError
from ...base.mesh import TriMesh
from ...base.text import counted
from ...geometry.query import NearestSurface

_LEAST_OUTSIDE_MM = 0.5  # a printed pad thinner than a bead is none
_MOST_POINTS = 4000
_MOST_LONGER = 5.0  # our choice: a pad five times as long as what it sits on is a wrong unit (inches: 25.4 times)


def check_envelope(solid: TriMesh, base: TriMesh) -> float:
    """Return how far the envelope stands out over the base at most, mm.

    Solid and base are in one frame, mm; the base may be open. Raises InputError when the envelope is not closed, is of
    another size than the base, is farther from the base than it is long, or lies within the base. A point is outside
    where it lies on the side that the nearest face of the base looks to.
    """
    if not solid.is_closed:
        raise InputError(
            f"The envelope is not closed: {counted(len(solid.boundary_edges), 'open edge')}.",
            hint="Close it in the modeller.",
        )
    points = solid.vertices[:: max(1, len(solid.vertices) // _MOST_POINTS)]
    near = NearestSurface(base).find(points)
    size = float(np.ptp(solid.bounds, axis=0).max())
    length = float(np.ptp(base.bounds, axis=0).max())
    if size > _MOST_LONGER * length:
        raise InputError(
            f"The envelope is {size:.0f} mm long and the base scan only {length:.0f} mm.", hint="Check its unit."
        )
    if near.distance.min() > size:
        raise InputError(
            f"The envelope is {near.distance.min():.0f} mm away from the base and only {size:.0f} mm long.",
            hint="Move it onto the base, and check its unit.",
        )
    is_outside = ((points - near.point) * base.face_normals[near.face]).sum(axis=1) > 0.0
    out = float(near.distance[is_outside].max(initial=0.0))
    if out < _LEAST_OUTSIDE_MM:
        raise InputError(
            f"The envelope stands out {out:.1f} mm over the base, so nothing is left of it.",
            hint="Move it outside, or turn the base's faces outward.",
        )
    return out
