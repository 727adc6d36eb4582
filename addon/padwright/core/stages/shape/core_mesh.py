"""The core between the skins as a closed mesh, open where the pad's side is open."""

from __future__ import annotations

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.mesh import Float, TriMesh
from ..folds.columns import PadColumns
from ..folds.curves import Border
from ..folds.layout import FoldLayout
from ..folds.level_lines import resampled
from .roof import Roof

_TRIM_MM = 0.25
"""The upper skin ends so far inside the outermost wall's outer face: a lip beyond it would hang in the air."""

_LEAST_MM = 0.2  # high at least, where nothing else is
_OUT_MM = 2.5  # past the outline, so that the void breaks through the side


def core_mesh(columns: PadColumns, roof: Roof, sealed: tuple[Border, float] | None = None) -> TriMesh:
    """Return the core under a roof as a closed mesh: over all that is not solid, and a little past the outline.

    Its upright border before what is solid is the level line of the smoothed raster of what is solid. Sealed it ends a
    skin, mm, inside the border of where walls stand.
    """
    step = columns.step_mm
    out = ndimage.distance_transform_edt(~columns.is_footprint) * step
    solid = ndimage.gaussian_filter(columns.is_solid.astype(np.float64), 1.0)
    # Beside the outline what lies nearest counts: before something solid the side is left alone.
    at = ndimage.distance_transform_edt(~columns.is_footprint, return_distances=False, return_indices=True)
    beside = columns.is_solid[tuple(at)] & ~columns.is_footprint
    level = np.minimum(0.5 - np.maximum(solid, np.where(beside, 1.0, 0.0)), (_OUT_MM - out) / step)
    if sealed is not None:
        border, skin_mm = sealed
        level = np.minimum(level, border.distance_mm - skin_mm)
    level, low = roof.resampled(columns, level), roof.resampled(columns, columns.core_low_mm)
    level[[0, -1], :] = level[:, [0, -1]] = -0.5
    return _prism(level, low, np.maximum(roof.height_mm, low + _LEAST_MM), columns.origin, roof.step_mm)


def side_mesh(layout: FoldLayout) -> TriMesh | None:
    """Return what is cut away beside the outermost walls, above the base side's skin; None where nothing is."""
    columns, border = layout.columns, layout.border
    near = ndimage.distance_transform_edt(~columns.is_footprint) * columns.step_mm
    level = np.minimum(_TRIM_MM - border.distance_mm - _cut_corners(layout), _OUT_MM - near)
    # Before what is solid the pad's side stays; a cell more, or the border itself would be cut.
    level = np.minimum(level, 0.5 - ndimage.maximum_filter(border.is_before_solid, 3))
    level[[0, -1], :] = level[:, [0, -1]] = -1.0
    if not (level > 0.0).any():
        return None
    top = np.full(level.shape, float(columns.high_mm.max()) + 5.0)
    return _prism(level, columns.core_low_mm, top, columns.origin, (columns.step_mm, columns.step_mm))


def _cut_corners(layout: FoldLayout) -> Float:
    """Return how much nearer to the border than its own line the outermost ring stands, (nx, ny) mm, negative inside.

    A ring's corners are rounded: where it cuts one, the skin ends with it.
    """
    border, columns = layout.border, layout.columns
    first = 0.5 * layout.width_mm
    outer = [
        wall.points
        for wall in layout.walls
        if wall.kind == "ring"
        and np.median(columns.sample(border.distance_mm, wall.points)) < first + 0.5 * layout.pitch_mm
    ]
    out = np.zeros(border.distance_mm.shape)
    if not outer:
        return out
    points = np.concatenate([resampled(each, 0.5) for each in outer])
    off = first - columns.sample(border.distance_mm, points)
    cells = np.argwhere(np.abs(border.distance_mm) < 4.0)
    far, index = cKDTree(points).query(columns.origin + columns.step_mm * cells)
    out[tuple(cells.T)] = np.where(far < 6.0, off[index], 0.0)
    return out


def _prism(level: Float, low: Float, high: Float, origin: Float, step: tuple[float, float]) -> TriMesh:
    """Return the solid between two heights where a raster is above 0, cut along its zero line."""
    value = np.where(np.abs(level) < 1e-6, 1e-6, level).ravel()
    number = np.arange(level.size).reshape(level.shape)
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    triangle = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    inside = value[triangle] > 0.0
    count = inside.sum(axis=1)
    whole = triangle[count == 3]
    edges: list[np.ndarray] = []

    def corners(wanted: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        chosen = triangle[count == wanted]
        lone = (inside[count == wanted] == (wanted == 1)).argmax(axis=1)
        rows = np.arange(len(chosen))
        return chosen[rows, lone], chosen[rows, (lone + 1) % 3], chosen[rows, (lone + 2) % 3]

    def key(first: np.ndarray, second: np.ndarray) -> np.ndarray:
        made = np.minimum(first, second) * value.size + np.maximum(first, second) + value.size
        edges.append(made)
        return made

    tip, one, two = corners(1)
    pieces = [whole, np.stack([tip, key(tip, one), key(tip, two)], -1)]
    out, one, two = corners(2)
    first, second = key(out, one), key(out, two)
    pieces += [np.stack([first, one, two], -1), np.stack([first, two, second], -1)]
    flat = np.concatenate(pieces)
    used, index = np.unique(flat, return_inverse=True)
    flat = index.reshape(flat.shape)
    crossing = used >= value.size
    pair = np.where(crossing, used - value.size, 0)
    start, end = np.where(crossing, pair // value.size, used), np.where(crossing, pair % value.size, used)
    share = np.where(crossing, value[start] / np.where(crossing, value[start] - value[end], 1.0), 0.0)

    def between(raster: Float) -> Float:
        whole = raster.ravel()
        return np.asarray(whole[start] * (1.0 - share) + whole[end] * share)

    x, y = (origin[axis] + step[axis] * np.arange(level.shape[axis]) for axis in (0, 1))
    grid = np.meshgrid(x, y, indexing="ij")
    plan = [between(each) for each in grid]
    under, over = between(low), between(high)
    edge = np.concatenate([flat[:, [0, 1]], flat[:, [1, 2]], flat[:, [2, 0]]])
    code = edge[:, 0] * len(used) + edge[:, 1]
    border = edge[~np.isin(code, edge[:, 1] * len(used) + edge[:, 0])]
    n = len(used)
    side = np.concatenate(
        [
            np.stack([border[:, 0], border[:, 1], border[:, 1] + n], -1),
            np.stack([border[:, 0], border[:, 1] + n, border[:, 0] + n], -1),
        ]
    )
    vertices = np.concatenate([np.stack([*plan, under], -1), np.stack([*plan, over], -1)])
    return TriMesh(vertices, np.concatenate([flat[:, ::-1], flat + n, side]).astype(np.int32))
