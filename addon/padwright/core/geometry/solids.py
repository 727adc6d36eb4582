"""The only door to manifold3d: closed solids out, their status checked at the border."""

from __future__ import annotations

import numpy as np

from ..base.errors import SolidError
from ..base.mesh import Float, TriMesh


def extruded(outline: Float, height_mm: float, name: str = "block") -> TriMesh:
    """Return the solid over an outline, (n, 2) mm, in the plane z = 0 up to a height, closed.

    The outline runs counter-clockwise and does not cross itself.

    Raises SolidError when the outline encloses nothing.
    """
    import manifold3d

    section = manifold3d.CrossSection([np.ascontiguousarray(outline, dtype=np.float64)])
    solid = section.extrude(height_mm)
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        raise SolidError(f"The outline of the {name} encloses nothing ({solid.status().name}).")
    mesh = solid.to_mesh64()
    return TriMesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int32))
