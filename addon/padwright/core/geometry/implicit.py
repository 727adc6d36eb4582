"""Surfaces as signed-distance values on a regular grid, made from scans that may be open and noisy."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from ..base.cached import cached_property
from ..base.errors import InputError
from ..base.mesh import Float, TriMesh
from .query import NearestSurface, winding_numbers
from .samples import Samples, surface_samples

Field = NDArray[np.float32]

_REACH = 3.0
"""Gaussian kernels are cut at this many widths; what is left out is exp(-4.5) = 1 % of the peak."""

_FAR_POINTS = 20_000
"""Far from a scan its points are needed a few mm apart only, so no more than this many are searched."""

_PIECE = 65_536
"""Grid points filtered at a time: what is read and written of them stays in a core's own cache."""

_COARSE = 4
"""The far field needs only a sign and a rough distance, so it is computed on every fourth grid point."""


@dataclass(frozen=True)
class Grid:
    """Axis-parallel grid points."""

    origin: Float  # (3,), mm
    step: float  # mm
    shape: tuple[int, int, int]

    @classmethod
    def around(cls, low: Float, high: Float, step: float, most_points: int = 40_000_000) -> Grid:
        """Return the grid that covers the box from `low` to `high`, (3,) each, mm.

        Raises InputError when the box would need more than `most_points` grid points.
        """
        shape = np.ceil((np.asarray(high, dtype=np.float64) - low) / step) + 1.0  # whole numbers would overflow
        if not shape.prod() <= most_points:
            raise InputError(
                f"A grid of {step:g} mm over {shape[0]:.3g} x {shape[1]:.3g} x {shape[2]:.3g} points is too fine for "
                "this part.",
                hint="Choose a coarser resolution, and look for a part of the scan or envelope that lies far away.",
            )
        return cls(np.asarray(low, dtype=np.float64), float(step), (int(shape[0]), int(shape[1]), int(shape[2])))

    @property
    def bounds(self) -> tuple[Float, Float]:
        """Least and greatest corner, (3,) each, mm."""
        return self.origin, self.origin + self.step * (np.array(self.shape) - 1)

    @cached_property
    def axes(self) -> tuple[Field, Field, Field]:
        """Offsets from the origin along each axis, shaped to broadcast over the grid, mm."""
        x, y, z = (np.arange(count, dtype=np.float32) * np.float32(self.step) for count in self.shape)
        return x[:, None, None], y[None, :, None], z[None, None, :]

    def to_index(self, points: Float) -> Float:
        """Return fractional grid indices of `points` (n, 3), shape (3, n)."""
        return ((points - self.origin) / self.step).T

    def sample(self, field: Field, points: Float) -> Float:
        """Return the field at `points` (n, 3), trilinear, (n,); outside the grid the edge value."""
        index = self.to_index(points)
        return ndimage.map_coordinates(field, index, output=np.float64, order=1, mode="nearest")

    def sample_with_gradient(self, field: Field, points: Float) -> tuple[Float, Float]:
        """Return the trilinear value (n,) and its exact gradient (n, 3), per mm, at `points` inside the grid."""
        place = self.to_index(points)
        low = np.clip(np.floor(place).astype(np.int64), 0, np.array(self.shape)[:, None] - 2)
        x, y, z = place - low
        flat = field.reshape(-1)
        stride = (self.shape[1] * self.shape[2], self.shape[2], 1)
        start = low[0] * stride[0] + low[1] * stride[1] + low[2]
        # Between the two ends along z, y and x one after the other; with each value the slopes so far.
        level, slopes = [], []
        for shift in (0, stride[1], stride[0], stride[0] + stride[1]):
            one = flat[start + shift].astype(np.float64)
            slope = flat[start + (shift + 1)] - one
            level.append(one + z * slope)
            slopes.append(slope)
        along_y = [level[1] - level[0], level[3] - level[2]]
        level = [level[0] + y * along_y[0], level[2] + y * along_y[1]]
        slopes = [slopes[0] + y * (slopes[1] - slopes[0]), slopes[2] + y * (slopes[3] - slopes[2])]
        along_x = level[1] - level[0]
        ways = (along_x, along_y[0] + x * (along_y[1] - along_y[0]), slopes[0] + x * (slopes[1] - slopes[0]))
        return level[0] + x * along_x, np.stack(ways, axis=1) / self.step

    def points(self, index: NDArray[np.int64]) -> Float:
        """Return the positions of flat grid indices (k,), shape (k, 3), mm."""
        return np.stack(np.unravel_index(index, self.shape), axis=1) * self.step + self.origin

    def coarse(self) -> Grid:
        """Return the grid of every fourth point, one point longer so that it covers this one."""
        return Grid(self.origin, self.step * _COARSE, tuple(int(np.ceil((n - 1) / _COARSE)) + 1 for n in self.shape))  # type: ignore[arg-type]

    def refine(self, coarse_field: Float | Field) -> Field:
        """Return a field of `coarse()` interpolated (trilinear) to this grid."""
        fine = coarse_field.astype(np.float32)
        for axis, count in enumerate(self.shape):
            at = np.arange(count) / _COARSE
            low = np.minimum(at.astype(int), fine.shape[axis] - 2) if fine.shape[axis] > 1 else np.zeros(count, int)
            share = (at - low).astype(np.float32).reshape([-1 if a == axis else 1 for a in range(3)])
            high = np.minimum(low + 1, fine.shape[axis] - 1)
            fine = fine.take(low, axis) * (1 - share) + fine.take(high, axis) * share
        return fine


