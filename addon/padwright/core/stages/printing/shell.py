"""How much of a region is shell (contours, closed layers) and how much is left for the fill."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float, TriMesh


@dataclass(frozen=True)
class ShellAndCore:
    """Volumes of a region, mm3: contours, closed layers, and the core inside them; they add up to the region's."""

    contours_mm3: float
    skins_mm3: float
    core_mm3: float

    @property
    def shell_mm3(self) -> float:
        """Contours and closed layers."""
        return self.contours_mm3 + self.skins_mm3


def shell_and_core(mesh: TriMesh, up: Float, contours_mm: float, skins_mm: float) -> ShellAndCore:
    """Split a region's volume into shell and core.

    A face counts as wall where the contours along it take more room than closed layers would, c sin a > s/2 cos a. The
    region counts as a prism of its mean thickness h = volume / area seen along `up`. Its outline of area A and
    length P, moved inward by c, encloses A - P c + c^2 sum g(phi) over the outline's corners, g = tan(phi/2) where it
    turns outward by phi and phi/2 where it turns inward (Steiner's formula for a polygon's inner parallel set). Exact
    for an upright prism as long as no part of it is narrower than 2 c; where it is, the core is under-counted at
    most by that part.

    Parameters
    ----------
    mesh : TriMesh
        Closed region, mm.
    up : (3,) float
        Unit vector across the layers.
    contours_mm : float
        How far the contours reach inward.
    skins_mm : float
        Closed layers of both sides together.
    """
    along = mesh.face_normals @ up
    area = 0.5 * float(mesh.face_areas @ np.abs(along))
    volume = mesh.volume
    if area <= 0.0:
        return ShellAndCore(volume, 0.0, 0.0)
    height = volume / area
    slope = np.sqrt(np.maximum(1.0 - along**2, 0.0))
    is_wall = contours_mm * slope > 0.5 * skins_mm * np.abs(along) + 1e-9
    walls = float(mesh.face_areas[is_wall] @ slope[is_wall])
    inner = area - contours_mm * walls / height + contours_mm**2 * _corners(mesh, up, is_wall) / height
    inner = float(np.clip(inner, 0.0, area))
    core = inner * max(height - skins_mm, 0.0)
    # Contours run through all layers, also the closed ones; only what is inside them is skin.
    contours = (area - inner) * height
    return ShellAndCore(contours, volume - contours - core, core)


def _corners(mesh: TriMesh, up: Float, is_wall: np.ndarray) -> float:
    """Return the sum over edges between two walls of their rise times g(phi), mm."""
    edge = mesh.edges.astype(np.int64)
    face = np.tile(np.arange(len(mesh.faces)), 3)
    count = len(mesh.vertices)
    forward, backward = edge[:, 0] * count + edge[:, 1], edge[:, 1] * count + edge[:, 0]
    order = np.argsort(backward)
    position = np.minimum(np.searchsorted(backward[order], forward), len(order) - 1)
    partner = order[position]
    is_used = (edge[:, 0] < edge[:, 1]) & (backward[partner] == forward) & is_wall[face] & is_wall[face[partner]]
    one, two = face[is_used], face[partner[is_used]]
    way = mesh.vertices[edge[is_used, 1]] - mesh.vertices[edge[is_used, 0]]
    first, second = mesh.face_normals[one], mesh.face_normals[two]
    # Seen along `up`: the walls' normals laid flat, the turn from the first to the second about the edge's own rise.
    first = first - np.outer(first @ up, up)
    second = second - np.outer(second @ up, up)
    rise = way @ up
    turn = np.arctan2(np.cross(first, second) @ up, np.einsum("ij,ij->i", first, second)) * np.sign(rise)
    share = np.where(turn > 0.0, np.tan(0.5 * np.clip(turn, 0.0, 3.0)), 0.5 * turn)
    return float(np.abs(rise) @ share)
