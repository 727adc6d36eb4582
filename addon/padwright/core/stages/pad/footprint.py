"""The pad's footprint: how far inside the outline of the part each grid point lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.errors import SolveError
from ...base.mesh import Bool, Float, Int, TriMesh
from ...base.together import both
from ...geometry.implicit import Field, Grid
from ...geometry.query import NearestSurface
from ...geometry.samples import smoothed_normals


@dataclass(frozen=True)
class Footprint:
    """Where the part may be."""

    # (nx, ny, nz), mm; distance inside the outline, negative outside; constant along the press direction, or along the
    # base's normals.
    inside: Field
    area_mm2: float  # across the press direction or on the base
    filled_mm2: float  # part of it where the clay is thinner than asked, but enclosed by clay that is thick enough
    note: str = ""  # what the person should know of where the footprint ends; "" for nothing


def largest_piece(is_solid: Bool, inner: Int | None = None) -> Bool:
    """Return the largest face-connected piece of a grid mask, (nx, ny, nz) or (nx, ny).

    With `inner`, (k, d) grid indices of which most lie in the wanted piece, it is the piece that holds the most of
    these. Raises SolveError when the mask is empty.
    """
    label, count = ndimage.label(is_solid)
    if count == 0:
        raise SolveError(
            "No clay was found between the two scans.",
            hint="Check the alignment, and that the impression scan shows the clay.",
        )
    size = np.bincount(label.ravel())
    if inner is not None and len(inner):
        held = np.bincount(label[tuple(inner.T)], minlength=len(size))
        size = held if held[1:].any() else size
    size[0] = 0
    return np.asarray(label == int(np.argmax(size)))


def column_thickness(raw: Field, step: float) -> Float:
    """Return the length of each grid column along the last axis where the field is negative, mm.

    Between two grid points the field is taken as linear, so a crossing is found to second order.
    """
    low, high = raw[..., :-1], raw[..., 1:]
    least = np.minimum(low, high)
    span = np.maximum(np.maximum(low, high) - least, np.float32(1e-9))
    return np.asarray(np.clip(-least / span, 0.0, 1.0).sum(axis=-1, dtype=np.float64) * step)


def press_footprint(raw: Field, grid: Grid, least_thickness: float) -> Footprint:
    """Return the footprint of a part pressed along the grid's -z: the clay where it is at least that thick.

    Thin places that thick clay encloses belong to the footprint (the pad is thickened there) unless they are bare over
    more than sixteen times the square of the least thickness: then somebody left an opening in the clay. Raises
    SolveError when the clay is nowhere thick enough.
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
    # Enclosed thin places count as just thick enough; everything apart from the largest piece as not at all.
    value = np.where(enclosed, np.maximum(thickness, 1.01 * least_thickness), thickness) - least_thickness
    is_part = outline | enclosed
    value = np.where(ndimage.binary_dilation(is_part), value, -least_thickness)
    band = ndimage.binary_dilation(is_part, iterations=2) & ~ndimage.binary_erosion(is_part, iterations=2)
    fine = _finer(value)
    _measure_finely(fine, raw, band & ~enclosed, least_thickness, step)
    inside = _distance_inside(fine, step)
    # Taken back by half the least thickness and out again, so that no tongue is left that could not be printed.
    inside = _distance_inside(inside - 0.5 * least_thickness, step) + 0.5 * least_thickness
    for axis in (0, 1):  # what is dropped need not be smoothed along the other axis
        inside = ndimage.gaussian_filter1d(inside, _FINER, axis=axis).take(range(0, inside.shape[axis], _FINER), axis)
    spread = np.broadcast_to(inside.astype(np.float32)[:, :, None], grid.shape)
    return Footprint(spread, float((inside > 0).sum() * step**2), float((enclosed & (inside > 0)).sum() * step**2))


_FINER = 4
"""Outlines are found on a grid this many times finer, so they are good to an eighth of a step."""