def scan_field(mesh: TriMesh, grid: Grid, width: float) -> Field:
    """Return the signed distance to a cleaned, noisy, perhaps open scan, (nx, ny, nz) float32 mm, negative behind it.

    Parameters
    ----------
    width : float, mm
        Standard deviation of the averaging kernel; noise is averaged over about 4 pi width^2 of surface.

    Notes
    -----
    Implicit moving least squares with planes (Shen, O'Brien & Shewchuk 2004, doi 10.1145/1015706.1015816; Kolluri
    2005): f(x) = sum w n.(x - p) / sum w, w a Gaussian, n the vertex normal. On a surface of curvature k this errs
    by +k width^2 / 2; with the mean normal in place of n it errs by the same amount the other way, so the mean of the
    two is used and the error cancels to second order. The sums are Gaussian filters of splatted moments, so the cost
    does not grow with the width. Where the kernel finds nothing (over a hole), one three times as wide takes over, and
    beyond its reach the mean plane of the eight nearest of its points.
    """
    low, high = grid.bounds
    samples = surface_samples(mesh, width, low, high)
    coarse = grid.coarse()
    rough = np.zeros(coarse.shape, dtype=np.float32)
    share = np.zeros_like(rough)
    index, middle, trust = _kernel_planes(samples, coarse, 3.0 * width)
    share.reshape(-1)[index], rough.reshape(-1)[index] = trust, trust * middle
    is_far = np.flatnonzero(share < 1.0)
    rough.reshape(-1)[is_far] += (1.0 - share.reshape(-1)[is_far]) * _nearest_planes(samples, coarse, is_far, width)
    field = grid.refine(rough)
    index, near, trust = _kernel_planes(samples, grid, width)
    field.reshape(-1)[index] += trust * (near - field.reshape(-1)[index])
    return field


