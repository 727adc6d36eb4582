"""How well the pad fits: what the numbers of its evidence are and how they are found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Bool, Float, Int, TriMesh
from ...geometry.implicit import Field, Grid
from ...geometry.near_faces import nearest_beside
from ...geometry.samples import smoothed_values
from .pad_settings import PadSettings
from .pad_surface import BASE, BODY

_MOST_ASKED = 4000
"""So many places tell a 5th percentile to a third of a percent."""


class Scatter(TypedDict):
    """The pad's numbers of that name, see `pad.BuiltPad`."""

    base_noise_mm: float
    base_noise_left_mm: float
    body_change_mm: float


class Gaps(TypedDict):
    """The pad's numbers of that name, see `pad.BuiltPad`."""

    base_gap_mm: tuple[float, float, float] | None
    body_gap_mm: tuple[float, float, float] | None


def scan_scatter(
    base: TriMesh,
    impression: TriMesh | None,
    base_field: Field,
    body_field: Field,
    grid: Grid,
    width: float,
    inside: Field,
) -> Scatter:
    """Return how the scans scatter about the surfaces made of them, and how far the body side moved from its scan.

    Both scans are in the grid's frame. Fields, (nx, ny, nz) float32, mm, are the distances to both surfaces, and inside
    the outline; the width, mm, is the averaging kernel's.
    """
    # 1.4826 times the median absolute deviation estimates the standard deviation of normal noise.
    base_value, is_used = _residuals(base, base_field, grid, width, inside)
    noise = 1.4826 * float(np.median(np.abs(base_value[is_used]))) if is_used.any() else 0.0
    area = float(np.median(base.vertex_areas[is_used])) if is_used.any() else 0.0
    # A vertex pulls the mean after it by its own weight w, the kernel's peak times its area: off the mean it shows
    # 1 - 2 w + (what averaging leaves) of its variance.
    own = area / (2.0 * np.pi * width**2)
    noise /= float(np.sqrt(max(1.0 - 2.0 * own + 1.69 * 0.5 * own, 0.1)))
    # Averaging n = 4 pi width^2 / (area a vertex) independent values leaves 1/sqrt(n) (variance of a Gaussian mean);
    # the noise of the normals adds to it: 1.3 times that is what a noisy plane shows (measured over six seeds).
    left = 1.3 * noise * float(np.sqrt(area / (4.0 * np.pi * width**2)))
    change = 0.0
    if impression is not None:
        body_value, is_used = _residuals(impression, body_field, grid, width, inside)
        # Eight rounds of averaging take out the scan's noise and leave what the body side really changed.
        mean = smoothed_values(impression, body_value, rounds=8)[is_used]
        change = float(np.percentile(np.abs(mean), 95.0)) if len(mean) else 0.0
    return {"base_noise_mm": noise, "base_noise_left_mm": left, "body_change_mm": change}


def fit_gaps(
    mesh: TriMesh,
    side: NDArray[np.int8],
    settings: PadSettings,
    base: TriMesh,
    impression: TriMesh | None,
    borders: Sequence[Int],
    body_field: Field,
    grid: Grid,
    width: float,
    inside: Field,
) -> Gaps:
    """Return how far the pad's base side and body side lie off the scans' own triangles.

    The pad, with its vertices' sides, (n,), is in the grid's frame; borders are the open edges, (k, 2), of the base
    and, where there is one, of the impression; the rest is as for `scan_scatter`.
    """
    # Where edges are rounded the pad leaves its scans on purpose; the kernel rounds what is sharper than itself.
    deep = grid.sample(inside, mesh.vertices)
    is_base = (side == BASE) & ((deep > settings.base_edge_radius_mm + width) | (settings.envelope is not None))
    body_gap = None
    if impression is not None:
        # Where the pad was thickened, or a channel was cut, its body side is no longer the imprint.
        off = np.abs(grid.sample(body_field, mesh.vertices) + settings.cover_mm)
        is_body = (side == BODY) & (deep > settings.rim_radius_mm + width) & (off < 0.5 * grid.step)
        body_gap = surface_gap(mesh.vertices[is_body], impression, borders[1], -settings.cover_mm)
    return {"base_gap_mm": surface_gap(mesh.vertices[is_base], base, borders[0], 0.0), "body_gap_mm": body_gap}


def _residuals(mesh: TriMesh, distance: Field, grid: Grid, width: float, inside: Field) -> tuple[Float, Bool]:
    value = grid.sample(distance, mesh.vertices)
    is_used = (grid.sample(inside, mesh.vertices) > 3.0 * width) & (np.abs(value) < 3.0 * width)
    return np.where(is_used, value, 0.0), is_used


def surface_gap(points: Float, scan: TriMesh, border: Int, offset: float) -> tuple[float, float, float] | None:
    """Return how far points lie outside a scan's own triangles, less `offset`: 5th percentile, median, 95th, mm.

    Of the points, (q, 3) mm, some thousand are asked, evenly over their order. The scan may be open: a point whose
    nearest triangle has an open edge (`border`, (k, 2)) says nothing, for it may lie over a hole. Returns None where no
    point says anything.
    """
    points = points[:: max(1, len(points) // _MOST_ASKED)]
    if len(points) == 0:
        return None
    reach = 0.1 * float(np.linalg.norm(np.ptp(points, axis=0))) + 1.0
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    # A bit for each side of the box beyond which a vertex lies: a face with one in common lies beyond it.
    beyond = np.packbits(np.concatenate([scan.vertices < low, scan.vertices > high], axis=1), axis=1)[:, 0]
    is_near = np.bitwise_and.reduce([beyond[scan.faces[:, index]] for index in range(3)]) == 0
    if not is_near.any():
        return None
    part = scan if is_near.all() else TriMesh(scan.vertices, scan.faces[is_near])
    found = nearest_beside(part, points)
    is_open = np.zeros(len(scan.vertices), dtype=bool)
    is_open[border.ravel()] = True
    is_known = is_open[part.faces[found.face]].sum(axis=1) < 2
    normal = TriMesh(scan.vertices, part.faces[found.face]).face_normals
    outward = np.einsum("ij,ij->i", points - found.point, normal)
    gap = (np.sign(outward) * found.distance - offset)[is_known]
    if len(gap) == 0:
        return None
    low, middle, high = np.percentile(gap, (5.0, 50.0, 95.0))
    return float(low), float(middle), float(high)
