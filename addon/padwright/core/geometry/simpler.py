"""A closed surface with as few triangles as a picture of it needs."""

from __future__ import annotations

from dataclasses import dataclass

from ..base.mesh import TriMesh
from .solids import Solid

_FINEST_MM, _FINER_UP_TO = 0.05, 2.0
_GROWTH = 2.0


@dataclass(frozen=True, eq=False)
class Simpler:
    """A surface made simpler."""

    mesh: TriMesh
    error_mm: float  # by which it was moved at most


def simpler(mesh: TriMesh, most: int, name: str = "part") -> Simpler:
    """Return a closed mesh simplified until it has at most so many triangles, or no fewer are left.

    The first step moves it by 0.05 mm, or by 0.1 mm where it has more than twice as many as asked; each further one by
    twice as much.

    Raises SolidError when the mesh is no closed solid.
    """
    solid = Solid.of(mesh, name)
    tolerance = _FINEST_MM if len(mesh.faces) <= _FINER_UP_TO * most else _GROWTH * _FINEST_MM
    error = 0.0
    while True:
        before = len(mesh.faces)
        solid = solid.simplified(tolerance)
        mesh = solid.mesh()
        error += tolerance
        if len(mesh.faces) <= most or len(mesh.faces) > 0.95 * before:
            return Simpler(mesh, error)
        tolerance *= _GROWTH