def _kernel_planes(samples: Samples, grid: Grid, width: float) -> tuple[NDArray[np.int64], Field, Field]:
    """Return the flat indices of grid points within the kernel's reach, and there the field and how far to trust it.

    From 0 to 1: fully from a tenth of the weight on a whole plane.
    """
    place = np.rint(grid.to_index(samples.point)).astype(np.int64)
    is_inside = ((place >= 0) & (place < np.array(grid.shape)[:, None])).all(axis=0)
    cell, group = _numbered(np.ravel_multi_index(tuple(place[:, is_inside]), grid.shape), int(np.prod(grid.shape)))
    point = samples.point[is_inside] - grid.origin
    turned = samples.normal[is_inside]
    area = samples.area[is_inside]

    def spread(values: Float) -> Field:
        return _blurred(
            cell, np.asarray(np.bincount(group, values, len(cell)), dtype=np.float64), grid.shape, width / grid.step
        )

    weight = spread(area).reshape(-1)
    index = np.flatnonzero(weight > 1e-12)
    weight = weight[index]
    at = [axis.reshape(-1)[each] for axis, each in zip(grid.axes, np.unravel_index(index, grid.shape), strict=True)]
    planes = -spread(area * np.einsum("ij,ij->i", turned, point)).reshape(-1)[index]
    middle = np.zeros_like(planes)
    length = np.zeros_like(planes)
    for axis in range(3):
        mean_normal = spread(area * turned[:, axis]).reshape(-1)[index]
        planes += at[axis] * mean_normal
        middle += mean_normal * (at[axis] - spread(area * point[:, axis]).reshape(-1)[index] / weight)
        length += mean_normal**2
    length = np.sqrt(length)
    # On a plane a step^2 of area lies in each of the kernel's cells: its peak along the normal times step^3.
    full = grid.step**3 / (np.sqrt(2.0 * np.pi) * width)
    trust = np.minimum(weight / np.float32(0.1 * full), np.float32(1.0))
    return index, np.float32(0.5) * (planes + middle) / np.where(length > 1e-12, length, np.float32(1.0)), trust


