"""The only door to manifold3d: closed solids out, their status checked at the border."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..base.errors import SolidError
from ..base.mesh import Float, Int, TriMesh

if TYPE_CHECKING:
    import manifold3d


def extruded(outline: Float | Sequence[Float], height_mm: float, name: str = "block") -> TriMesh:
    """Return the solid over an outline, (n, 2) mm, in the plane z = 0 up to a height, closed.

    The outline runs counter-clockwise and does not cross itself. Of several outlines, which may overlap, all ground
    counts once.

    Raises SolidError when the outline encloses nothing.
    """
    import manifold3d

    outlines = [outline] if isinstance(outline, np.ndarray) else outline
    rings = [np.ascontiguousarray(each, dtype=np.float64) for each in outlines]
    solid = manifold3d.CrossSection(rings, manifold3d.FillRule.NonZero).extrude(height_mm)
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        raise SolidError(f"The outline of the {name} encloses nothing ({solid.status().name}).")
    mesh = solid.to_mesh64()
    return TriMesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int32))


class Solid:
    """A closed solid that others can be taken away from or joined to; it never changes."""

    def __init__(self, solid: manifold3d.Manifold, name: str) -> None:
        self._solid = solid
        self._name = name

    @classmethod
    def of(cls, mesh: TriMesh, name: str) -> Solid:
        """Return a closed mesh as a solid; several separate ones count as one.

        Raises SolidError when the mesh is open, badly turned, or inside out.
        """
        import manifold3d

        made = manifold3d.Manifold(
            manifold3d.Mesh64(
                vert_properties=np.array(mesh.vertices, dtype=np.float64), tri_verts=mesh.faces.astype(np.uint64)
            )
        )
        if made.status() != manifold3d.Error.NoError or made.volume() <= 0.0:
            raise SolidError(f"The {name} is no closed solid ({made.status().name}, {made.volume():.3g} mm3).")
        return cls(made, name)

    def less(self, others: Sequence[Solid]) -> Solid:
        """Return what is left of it outside of the others."""
        import manifold3d

        if not others:
            return self
        left = manifold3d.Manifold.batch_boolean(
            [self._solid, *(each._solid for each in others)], manifold3d.OpType.Subtract
        )
        return self._checked(left)

    def joined(self, others: Sequence[Solid]) -> Solid:
        """Return it with the others."""
        import manifold3d

        return self._checked(
            manifold3d.Manifold.batch_boolean([self._solid, *(each._solid for each in others)], manifold3d.OpType.Add)
        )

    def simplified(self, tolerance_mm: float) -> Solid:
        """Return it with fewer triangles, moved by about a tolerance; slivers and tips far more (`simpler`)."""
        return self._checked(self._solid.simplify(tolerance_mm))

    def pieces(self) -> list[Solid]:
        """Return its separate pieces, the largest first."""
        found = sorted(self._solid.decompose(), key=lambda piece: -piece.volume())
        return [Solid(piece, self._name) for piece in found]

    @property
    def volume_mm3(self) -> float:
        """What it encloses."""
        return float(self._solid.volume())

    def mesh(self) -> TriMesh:
        """Return its surface."""
        made = self._solid.to_mesh64()
        return TriMesh(np.asarray(made.vert_properties)[:, :3], np.asarray(made.tri_verts).astype(np.int32))

    def _checked(self, made: manifold3d.Manifold) -> Solid:
        import manifold3d

        if made.status() != manifold3d.Error.NoError:
            raise SolidError(f"Cutting the {self._name} failed ({made.status().name}).")
        return Solid(made, self._name)


def triangulated(loops: Sequence[Float]) -> Int:
    """Return the triangles, (m, 3), that fill closed outlines, (n, 2) each, counter-clockwise and holes clockwise.

    They count the points of all outlines in their order.
    """
    import manifold3d

    if not loops:
        return np.zeros((0, 3), dtype=np.int32)
    return np.asarray(manifold3d.triangulate([np.ascontiguousarray(each) for each in loops])).astype(np.int32)
