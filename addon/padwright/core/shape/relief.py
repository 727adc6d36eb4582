"""Openings and channels cut along drawn curves, with rounded edges, and footprints drawn by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.spatial import cKDTree

from ..errors import InputError
from ..geometry.implicit import Field, Grid, rounded_max
from ..mesh import Bool, Float

_LEAST_HOLE_STEPS = 4
"""Columns of the grid that must be gone before a channel is said to go through: fewer are the edge of the footprint."""


@dataclass(frozen=True)
class Relief:
    """A place where the body must not be pressed.

    Attributes
    ----------
    kind : "opening" or "channel"
        An opening goes through the pad inside a closed outline; a channel is a groove in the body side along a line.
    points : (k, 3) float, mm
        Part frame, on the body side: a closed outline (k >= 3) or an open line (k >= 2).
    width_mm, depth_mm : float
        Of a channel.
    edge_radius_mm : float
        Rounding of the edges; at least 1 mm, so that nothing cuts into skin (common practice, no source).
    """

    kind: Literal["opening", "channel"]
    points: Float
    width_mm: float = 0.0
    depth_mm: float = 0.0
    edge_radius_mm: float = 1.5

    def __post_init__(self) -> None:
        least = 3 if self.kind == "opening" else 2
        points = np.asarray(self.points, dtype=np.float64)
        if points.ndim != 2 or points.shape[1] != 3 or len(points) < least:
            raise InputError(f"A relief {self.kind} needs at least {least} points with three numbers each.")
        if self.kind == "channel" and (self.width_mm <= 0 or self.depth_mm <= 0):
            raise InputError(
                f"A relief channel needs a width and a depth; got {self.width_mm:g} and {self.depth_mm:g} mm."
            )
        if self.edge_radius_mm < 1.0:
            raise InputError(f"A relief edge radius of {self.edge_radius_mm:g} mm is too sharp.", hint="Use 1 or more.")
        object.__setattr__(self, "points", points)

    def moved(self, matrix: Float) -> Relief:
        """Return the relief moved by a rigid 4x4 matrix."""
        return replace(self, points=self.points @ matrix[:3, :3].T + matrix[:3, 3])


def carve(
    above: Field,
    below: Field,
    inside: Field,
    grid: Grid,
    reliefs: Sequence[Relief],
    is_press: bool,
    rim_radius: float,
) -> tuple[Field, Field]:
    """Return the body field with channels cut, and the footprint with openings cut, both (nx, ny, nz), mm.

    Parameters
    ----------
    above, below, inside : (nx, ny, nz) float32, mm
        The pad before: negative under the body, negative over the base, positive inside the footprint.

    Raises
    ------
    InputError
        When a relief lies beside the pad.
    """
    solid = np.maximum(np.maximum(above, below), -inside)
    for number, relief in enumerate(reliefs, 1):
        if relief.kind == "opening":
            within = outline_inside(relief.points, grid, is_press, solid)
            cut = -within
            radius = max(relief.edge_radius_mm, rim_radius)
            inside = -rounded_max(-inside, within, radius, grid.step)
        else:
            line = _dense(relief.points, 0.5 * grid.step, False)
            if not is_press:
                line = _swept(line, above, below, grid, relief.depth_mm)
            cut = rounded_max(
                _line_distance(line, grid, is_press) - np.float32(0.5 * relief.width_mm),
                -(above + np.float32(relief.depth_mm)),
                min(0.5 * relief.width_mm, relief.depth_mm),
                grid.step,
            )
            above = rounded_max(above, -cut, relief.edge_radius_mm, grid.step)
        if not ((cut < 0.0) & (solid < 0.0)).any():
            what = "an opening" if relief.kind == "opening" else "a channel"
            raise InputError(
                f"Relief {number}, {what}, lies beside the pad: it cuts nothing.",
                hint="Draw it over the pad, in the numbers of the scan that points_on names, or leave it out.",
            )
    return above, inside


def _swept(line: Float, above: Field, below: Field, grid: Grid, depth_mm: float) -> Float:
    """Return points of a sheet that hangs from the body side under (or over) a line, as deep as the channel, (k, 3).

    A line on the base lies under the clay, one on the impression in the body side; either way the channel is cut where
    the base's outward direction, from the line, meets the body side.
    """
    gradient = grid.sample_with_gradient(below, line)[1]
    out = -gradient / np.maximum(np.linalg.norm(gradient, axis=1), 1e-9)[:, None]
    reach = 0.5 * grid.step * max(grid.shape)
    offset = np.arange(0.0, reach, 0.5 * grid.step)
    is_under = grid.sample(above, line) < 0.0
    way = np.where(is_under, 1.0, -1.0)[:, None] * offset
    value = grid.sample(above, (line[:, None] + way[:, :, None] * out[:, None]).reshape(-1, 3)).reshape(way.shape)
    is_past = (value < 0.0) != is_under[:, None]
    found = is_past.any(axis=1)
    foot = line[found] + np.take_along_axis(way, is_past.argmax(axis=1)[:, None], 1)[found] * out[found]
    if not found.any():
        return line
    deep = np.append(np.arange(0.0, depth_mm, 0.5 * grid.step), depth_mm)
    return (foot[:, None] - deep[:, None] * out[found][:, None]).reshape(-1, 3)


def channel_note(uncut: Field, cut: Field, below: Field, outside: Field, step: float) -> str | None:
    """Return what to say where channels leave nothing of the pad, from the body field (nx, ny, nz) before and after.

    Counted are columns along the press direction in which the pad stood before channels were cut, and stands no more.
    """
    rest = np.maximum(below, outside)
    was, still = ((np.maximum(above, rest) < 0.0).any(axis=2) for above in (uncut, cut))
    gone_mm2 = float((was & ~still).sum()) * step**2
    if gone_mm2 < _LEAST_HOLE_STEPS * step**2:
        return None
    return (
        f"A channel goes right through the pad over {gone_mm2 / 100.0:.1f} cm2: it is deeper than the pad is "
        "thick there. Make it shallower where a floor should be left."
    )


def outline_inside(points: Float, grid: Grid, is_press: bool, solid: Field) -> Field:
    """Return the distance inside a closed outline, mm, negative outside, constant along the outline's axis.

    The axis is the grid's z for a part with a press direction, else the normal of the plane that fits the outline
    best, and then only through the wall of `solid` (negative inside) that the outline lies on, half an outline's
    radius beyond it, so that the far side of a wrap-around part stays whole.
    """
    if is_press:
        flat = grid.points(np.ravel_multi_index(_plane_index(grid), grid.shape))[:, :2]
        value = _polygon_distance(points[:, :2], flat).reshape(grid.shape[:2])
        return np.broadcast_to(value.astype(np.float32)[:, :, None], grid.shape)
    centred = points - points.mean(axis=0)
    frame = np.linalg.svd(centred, full_matrices=False)[2]
    depth = 0.5 * float(np.linalg.norm(centred, axis=1).max())
    low, high = _wall(points.mean(axis=0), frame[2], grid, solid)
    every = grid.points(np.arange(int(np.prod(grid.shape)))) @ frame.T
    middle = float((points @ frame[2]).mean())
    near = (every[:, 2] > middle + low - depth) & (every[:, 2] < middle + high + depth)
    distance: Field = np.full(len(every), -depth, dtype=np.float32)
    distance[near] = _polygon_distance((points @ frame.T)[:, :2], every[near, :2])
    return distance.reshape(grid.shape)


def _wall(middle: Float, axis: Float, grid: Grid, solid: Field) -> tuple[float, float]:
    """Return where the wall nearest to a place begins and ends along an axis, mm from it; 0, 0 without one."""
    reach = 0.5 * grid.step * max(grid.shape)
    offset = np.arange(-reach, reach, 0.5 * grid.step)
    at = middle + offset[:, None] * axis
    bottom, top = grid.bounds
    is_in = (grid.sample(solid, at) < 0.0) & ((at >= bottom) & (at <= top)).all(axis=1)
    if not is_in.any():
        return 0.0, 0.0
    nearest = int(np.argmin(np.where(is_in, np.abs(offset), np.inf)))
    gaps = np.flatnonzero(~is_in)
    before, after = gaps[gaps < nearest], gaps[gaps > nearest]
    first = before[-1] + 1 if len(before) else 0
    last = after[0] - 1 if len(after) else len(offset) - 1
    return float(min(offset[first], 0.0)), float(max(offset[last], 0.0))


def _plane_index(grid: Grid) -> tuple[np.ndarray, ...]:
    first, second = np.meshgrid(np.arange(grid.shape[0]), np.arange(grid.shape[1]), indexing="ij")
    return first.ravel(), second.ravel(), np.zeros(first.size, dtype=int)


def _dense(points: Float, step: float, is_closed: bool) -> Float:
    ends = np.roll(points, -1, axis=0) if is_closed else points[1:]
    starts = points if is_closed else points[:-1]
    parts = []
    for start, end in zip(starts, ends, strict=True):
        count = max(1, int(np.ceil(np.linalg.norm(end - start) / step)))
        parts.append(start + (end - start) * (np.arange(count) / count)[:, None])
    parts.append(ends[-1:])
    return np.concatenate(parts)


def _polygon_distance(outline: Float, points: Float) -> Float:
    border = _dense(outline, 0.002 * float(np.ptp(outline, axis=0).max()), True)
    distance = cKDTree(border).query(points)[0]
    return np.where(points_in_polygon(outline, points), distance, -distance)


def points_in_polygon(outline: Float, points: Float) -> Bool:
    """Return which `points` (n, 2) lie inside the closed `outline` (k, 2), by counting crossings (even-odd rule)."""
    inside = np.zeros(len(points), dtype=bool)
    x, y = points.T
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if y0 == y1:
            continue
        crosses = (y0 > y) != (y1 > y)
        inside ^= crosses & (x < x0 + (y - y0) * (x1 - x0) / (y1 - y0))
    return inside


def _line_distance(line: Float, grid: Grid, is_press: bool) -> Field:
    if is_press:
        flat = grid.points(np.ravel_multi_index(_plane_index(grid), grid.shape))[:, :2]
        value = cKDTree(line[:, :2]).query(flat)[0].reshape(grid.shape[:2])
        return np.broadcast_to(value.astype(np.float32)[:, :, None], grid.shape)
    every = grid.points(np.arange(int(np.prod(grid.shape))))
    return cKDTree(line).query(every)[0].astype(np.float32).reshape(grid.shape)
