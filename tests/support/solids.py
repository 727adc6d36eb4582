"""Meshes as solids of manifold3d, for checks against its own cuts and volumes."""

from __future__ import annotations

import manifold3d
import numpy as np

from padwright.core.base.mesh import TriMesh


def to_manifold(mesh: TriMesh, name: str = "solid") -> manifold3d.Manifold:
    """Return the mesh as a solid of manifold3d; fail where it is open, badly turned, empty or inside out."""
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(vert_properties=np.array(mesh.vertices), tri_verts=mesh.faces.astype(np.uint64))
    )
    assert solid.status() == manifold3d.Error.NoError, f"{name}: {solid.status().name}"
    assert solid.volume() > 0, f"{name} is empty or inside out"
    return solid
