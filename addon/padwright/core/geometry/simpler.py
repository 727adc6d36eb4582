"""A closed surface with as few triangles as a picture of it needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..base.mesh import TriMesh
from .query import NearestSurface
from .solids import Solid

_FINEST_MM, _FINER_UP_TO = 0.05, 2.0
_GROWTH = 2.0
_MEASURED = 60_000  # vertices that tell how far the surface was moved


@dataclass(frozen=True, eq=False)
class Simpler:
    """A surface made simpler."""

    mesh: TriMesh
    # How far the vertices of the surface as it was, or every second or third of them, lie off it: 999 of 1000, and all.
    usual_mm: float
    most_mm: float


def simpler(mesh: TriMesh, most: int, name: str = "part") -> Simpler:
    """Return a closed mesh simplified until it has at most so many triangles, or no fewer are left.

    The first step asks for 0.05 mm, or for 0.1 mm where it has more than twice as many triangles as asked; each further
    one for twice as much. That is kept nearly everywhere, but slivers and tips may go whole, so what came of it is
    measured.

    Raises SolidError when the mesh is no closed solid.
    """
    solid, made = Solid.of(mesh, name), mesh
    tolerance = _FINEST_MM if len(mesh.faces) <= _FINER_UP_TO * most else _GROWTH * _FINEST_MM
    while True:
        before = len(made.faces)
        solid = solid.simplified(tolerance)
        made = solid.mesh()
        if len(made.faces) <= most or len(made.faces) > 0.95 * before:
            break
        tolerance *= _GROWTH
    some = mesh.vertices[:: max(1, len(mesh.vertices) // _MEASURED)]
    off = NearestSurface(made).find(some).distance
    return Simpler(made, float(np.percentile(off, 99.9)), float(off.max()))
