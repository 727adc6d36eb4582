"""A closed mesh cut by a plane: what lies behind it, and the outline of the cut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..base.cached import cached_property
from ..base.mesh import Float, TriMesh


@dataclass(frozen=True, eq=False)
class CrossSection:
    """A mesh cut open: the half behind the plane, not closed, and the outline along which it was cut."""

    behind: TriMesh
    # (k, 2, 3), mm; one piece a triangle, from start to end with the solid on the left as seen from before the plane.
    # Ends that meet are the same number to the last bit, so the outlines of a closed mesh are closed.
    outline: Float

    @cached_property
    def area(self) -> float:
        """Of the cut face, mm2 (the outline's moments, Stokes)."""
        if not len(self.outline):
            return 0.0
        start, end = self.outline[:, 0] - self.outline[0, 0], self.outline[:, 1] - self.outline[0, 0]
        return float(0.5 * np.linalg.norm(np.cross(start, end).sum(axis=0)))


def cross_section(mesh: TriMesh, point: Float, normal: Float) -> CrossSection:
    """Return the mesh cut by the plane through a point, (3,), across a normal, (3,): what lies against it is kept.

    Notes
    -----
    A corner on the plane counts as behind it, so each triangle is crossed at two edges or not at all. Where an edge is
    crossed is worked out from its corners in the order of their numbers, alike for both triangles beside it.
    """
    normal = np.asarray(normal, dtype=np.float64) / np.linalg.norm(normal)
    height = (mesh.vertices - point) @ normal
    is_before = height > 0.0
    count = sum(is_before[corner].astype(np.int8) for corner in mesh.faces.T)
    whole = mesh.faces[count == 0]
    crossed = mesh.faces[(count == 1) | (count == 2)]
    # Turn each so that the corner that is alone on its side comes first.
    is_alone = is_before[crossed] == (is_before[crossed].sum(axis=1) == 1)[:, None]
    turn = (is_alone.argmax(axis=1)[:, None] + np.arange(3)) % 3
    crossed = np.take_along_axis(crossed, turn, axis=1).astype(np.int64)
    edges = np.concatenate([crossed[:, [0, 1]], crossed[:, [0, 2]]])
    low, high = edges.min(axis=1), edges.max(axis=1)
    key, place = np.unique(low * len(mesh.vertices) + high, return_inverse=True)
    low, high = np.divmod(key, len(mesh.vertices))
    share = (height[low] / (height[low] - height[high]))[:, None]
    new = mesh.vertices[low] + share * (mesh.vertices[high] - mesh.vertices[low])
    first, second = place.reshape(2, -1) + len(mesh.vertices)
    is_corner_cut_off = is_before[crossed[:, 0]]
    left, right = first[is_corner_cut_off], second[is_corner_cut_off]
    rest = crossed[is_corner_cut_off]
    tip = ~is_corner_cut_off
    faces = np.concatenate(
        [
            whole,
            np.stack([crossed[tip, 0], first[tip], second[tip]], axis=1),
            np.stack([left, rest[:, 1], rest[:, 2]], axis=1),
            np.stack([left, rest[:, 2], right], axis=1),
        ]
    )
    # Behind the plane a face runs along the cut one way; the cut face, seen from before, runs the other way.
    start = np.concatenate([second[tip], left])
    end = np.concatenate([first[tip], right])
    vertices = np.concatenate([mesh.vertices, new])
    used = TriMesh(vertices, faces.astype(np.int32))
    return CrossSection(used.submesh(np.ones(len(faces), dtype=bool)), vertices[np.stack([start, end], axis=1)])
