"""What a closed line drawn on a part surrounds: along the press direction, or on one side of a base it wraps around."""

from __future__ import annotations

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float
from ...geometry.closed_lines import laid_along, turns_around
from ...geometry.implicit import Field, Grid

_FACING = 0.5
"""A mean normal shorter than this says nothing of where an outline faces; the plane through its points does."""

_LEAST_BASE_STEPS = 3
"""Grid steps of base that a line along the axis must cross to tell one side of the part from the other."""


def outline_inside(points: Float, grid: Grid, is_press: bool, above: Field, below: Field) -> Field:
    """Return the distance inside a closed outline, mm, negative outside, constant along the outline's axis.

    The outline's points, (k, 3) mm, are in the grid's frame. The pad without an outline is where `above` and `below`,
    (nx, ny, nz) float32, mm, are both negative; `below` is positive in the base.

    Notes
    -----
    The axis is the grid's z for a part with a press direction. Else it is the mean of the base's normals at the
    outline's points, and what is taken ends within the base: an outline laid over the base surrounds the side it lies
    on, through the whole pad however thick. An outline that runs around the base, seen along the axis, surrounds both
    sides.
    """
    if is_press:
        flat = plane_points(grid)
        value = _polygon_distance(points[:, :2], flat).reshape(grid.shape[:2])
        return np.broadcast_to(value.astype(np.float32)[:, :, None], grid.shape)
    frame = _frame(points, grid, below)
    line = points @ frame.T
    every = grid.points(np.arange(int(np.prod(grid.shape)))) @ frame.T
    margin = 4.0 * grid.step
    low = np.maximum(line[:, :2].min(axis=0) - margin, every[:, :2].min(axis=0))
    high = np.minimum(line[:, :2].max(axis=0) + margin, every[:, :2].max(axis=0))
    near = ((every[:, :2] > low) & (every[:, :2] < high)).all(axis=1)
    distance: Field = np.full(len(every), -margin, dtype=np.float32)
    if near.any():
        height = every[near, 2]
        box = Grid.around(np.append(low, height.min()), np.append(high, height.max()), grid.step)
        distance[near] = _polygon_distance(line[:, :2], every[near, :2])
        own = _own_side(line, box, frame, grid, above, below)
        if own is not None:
            distance[near] = np.minimum(distance[near], box.sample(own, every[near]))
    return distance.reshape(grid.shape)


def _frame(points: Float, grid: Grid, below: Field) -> Float:
    """Return the axes of an outline, (3, 3): two across what it looks along, and that."""
    low, high = grid.bounds
    normal = -grid.sample_with_gradient(below, np.clip(points, low, high))[1]
    mean = (normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)).mean(axis=0)
    size = float(np.linalg.norm(mean))
    if size < _FACING:
        return np.asarray(np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2])
    axis = mean / size
    side = np.cross(np.eye(3)[np.argmin(np.abs(axis))], axis)
    side /= np.linalg.norm(side)
    return np.stack([side, np.cross(axis, side), axis])


def _own_side(line: Float, box: Grid, frame: Float, grid: Grid, above: Field, below: Field) -> Field | None:
    """Return how far each point of the outline's own box lies on the side that the outline is laid on, mm.

    None where the outline runs around the base or the pad has no other side there. Lines along the axis that cross the
    base tell the pad's sides apart; what lies beside the base goes to the nearer of them.
    """
    at = box.points(np.arange(int(np.prod(box.shape)))) @ frame
    base = (grid.sample(below, at) > 0.0).reshape(box.shape)
    pad = (grid.sample(np.maximum(above, below), at) < 0.0).reshape(box.shape)
    crosses = base.sum(axis=2) >= _LEAST_BASE_STEPS
    border = laid_along(line, box.step, is_closed=True)
    column = np.clip(np.rint(box.to_index(border)).astype(int)[:2], 0, np.array(box.shape[:2])[:, None] - 1)
    if crosses[column[0], column[1]].mean() < 0.5:
        return None
    flat = plane_points(box)
    within = _is_within(line[:, :2], flat).reshape(box.shape[:2])
    label, count = ndimage.label(pad & (crosses & within)[:, :, None])
    if count < 2:
        return None
    place = np.flatnonzero(label)
    away = cKDTree(border).query(box.points(place))[0]
    apart = ndimage.minimum(away, label.reshape(-1)[place], np.arange(1, count + 1))
    is_own = np.concatenate([[False], apart <= apart.min() + 2.0 * box.step])
    own, other = is_own[label], (label > 0) & ~is_own[label]
    if not other.any():
        return None
    nearer = 0.5 * box.step * (ndimage.distance_transform_edt(~other) - ndimage.distance_transform_edt(~own))
    return np.asarray(ndimage.gaussian_filter(nearer, 1.0), dtype=np.float32)


def plane_points(grid: Grid) -> Float:
    """Return x and y of the grid's columns along z, (nx * ny, 2), mm."""
    first, second = np.meshgrid(np.arange(grid.shape[0]), np.arange(grid.shape[1]), indexing="ij")
    return np.stack([first.ravel(), second.ravel()], axis=1) * grid.step + grid.origin[:2]


def _polygon_distance(outline: Float, points: Float) -> Float:
    border = laid_along(outline, 0.002 * float(np.ptp(outline, axis=0).max()), is_closed=True)
    distance = cKDTree(border).query(points)[0]
    return np.where(_is_within(outline, points), distance, -distance)


def _is_within(outline: Float, points: Float) -> Bool:
    """Return which `points` (n, 2) lie inside the closed `outline` (k, 2), by the even-odd rule."""
    return np.asarray(turns_around(outline, points) % 2 == 1)
