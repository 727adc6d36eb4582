"""How thick the clay is at every point of the impression."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from ...base.cached import cached_property
from ...base.mesh import Bool, Float, TriMesh
from ...base.rows import lengths
from ...base.together import both
from ...geometry.feet import Feet, FootSurface
from ...geometry.smoothing import SurfaceSmoother
from .clay_columns import drop_onto

NOISE_SLACK_MM = 3.0
"""How far behind the base a scanned point may lie and still belong to it: ten times a hand-held scanner's noise of
0.3 mm (common practice, no source)."""


@dataclass(frozen=True)
class ClayThickness:
    """The clay under every vertex of the impression."""

    thickness: Float  # (n,), mm; along `inward`; negative where the scan dips below the base
    distance: Float  # (n,), mm; to the nearest point of the base, signed: positive outside
    inward: Float  # (n, 3); the direction in which the body loads each vertex
    # (n,); where the base was scanned under the vertex; elsewhere it is carried on straight from its nearest point.
    is_over_base: Bool


class BaseSurface:
    """The base, ready to answer where an impression's vertices lie above it.

    Normals are smoothed over `normal_width` mm, so that scan noise does not tilt them, and points over `settle_width`
    mm, for distances in any direction; 0 for none: then places far off the base take their nearest corner.

    Notes
    -----
    The nearest point of a noisy surface is nearer than the surface. On a generated grip with 0.3 mm noise smoothing its
    points took the mean error of the thickness from -0.40 mm to +0.02 mm.
    """

    def __init__(self, base: TriMesh, normal_width: float, settle_width: float = 0.0) -> None:
        self._smoother, self._normal_width = SurfaceSmoother(base), normal_width
        if settle_width > 0:
            # The nearest point of a noisy surface is nearer than the surface: the crests come first.
            middle = base.bounds.mean(axis=0)
            settled = self._smoother.smooth_keeping_peaks(base.vertices - middle, settle_width)
            self.mesh = replace(base, vertices=middle + settled)
            self._surface = FootSurface(self.mesh, is_exact=True)
        else:
            self.mesh, self._surface = base, FootSurface.of(base)

    @cached_property
    def _normals(self) -> Float:
        normals = self._smoother.smooth(self.mesh.vertex_normals, self._normal_width, tolerance=0.01)
        return _unit(normals)

    def foot(self, points: Float) -> tuple[Float, Float, Float]:
        """Return signed distance, smoothed outward normal and nearest point of the base, for points (q, 3)."""
        return self._foot(np.asarray(points, dtype=np.float64), self._surface.find(points))

    def _foot(self, points: Float, feet: Feet) -> tuple[Float, Float, Float]:
        normal = _unit(sum(self._normals.take(feet.corners[:, index], axis=0) for index in range(3)))
        along = np.einsum("ij,ij->i", points - feet.place, normal)
        return np.where(along < 0, -feet.distance, feet.distance), normal, feet.place

    def under(self, impression: TriMesh) -> tuple[Float, Float, Bool]:
        """Return of its vertices signed distance, smoothed normal and whether the foot lies within the scanned base."""
        feet, _ = both(lambda: self._surface.under(impression), lambda: self._normals)
        distance, normal, point = self._foot(impression.vertices, feet)
        edge = self.mesh.boundary_edges
        if len(edge) == 0:
            return distance, normal, np.ones(len(distance), dtype=bool)
        # A foot on the border whose offset leans away from the normal means: the base was not scanned there.
        reach = float(np.median(np.linalg.norm(np.diff(self.mesh.vertices[edge], axis=1), axis=2)))
        gap, _ = cKDTree(self.mesh.vertices[np.unique(edge)]).query(point, distance_upper_bound=reach)
        offset = impression.vertices - point
        along = np.einsum("ij,ij->i", offset, normal)
        sideways = lengths(offset - along[:, None] * normal)
        return distance, normal, ~(np.isfinite(gap) & (sideways > np.maximum(0.2 * np.abs(along), 1.0)))


def clay_thickness(
    surface: BaseSurface,
    impression: TriMesh,
    foot: tuple[Float, Float, Bool],
    is_clay: Bool,
    direction: Float | None,
) -> ClayThickness:
    """Return the clay thickness along one press direction, or along the base's smoothed inward normal.

    The direction is a unit vector, (3,). The impression is in the frame of the base, mm; `foot` is what `surface.under`
    said of its vertices; columns are dropped where there is clay, (n,). Without a direction, as for wrap-around parts,
    the thickness is the distance to the nearest point of the base, which lies along the base's normal there wherever
    the base is smooth.
    """
    distance, normal, has_foot = foot
    if direction is None:
        return ClayThickness(distance, distance, -normal, has_foot)
    # Where there is no clay, past the base's edge and over a hole in its scan: to the tangent plane at the foot.
    thickness = distance / np.maximum(normal @ -direction, 0.3)
    index = np.flatnonzero(is_clay)
    height, is_found = drop_onto(surface.mesh, impression.vertices[index], direction, NOISE_SLACK_MM)
    thickness[index[is_found]] = height[is_found]
    is_over_base = has_foot.copy()
    is_over_base[index] = is_found
    inward = np.tile(direction, (len(thickness), 1))
    return ClayThickness(thickness, distance, inward, is_over_base)


def _unit(vectors: Float) -> Float:
    return vectors / np.maximum(lengths(vectors), 1e-12)[:, None]