def _finer(value: Float) -> Float:
    """Return a plane field on the finer grid, bilinear."""
    fine = value
    for axis in (0, 1):
        at = np.arange((fine.shape[axis] - 1) * _FINER + 1) / _FINER
        low = np.minimum(at.astype(int), fine.shape[axis] - 2)
        share = (at - low).reshape((-1, 1) if axis == 0 else (1, -1))
        fine = fine.take(low, axis) * (1.0 - share) + fine.take(low + 1, axis) * share
    return fine


def _measure_finely(fine: Float, raw: Field, band: Bool, least_thickness: float, step: float) -> None:
    """Overwrite the finer field near the outline with the thickness of columns measured there.

    The clay may end in a wall, where bilinear values between a thick and an empty column say nothing of its place.
    """
    near = np.zeros(fine.shape, dtype=bool)
    rows, columns = np.nonzero(band)
    for i in range(_FINER):
        for j in range(_FINER):
            at = np.minimum(rows * _FINER + i, fine.shape[0] - 1), np.minimum(columns * _FINER + j, fine.shape[1] - 1)
            near[at] = True
    row, column = np.nonzero(near)
    for part in np.array_split(np.arange(len(row)), max(1, len(row) * raw.shape[2] // 4_000_000)):
        value = _columns_at(raw, row[part] / _FINER, column[part] / _FINER)
        fine[row[part], column[part]] = column_thickness(value, step) - least_thickness


def _columns_at(raw: Field, x: Float, y: Float) -> Field:
    """Return the field's columns at places (k,), (k,) in grid steps, (k, nz), bilinear."""
    columns = np.ascontiguousarray(raw).reshape(-1, raw.shape[2])
    low_x, low_y = (np.minimum(at.astype(np.int64), count - 2) for at, count in zip((x, y), raw.shape, strict=False))
    over_x, over_y = ((at - low).astype(np.float32)[:, None] for at, low in ((x, low_x), (y, low_y)))
    first = low_x * raw.shape[1] + low_y
    near, far = (
        columns.take(start, axis=0) * (1 - over_y) + columns.take(start + 1, axis=0) * over_y
        for start in (first, first + raw.shape[1])
    )
    return np.asarray(near * (1 - over_x) + far * over_x, dtype=np.float32)


def _distance_inside(value: Float, step: float) -> Float:
    """Return the distance inside the line where a finer plane field turns positive; negative outside, mm."""
    mask = np.pad(value > 0.0, 1)
    one, other = both(lambda: ndimage.distance_transform_edt(mask), lambda: ndimage.distance_transform_edt(~mask))
    inner = one - other
    # The line runs half way between the last point inside and the first outside.
    inner -= 0.5 * np.sign(inner)
    return np.asarray(inner[1:-1, 1:-1] * (step / _FINER))


def wrap_footprint(raw: Field, grid: Grid, base: TriMesh, fit_gap: float, least_thickness: float) -> Footprint:
    """Return the footprint of a wrap-around part: where the clay is thick enough along the base's outward normals.

    The field, (nx, ny, nz) float32, mm, is negative inside the clay less the gap; the base is in the grid's frame.
    Raises SolveError when the clay is nowhere thick enough.
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
    outside = np.float32(-4.0 * grid.step)
    field = np.zeros(int(np.prod(grid.shape)), dtype=np.float32)
    known = np.zeros_like(field)
    field[is_wanted] = (inside[corner] * weight).sum(axis=1)
    known[is_wanted] = 1.0
    # Smoothed over what is known only, so that the unknown far outside does not draw the outline in.
    spread = ndimage.gaussian_filter(known.reshape(grid.shape), 1.0)
    smooth = ndimage.gaussian_filter(field.reshape(grid.shape), 1.0)
    is_near = spread > 1e-3
    return Footprint(np.where(is_near, smooth / np.where(is_near, spread, 1), outside).astype(np.float32), area, 0.0)


def leaving_distance(field: Field, grid: Grid, start: Float, direction: Float) -> Float:
    """Return how far each point can go along its direction before the field turns positive, (n,), mm.

    The field, (nx, ny, nz) float32, mm, is a signed distance, negative inside; start points, (n, 3) mm, lie at or just
    inside the surface, directions, (n, 3), are unit vectors. Steps are of one grid step, the first of them half, the
    last one interpolated; a part thinner than half a grid step along the way counts as 0.
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
