"""The pad as columns on a plane raster: outer faces, core between the skins, and where walls may stand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.mesh import Bool, Float, TriMesh
from ...geometry.crossings import crossings

FLANK_DEG = 50.0
"""A face at the rim that is steeper than this from level is the pad's flank, not a side to stand under: skin along it
would be an upright wall that carries the load. A choice of ours, near the steepest overhang that prints."""

_MOST_FLANK_MM = 12.0  # a flank is no wider: what leans further is a side of the pad
_NARROW_MM = 1.5  # no walls where a disk of this radius finds no room: tips and slivers, narrower than any wall needs
_EDGE_MM = 2.0  # half the width of a low rim that is solid; a narrower one is a rounded edge
_OUT_MM = 3.0  # how far the core is carried out past the outline, so that the void breaks through the side


@dataclass(frozen=True, eq=False)
class PadColumns:
    """Rasters (nx, ny) over the plane frame; cell (i, j) has its middle at origin + step (i, j)."""

    origin: Float  # (2,), mm
    step_mm: float
    low_mm: Float  # outer face of the base side; carried on from the nearest column beside the footprint
    high_mm: Float
    core_low_mm: Float  # the same for the core between the skins, also beside the footprint
    core_high_mm: Float
    is_footprint: Bool
    is_core: Bool  # walls may stand
    is_solid: Bool  # inside the footprint, no walls and no void
    is_flank: Bool  # inside the footprint, outside of the outermost walls: the side is open there

    def sample(self, raster: Float, points: Float) -> Float:
        """Return a raster at points (n, 2), bilinear, (n,); beside the raster its border's value."""
        index = ((points - self.origin) / self.step_mm).T
        return np.asarray(ndimage.map_coordinates(raster, index, order=1, mode="nearest"))

    def nearest(self, points: Float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return the cell (i, j) whose middle is nearest to each point (n, 2)."""
        index = np.rint((points - self.origin) / self.step_mm).astype(np.int64)
        count = np.array(self.low_mm.shape)
        return tuple(np.clip(index, 0, count - 1).T)


def raster_step(extent_mm: float) -> float:
    """Return the step of the raster for a pad of an extent, mm: a 250th of it, 0.35 to 1 mm.

    A millimeter follows a seat's dishes to a hundredth; a nose pad 30 mm long needs finer ones.
    """
    return float(np.clip(extent_mm / 250.0, 0.35, 1.0))


def pad_columns(mesh: TriMesh, base_skin_mm: float, body_skin_mm: float, least_core_mm: float) -> PadColumns:
    """Return the columns of a closed pad in the plane frame, z from base side to body side.

    Notes
    -----
    A column that leaves the solid and enters it again (undercut, hollow) counts with its longest stretch; the other is
    left solid. The skins are as thick along the surface's normal as asked: gentle slopes by s sqrt(1 + m^2), steps by
    a ball of radius s rolled over the raster. The flank of the rim (steeper than `FLANK_DEG`, or the rounding next to
    it) gets no skin: there the core is carried on from its inner border. What is lower than the least core is solid.
    """
    low_corner, high_corner = mesh.bounds[:, :2]
    step = raster_step(float((high_corner - low_corner).max()))
    origin = low_corner - _OUT_MM - step
    shape = tuple(np.ceil((high_corner + _OUT_MM + step - origin) / step).astype(int) + 1)
    low, high, inside = _longest_stretch(mesh, origin, step, shape)
    nearest = ndimage.distance_transform_edt(~inside, return_distances=False, return_indices=True)
    low, high = low[tuple(nearest)], high[tuple(nearest)]
    flank = _flank(low, high, inside, step)
    core_low = _risen(low, inside, base_skin_mm, step)
    core_high = -_risen(-high, inside, body_skin_mm, step)
    height = core_high - core_low
    is_high = inside & ~flank & (height >= least_core_mm)
    is_core = ndimage.binary_opening(is_high, _disk(max(round(_NARROW_MM / step), 1)))
    # What is too narrow for walls at the open side stays open; elsewhere it is solid.
    flank = ndimage.binary_propagation(flank, mask=flank | (is_high & ~is_core))
    solid = inside & ~flank & ~is_core
    # So does a rounded edge, which is low but no rim of its own.
    wide = ndimage.binary_opening(solid, _disk(max(round(_EDGE_MM / step), 1)))
    narrow = solid & ~ndimage.binary_dilation(wide, _disk(max(round(_EDGE_MM / step), 1)))
    flank = ndimage.binary_propagation(flank, mask=flank | narrow)
    solid &= ~flank
    # A flank belongs to what lies behind it: open before walls, solid before what is solid.
    behind = ndimage.distance_transform_edt(~(is_core | solid), return_distances=False, return_indices=True)
    before_solid = solid[tuple(behind)]
    solid |= flank & before_solid
    flank &= ~solid
    core_low, core_high = _carried_out(core_low, core_high, is_core | solid, inside, behind)
    return PadColumns(origin, step, low, high, core_low, core_high, inside, is_core, solid, flank)


def _longest_stretch(mesh: TriMesh, origin: Float, step: float, shape: tuple[int, ...]) -> tuple[Float, Float, Bool]:
    x, y = (origin[axis] + step * np.arange(shape[axis]) for axis in (0, 1))
    points = np.stack([*np.meshgrid(x, y, indexing="ij"), np.zeros(shape)], axis=-1).reshape(-1, 3)
    found = crossings(mesh, points, np.array([0.0, 0.0, 1.0]))
    goes_in = np.flatnonzero(~found.is_out[:-1] & found.is_out[1:] & (found.line[:-1] == found.line[1:]))
    line, start, end = found.line[goes_in], found.along[goes_in], found.along[goes_in + 1]
    order = np.lexsort((end - start, line))
    line, start, end = line[order], start[order], end[order]
    is_last = np.append(np.diff(line) > 0, True) if len(line) else np.zeros(0, dtype=bool)
    low, high = np.zeros(len(points)), np.zeros(len(points))
    inside = np.zeros(len(points), dtype=bool)
    inside[line[is_last]] = True
    low[line[is_last]], high[line[is_last]] = start[is_last], end[is_last]
    return low.reshape(shape), high.reshape(shape), inside.reshape(shape)


def _slope(surface: Float, step: float) -> Float:
    """Return the larger of the one-sided slopes, so that an edge shows on both its sides."""
    out = np.zeros_like(surface)
    for axis in (0, 1):
        rise = np.abs(np.diff(surface, axis=axis)) / step
        pad = [(0, 0), (0, 0)]
        pad[axis] = (1, 1)
        both = np.pad(rise, pad)
        before = [slice(None), slice(None)]
        after = [slice(None), slice(None)]
        before[axis], after[axis] = slice(0, -1), slice(1, None)
        out = np.hypot(out, np.maximum(both[tuple(before)], both[tuple(after)]))
    return out


def _flank(low: Float, high: Float, inside: Bool, step: float) -> Bool:
    """Return the columns of the flank: steep ones that hang together with the outside."""
    limit = np.tan(np.radians(FLANK_DEG))
    to_outside = ndimage.distance_transform_edt(np.pad(inside, 1))[1:-1, 1:-1] * step
    steep = inside & ((_slope(low, step) > limit) | (_slope(high, step) > limit) | (to_outside <= 1.01 * step))
    may = (steep & (to_outside <= _MOST_FLANK_MM)) | ~inside
    return ndimage.binary_propagation(~inside, mask=may) & inside


def _risen(surface: Float, inside: Bool, skin_mm: float, step: float) -> Float:
    """Return a lower face raised by a skin along its normal: the upper envelope of balls that roll over it."""
    gradient = np.hypot(*np.gradient(ndimage.gaussian_filter(surface, 1.0), step))
    gentle = np.minimum(gradient, np.tan(np.radians(FLANK_DEG)))
    raised = surface + skin_mm * np.sqrt(1.0 + gentle**2)
    known = np.where(inside, surface, -np.inf)
    reach = int(skin_mm / step)
    for i in range(-reach, reach + 1):
        for j in range(-reach, reach + 1):
            across = step * np.hypot(i, j)
            if 0.0 < across < skin_mm:
                moved = _shifted(known, i, j) + np.sqrt(skin_mm**2 - across**2)
                np.maximum(raised, moved, out=raised)
    return raised


def _shifted(raster: Float, i: int, j: int) -> Float:
    out = np.full_like(raster, -np.inf)
    nx, ny = raster.shape
    to_x, from_x = slice(max(i, 0), nx + min(i, 0)), slice(max(-i, 0), nx + min(-i, 0))
    to_y, from_y = slice(max(j, 0), ny + min(j, 0)), slice(max(-j, 0), ny + min(-j, 0))
    out[to_x, to_y] = raster[from_x, from_y]
    return out


def _carried_out(
    core_low: Float, core_high: Float, known: Bool, inside: Bool, nearest: NDArray[np.int32]
) -> tuple[Float, Float]:
    """Return the core's faces carried on past its border.

    Over the flank the base side's skin goes on as a flange: it follows a base side that falls, and thins out where the
    base side rises, as rounded edges do.
    """
    out_low, out_high = core_low[tuple(nearest)], core_high[tuple(nearest)]
    flange = np.where(inside & ~known, np.minimum(core_low, out_low), out_low)
    beside = ndimage.distance_transform_edt(~(inside | known), return_distances=False, return_indices=True)
    return np.where(known, core_low, flange[tuple(beside)]), np.where(known, core_high, out_high)


def _disk(radius: int) -> Bool:
    x, y = np.ogrid[-radius : radius + 1, -radius : radius + 1]
    return np.asarray(x * x + y * y <= radius * radius)
