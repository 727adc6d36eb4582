"""How large a region is across and along the press: what its contours and its stiffness depend on."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ...base.errors import SolidError
from ...base.mesh import Float, TriMesh
from ...geometry.through import BASE_SIDE, BODY_SIDE, PadShape
from .fill import RegionGeometry

_STEEP = 0.5
"""Faces within 30 degrees of the press direction count as walls that run through the thickness: their contours carry.
Where body and base side slope, contours end after a few layers and carry with the closed layers. Our own choice."""

_FOLLOWS = 0.7
"""A face belongs to the side of the pad it lies on when their normals agree to 45 degrees; else it is a wall."""


def region_size(mesh: TriMesh, press_direction: Float | None, pad: PadShape | None = None) -> RegionGeometry:
    """Return mean thickness, area and perimeter of a region as the body presses it.

    The region is closed, mm. A wrap-around part has no press direction, (3,): it is pressed along its own normals, and
    the whole pad is needed. Raises SolidError when the region has no area to press on.

    Notes
    -----
    Area: half the surface projected along the press, each face by its own size (divergence theorem: exact for a region
    without undercuts). Thickness: volume over area. Perimeter: area of the walls that run along the press over the
    thickness. Wrap-around: area is the mean of body and base side, walls are all other faces.
    """
    if press_direction is None:
        if pad is None:
            raise SolidError("A wrap-around region's size needs its pad.")
        area, walls = _wrapped(mesh, pad)
    else:
        press = np.asarray(press_direction, dtype=np.float64) / np.linalg.norm(press_direction)
        along = np.abs(mesh.face_normals @ press)
        area = 0.5 * float(mesh.face_areas @ along)
        is_wall = along < _STEEP
        walls = float(mesh.face_areas[is_wall] @ np.sqrt(1.0 - along[is_wall] ** 2))
    if area <= 0.0 or mesh.volume <= 0.0:
        raise SolidError(f"A region of {mesh.volume:.1f} mm3 shows {area:.1f} mm2 to the press; it has no thickness.")
    thickness = mesh.volume / area
    return RegionGeometry(thickness, area, walls / thickness)


def _wrapped(mesh: TriMesh, pad: PadShape) -> tuple[float, float]:
    _, nearest = cKDTree(pad.mesh.vertices).query(mesh.triangles.mean(axis=1))
    side = np.asarray(pad.side)[nearest]
    follows = np.einsum("ij,ij->i", mesh.face_normals, pad.mesh.vertex_normals[nearest]) > _FOLLOWS
    is_side = follows & ((side == BODY_SIDE) | (side == BASE_SIDE))
    # Walls are summed of themselves: as the whole less the sides they could come out below nothing.
    return 0.5 * float(mesh.face_areas[is_side].sum()), float(mesh.face_areas[~is_side].sum())