def _numbered(cells: NDArray[np.int64], total: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the cells there are, ascending, and of each of so many cells, (n,), which it is: `np.unique` unsorted."""
    is_there = np.zeros(total, dtype=bool)
    is_there[cells] = True
    found = np.flatnonzero(is_there)
    number = np.zeros(total, dtype=np.int64)
    number[found] = np.arange(len(found))
    return found, number[cells]


def _blurred(cell: NDArray[np.int64], values: Float, shape: tuple[int, int, int], width: float) -> Field:
    """Return a grid that is zero but in some cells, flat indices (k,), under a Gaussian, its width in grid steps.

    Cut at `_REACH` widths; zero around the grid.

    Notes
    -----
    Rows lie apart by the kernel's reach in one flat array, so each way is a few shifted sums over pieces that stay in
    the cache: a third of the time of scipy's filter, which turns every row to double precision and back.
    """
    reach = int(_REACH * width + 0.5)
    kernel = np.exp(-0.5 * (np.arange(reach + 1) / width) ** 2)
    kernel /= 2.0 * kernel.sum() - kernel[0]
    wide = tuple(count + reach for count in shape)
    strides = (wide[1] * wide[2], wide[2], 1)
    margin, total = reach * strides[0], wide[0] * strides[0]
    one, other = np.zeros((2, total + 2 * margin), dtype=np.float32)
    x, y, z = np.unravel_index(cell, shape)
    one[margin + x * strides[0] + y * strides[1] + z] = values
    some = np.zeros(_PIECE, dtype=np.float32)
    for stride in reversed(strides):
        for start in range(margin, margin + total, _PIECE):
            stop = min(start + _PIECE, margin + total)
            sums, result = some[: stop - start], other[start:stop]
            np.multiply(one[start:stop], np.float32(kernel[0]), out=result)
            for shift, share in enumerate(kernel[1:], 1):
                by = shift * stride
                np.add(one[start - by : stop - by], one[start + by : stop + by], out=sums)
                sums *= np.float32(share)
                result += sums
        one, other = other, one
    return one[margin : margin + total].reshape(wide)[: shape[0], : shape[1], : shape[2]]


def _nearest_planes(samples: Samples, grid: Grid, index: NDArray[np.int64], width: float) -> Float:
    points = grid.points(index)
    stride = max(1, len(samples.point) // _FAR_POINTS)
    place, normal = samples.point[::stride], samples.normal[::stride]
    count = min(8, len(place))
    # Without boxes drawn tight, larger leaves: half the time for points far off a surface.
    tree = cKDTree(place, leafsize=32, balanced_tree=False, compact_nodes=False)
    distance, index = tree.query(points, k=count)
    distance, index = distance.reshape(-1, count), index.reshape(-1, count)
    offset = points[:, None, :] - place[index]
    plane = np.einsum("ijk,ijk->ij", offset, normal[index])
    # Nearer points count more, in proportion to how much farther the others are than the nearest.
    weight = np.exp(-((distance - distance[:, :1]) ** 2) / (2.0 * width**2))
    mean = (plane * weight).sum(axis=1) / weight.sum(axis=1)
    # A plane runs on for ever past an open border, but no surface is farther away than its nearest point.
    return np.clip(mean, -distance[:, 0], distance[:, 0])


def solid_field(mesh: TriMesh, grid: Grid) -> Field:
    """Return the signed distance to a clean closed solid, mm, negative inside.

    Exact near the surface (nearest point and winding number), interpolated from a coarse grid elsewhere.
    """
    tree = NearestSurface(mesh)

    def exact(points: Float) -> Float:
        inside = winding_numbers(mesh, points) > 0.5
        return np.where(inside, -1.0, 1.0) * tree.find(points).distance

    coarse = grid.coarse()
    field = grid.refine(exact(coarse.points(np.arange(int(np.prod(coarse.shape))))).reshape(coarse.shape))
    # A coarse value can be wrong by the coarse diagonal; only there can the true surface pass.
    band = np.flatnonzero(np.abs(field) < _COARSE * grid.step * np.sqrt(3.0))
    field.reshape(-1)[band] = exact(grid.points(band))
    return field


def rounded_max(first: Field, second: Field, radius: float, step: float) -> Field:
    """Return the field of the intersection of two solids with their common edge rounded to a radius, mm.

    Both are signed distances, (nx, ny, nz) mm; the step of the grid, mm, is for the angle between the surfaces.

    Notes
    -----
    Where a point is outside both solids shrunk by r, with u = a + r, v = b + r and c the cosine between the two
    gradients, the shrunk edge is at sqrt((u^2 + v^2 - 2 u v c) / (1 - c^2)) (oblique coordinates), and the rounded
    solid is r around it: a cylinder of radius r for planes at any angle [own derivation]. Beside the edge, where the
    nearest point is on a plane, it is max(a, b).
    """
    largest = np.maximum(first, second)
    if radius <= 0.0:
        return largest
    r = np.float32(radius)
    index = np.flatnonzero((np.minimum(first, second) > -r) & (largest < 2.0 * step + radius))
    u, v = first.reshape(-1)[index] + r, second.reshape(-1)[index] + r
    cosine = (_unit_gradients(first, index) * _unit_gradients(second, index)).sum(axis=1)
    is_edge = (u > v * cosine) & (v > u * cosine) & (cosine < 0.999)
    u, v, cosine = u[is_edge], v[is_edge], cosine[is_edge]
    out = largest.copy()
    # Two surfaces that face each other to the last digit, as two from one computation can, have their edge far away.
    apart = np.maximum(1.0 - cosine**2, np.float32(1e-7))
    out.reshape(-1)[index[is_edge]] = np.sqrt((u * u + v * v - 2.0 * u * v * cosine) / apart) - r
    return out


def _unit_gradients(field: Field, index: NDArray[np.int64]) -> Field:
    place = np.unravel_index(index, field.shape)
    gradient = np.stack(
        [
            field[_moved(place, axis, +1, field.shape)] - field[_moved(place, axis, -1, field.shape)]
            for axis in range(3)
        ],
        axis=1,
    )
    return gradient / np.maximum(np.linalg.norm(gradient, axis=1, keepdims=True), np.float32(1e-12))


def _moved(
    place: tuple[NDArray[np.int64], ...], axis: int, by: int, shape: tuple[int, ...]
) -> tuple[NDArray[np.int64], ...]:
    moved = np.clip(place[axis] + by, 0, shape[axis] - 1)
    return (*place[:axis], moved, *place[axis + 1 :])
