"""The pad's footprint: how far inside the outline of the part each grid point lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ..errors import SolveError
from ..geometry.implicit import Field, Grid, smoothed_normals
from ..geometry.query import NearestSurface
from ..mesh import Bool, Float, TriMesh


@dataclass(frozen=True)
class Footprint:
    """Where the part may be.

    Attributes
    ----------
    inside : (nx, ny, nz) float32, mm
        Distance inside the outline, negative outside; constant along the press direction, or along the base's normals.
    area_mm2 : float
        Area of the footprint, across the press direction or on the base.
    filled_mm2 : float
        Part of it where the clay is thinner than asked, but enclosed by clay that is thick enough.
    """

    inside: Field
    area_mm2: float
    filled_mm2: float


def largest_piece(is_solid: Bool) -> Bool:
    """Return the largest face-connected piece of a grid mask.

    Raises
    ------
    SolveError
        When the mask is empty.
    """
    label, count = ndimage.label(is_solid)
    if count == 0:
        raise SolveError(
            "No clay was found between the two scans.",
            hint="Check the alignment, and that the impression scan shows the clay.",
        )
    size = np.bincount(label.ravel())
    size[0] = 0
    return np.asarray(label == int(np.argmax(size)))


def column_thickness(raw: Field, step: float) -> Float:
    """Return the clay's thickness over each grid column along z, (nx, ny), mm.

    Each point counts with its share below the surface, clip(1/2 - raw/step, 0, 1), so the sum is exact to second
    order where the field is a distance.
    """
    return np.asarray(np.clip(0.5 - raw / step, 0.0, 1.0).sum(axis=2, dtype=np.float64) * step)


def press_footprint(raw: Field, grid: Grid, least_thickness: float) -> Footprint:
    """Return the footprint of a part pressed along the grid's -z: the clay where it is at least that thick.

    Thin places that thick clay encloses belong to the footprint (the pad is thickened there) unless they are bare
    over more than sixteen times the square of the least thickness: then somebody left an opening in the clay.

    Raises
    ------
    SolveError
        When the clay is nowhere thick enough.
    """
    step = grid.step
    thickness = column_thickness(raw, step)
    is_thick = thickness >= least_thickness
    if not is_thick.any():
        raise SolveError(
            f"The clay is nowhere {least_thickness:g} mm thick; the most is {thickness.max():.1f} mm.",
            hint="Lower the least thickness, or check alignment and units.",
        )
    outline = largest_piece(is_thick)
    enclosed = ndimage.binary_fill_holes(outline) & ~outline
    label, count = ndimage.label(enclosed)
    if count:
        index = np.arange(1, count + 1)
        bare = ndimage.sum_labels(thickness < 0.25 * least_thickness, label, index) * step**2
        is_opening = np.concatenate([[True], bare > 16.0 * least_thickness**2])
        enclosed = ~is_opening[label]
    filled = outline | enclosed
    # An outline opened and closed by the least thickness has no tongues or bays that could not be printed or cleaned.
    inside = _distance_inside(filled, step)
    inside = _distance_inside(inside > 0.5 * least_thickness, step) + 0.5 * least_thickness
    inside = ndimage.gaussian_filter(inside, 1.5)
    spread = np.broadcast_to(inside.astype(np.float32)[:, :, None], grid.shape)
    return Footprint(spread, float((inside > 0).sum() * step**2), float((enclosed & (inside > 0)).sum() * step**2))


def _distance_inside(mask: Bool, step: float) -> Float:
    padded = np.pad(mask, 1)
    inner = ndimage.distance_transform_edt(padded) - ndimage.distance_transform_edt(~padded)
    inner -= 0.5 * np.sign(inner)
    return np.asarray(inner[1:-1, 1:-1] * step)


def wrap_footprint(raw: Field, grid: Grid, base: TriMesh, fit_gap: float, least_thickness: float) -> Footprint:
    """Return the footprint of a wrap-around part: where the clay is thick enough along the base's outward normals.

    Parameters
    ----------
    raw : (nx, ny, nz) float32, mm
        Negative inside the clay less the gap.
    base : TriMesh
        In the grid's frame.

    Raises
    ------
    SolveError
        When the clay is nowhere thick enough.
    """
    near = (base.vertices > grid.origin).all(axis=1) & (
        base.vertices < grid.origin + grid.step * (np.array(grid.shape) - 1)
    ).all(axis=1)
    patch = base.submesh(near[base.faces].all(axis=1))
    lift = smoothed_normals(patch, rounds=8)
    thickness = leaving_distance(raw, grid, patch.vertices + fit_gap * lift, lift)
    is_thick = thickness >= least_thickness
    if not is_thick.any():
        raise SolveError(
            f"The clay is nowhere {least_thickness:g} mm thick; the most is {thickness.max(initial=0.0):.1f} mm.",
            hint="Lower the least thickness, or check alignment and units.",
        )
    edge = np.unique(np.sort(patch.edges, axis=1), axis=0)
    crossing = edge[is_thick[edge[:, 0]] != is_thick[edge[:, 1]]]
    area = float(patch.vertex_areas[is_thick].sum())
    if len(crossing) == 0:
        return Footprint(np.full(grid.shape, np.float32(grid.step * 1e3)), area, 0.0)
    first, second = thickness[crossing[:, 0]], thickness[crossing[:, 1]]
    share = ((least_thickness - first) / (second - first))[:, None]
    border = patch.vertices[crossing[:, 0]] * (1 - share) + patch.vertices[crossing[:, 1]] * share
    distance = cKDTree(border).query(patch.vertices)[0]
    inside = np.where(is_thick, distance, -distance)
    is_wanted = np.flatnonzero(raw < 2.0 * grid.step)
    found = NearestSurface(patch).find(grid.points(is_wanted))
    corner = patch.faces[found.face]
    weight = barycentric(patch.vertices[corner], found.point)
    field = np.full(int(np.prod(grid.shape)), np.float32(-grid.step * 4))
    field[is_wanted] = (inside[corner] * weight).sum(axis=1)
    smooth = ndimage.gaussian_filter(field.reshape(grid.shape), 1.0)
    return Footprint(smooth, area, 0.0)


def leaving_distance(field: Field, grid: Grid, start: Float, direction: Float) -> Float:
    """Return how far each point can go along its direction before the field turns positive, (n,), mm.

    Parameters
    ----------
    field : (nx, ny, nz) float32, mm
        Signed distance, negative inside.
    start, direction : (n, 3) float
        Start points (at or just inside the surface) and unit directions.

    Notes
    -----
    Steps of one grid step, the first of them half, the last one interpolated. A part thinner than half a grid step
    along the way counts as 0.
    """
    step = grid.step
    length = np.zeros(len(start))
    value = np.full(len(start), -1e-3)
    active = np.arange(len(start))
    farthest = float(np.linalg.norm(np.array(grid.shape) * grid.step))
    for k in range(1, int(farthest / step) + 1):
        new = grid.sample(field, start[active] + ((k - 0.5) * step) * direction[active])
        out = new > 0.0
        leaving = active[out]
        # Linear interpolation between the last value inside and the first outside.
        share = value[leaving] / (value[leaving] - new[out])
        length[leaving] = step * (k - 1.5 + share) if k > 1 else 0.5 * step * share
        active = active[~out]
        value[active] = new[~out]
        if len(active) == 0:
            break
    length[active] = farthest
    return length


def barycentric(corner: Float, point: Float) -> Float:
    """Return the barycentric weights of points in triangles: corner (n, 3, 3), point (n, 3), weights (n, 3)."""
    u, v, w = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0], point - corner[:, 0]
    uu, uv, vv = (u * u).sum(1), (u * v).sum(1), (v * v).sum(1)
    wu, wv = (w * u).sum(1), (w * v).sum(1)
    bottom = np.maximum(uu * vv - uv * uv, 1e-30)
    second, third = (vv * wu - uv * wv) / bottom, (uu * wv - uv * wu) / bottom
    return np.clip(np.stack([1.0 - second - third, second, third], axis=1), 0.0, 1.0)
