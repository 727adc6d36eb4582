"""The only door to manifold3d: closed solids in, closed solids out, each status checked at the border."""

from __future__ import annotations

import numpy as np

from ..base.errors import SolidError
from ..base.mesh import Float, TriMesh
from ..base.text import counted


def to_manifold(mesh: TriMesh, name: str = "solid"):  # type: ignore[no-untyped-def]  # manifold3d ships no types
    """Return the mesh as a manifold3d solid.

    Raises
    ------
    SolidError
        When the mesh is open, badly turned, empty or inside out; `name` tells the person which one.
    """
    import manifold3d

    solid = manifold3d.Manifold(
        manifold3d.Mesh64(vert_properties=np.array(mesh.vertices), tri_verts=mesh.faces.astype(np.uint64))
    )
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        reason = (
            "is empty" if len(mesh.faces) == 0 else f"is not closed ({counted(len(mesh.boundary_edges), 'open edge')})"
        )
        raise SolidError(f"The {name} {reason}.", hint="Close its holes first.")
    if solid.volume() < 0:
        raise SolidError(f"The {name} is inside out.", hint="Turn its faces over.")
    return solid


def from_manifold(solid, name: str = "solid") -> TriMesh:  # type: ignore[no-untyped-def]
    """Return a manifold3d solid as a mesh.

    Raises
    ------
    SolidError
        When an operation failed or left nothing.
    """
    import manifold3d

    if solid.status() != manifold3d.Error.NoError:
        raise SolidError(f"The {name} could not be made ({solid.status().name}).")
    if solid.is_empty():
        raise SolidError(f"The {name} is empty.")
    mesh = solid.to_mesh64()
    return TriMesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int32))


def extruded(outline: Float, height_mm: float, name: str = "block") -> TriMesh:
    """Return the solid over an outline in the plane z = 0 up to a height, closed, mm.

    Parameters
    ----------
    outline : (n, 2) float, mm
        Counter-clockwise, not crossing itself.
    height_mm : float
    name : str
        For messages.

    Raises
    ------
    SolidError
        When the outline encloses nothing.
    """
    import manifold3d

    section = manifold3d.CrossSection([np.ascontiguousarray(outline, dtype=np.float64)])
    return from_manifold(section.extrude(height_mm), name)
