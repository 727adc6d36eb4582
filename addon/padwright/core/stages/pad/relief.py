"""Openings and channels cut along drawn curves, with rounded edges, and footprints drawn by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.frozen import hold
from ...base.mesh import Float
from ...base.notes import to_act_on
from ...geometry.closed_lines import laid_along
from ...geometry.implicit import Field, Grid, rounded_max
from .drawn_outline import outline_inside, plane_points

_LEAST_HOLE_STEPS = 4
"""Columns of the grid that must be gone before a channel is said to go through: fewer are the edge of the footprint."""

_FOOT_STEPS = 2.0
"""Grid steps over and under a groove within which its distance is measured: what rounding of its edges looks at."""

_FOOT_ROUNDS = 2
"""Newton's steps to a surface's foot; a distance field needs one, rounded and averaged ones a little more."""


@dataclass(frozen=True)
class PlacedRelief:
    """A place where the body must not be pressed."""

    # an opening goes through the pad inside a closed outline; a channel is a groove in the body side along a line.
    kind: Literal["opening", "channel"]
    points: Float  # (k, 3), mm; part frame, on the body side: a closed outline (k >= 3) or an open line (k >= 2)
    width_mm: float = 0.0  # of a channel
    depth_mm: float = 0.0  # of a channel
    # rounding of the edges; at least 1 mm, so that nothing cuts into skin (common practice, no source).
    edge_radius_mm: float = 1.5

    def __post_init__(self) -> None:
        least = 3 if self.kind == "opening" else 2
        points = np.array(self.points, dtype=np.float64)
        if points.ndim != 2 or points.shape[1] != 3 or len(points) < least:
            raise InputError(f"A relief {self.kind} needs at least {least} points with three numbers each.")
        if self.kind == "channel" and (self.width_mm <= 0 or self.depth_mm <= 0):
            raise InputError(
                f"A relief channel needs a width and a depth; got {self.width_mm:g} and {self.depth_mm:g} mm."
            )
        if self.edge_radius_mm < 1.0:
            raise InputError(f"A relief edge radius of {self.edge_radius_mm:g} mm is too sharp.", hint="Use 1 or more.")
        hold(self, points=points)

    def moved(self, matrix: Float) -> PlacedRelief:
        """Return the relief moved by a rigid 4x4 matrix."""
        return replace(self, points=self.points @ matrix[:3, :3].T + matrix[:3, 3])


def carve(
    above: Field,
    below: Field,
    inside: Field,
    grid: Grid,
    reliefs: Sequence[PlacedRelief],
    *,
    is_press: bool,
    rim_radius: float,
    is_envelope: bool,
) -> tuple[Field, Field]:
    """Return the body field with channels cut, and the footprint with openings cut, both (nx, ny, nz), mm.

    The fields, (nx, ny, nz) float32, mm, are those of the pad before: negative under the body, negative over the base,
    positive inside the footprint. An envelope as footprint has an upper side of its own where no body comes down to it.
    Raises InputError when a relief lies beside the pad.
    """
    solid = np.maximum(np.maximum(above, below), -inside)
    for number, relief in enumerate(reliefs, 1):
        top = np.maximum(above, -inside) if is_envelope else above
        if relief.kind == "opening":
            within = outline_inside(relief.points, grid, is_press, np.maximum(top, -inside), below)
            cut = -within
            radius = max(relief.edge_radius_mm, rim_radius)
            inside = -rounded_max(-inside, within, radius, grid.step)
        else:
            cut = rounded_max(
                _line_distance(relief, grid, is_press, top, below) - np.float32(0.5 * relief.width_mm),
                -(top + np.float32(relief.depth_mm)),
                min(0.5 * relief.width_mm, relief.depth_mm),
                grid.step,
            )
            above = rounded_max(above, -cut, relief.edge_radius_mm, grid.step)
        if not ((cut < 0.0) & (solid < 0.0)).any():
            what = "an opening" if relief.kind == "opening" else "a channel"
            error = InputError(
                f"Relief {number}, {what}, lies beside the pad: it cuts nothing.",
                hint="Draw it over the pad, in the numbers of the scan that points_on names, or leave it out.",
            )
            error.key = ("pad", "reliefs", number - 1, "points")
            raise error
    return above, inside


def channel_note(uncut: Field, cut: Field, below: Field, outside: Field, step: float, *, is_press: bool) -> str | None:
    """Return what to say where channels leave nothing of the pad, from the body field (nx, ny, nz) before and after.

    Counted are columns along the press direction in which the pad stood before channels were cut, and stands no more;
    without one, the pad's lowest layer, a grid step thick, on the base.
    """
    rest = np.maximum(below, outside)
    if is_press:
        was, still = ((np.maximum(above, rest) < 0.0).any(axis=2) for above in (uncut, cut))
    else:
        lowest = (rest < 0.0) & (below > -np.float32(step))
        was, still = (lowest & (above < 0.0) for above in (uncut, cut))
    gone_mm2 = float((was & ~still).sum()) * step**2
    if gone_mm2 < _LEAST_HOLE_STEPS * step**2:
        return None
    return to_act_on(
        f"A channel goes right through the pad over {gone_mm2 / 100.0:.1f} cm2: it is deeper than the pad is "
        "thick there. Make it shallower where a floor should be left."
    )


def _line_distance(relief: PlacedRelief, grid: Grid, is_press: bool, top: Field, below: Field) -> Field:
    """Return the distance across the pad's upper surface from a line, (nx, ny, nz), mm; far off where nothing is cut.

    With a press direction seen along it. Else between the feet of both on that surface, so that a groove is as wide
    at its bottom as at its top.
    """
    line = laid_along(relief.points, 0.5 * grid.step, is_closed=False)
    if is_press:
        value = cKDTree(line[:, :2]).query(plane_points(grid))[0].reshape(grid.shape[:2])
        return np.broadcast_to(value.astype(np.float32)[:, :, None], grid.shape)
    distance = np.full(grid.shape, np.float32(np.linalg.norm(grid.shape) * grid.step), dtype=np.float32)
    reach = _FOOT_STEPS * grid.step
    band = np.flatnonzero((top > -(relief.depth_mm + reach)) & (top < reach))
    tree = cKDTree(_met(line, top, below, grid))
    distance.reshape(-1)[band] = tree.query(_feet(grid.points(band), grid, top))[0]
    return distance


def _met(line: Float, top: Field, below: Field, grid: Grid) -> Float:
    """Return where the base's outward direction, from a line, meets the pad's upper surface, (k, 3), mm.

    A line on the base lies under the clay, one on the impression in the body side. Points that meet nothing are left
    out; a line of them alone is returned as it is.
    """
    gradient = _mean_gradient(below, grid, line)
    out = -gradient / np.maximum(np.linalg.norm(gradient, axis=1), 1e-9)[:, None]
    offset = np.arange(0.0, 0.5 * grid.step * max(grid.shape), 0.5 * grid.step)
    is_under = grid.sample(top, line) < 0.0
    way = np.where(is_under, 1.0, -1.0)[:, None] * offset
    value = grid.sample(top, (line[:, None] + way[:, :, None] * out[:, None]).reshape(-1, 3)).reshape(way.shape)
    is_past = (value < 0.0) != is_under[:, None]
    found = is_past.any(axis=1)
    if not found.any():
        return line
    met = line[found] + np.take_along_axis(way, is_past.argmax(axis=1)[:, None], 1)[found] * out[found]
    return _feet(met, grid, top)


def _feet(points: Float, grid: Grid, top: Field) -> Float:
    """Return the points moved along a distance field's gradient to where it is zero, (n, 3)."""
    for _ in range(_FOOT_ROUNDS):
        gradient = _mean_gradient(top, grid, points)
        # As where surfaces are made: a gradient under 0.2 belongs to no distance field.
        square = np.maximum((gradient**2).sum(axis=1), 0.04)
        points = points - (grid.sample(top, points) / square)[:, None] * gradient
    return points


def _mean_gradient(field: Field, grid: Grid, points: Float) -> Float:
    """Return the field's gradient over two grid steps around points, (n, 3), per mm.

    Within one cell it jumps by the surface's turn over a step: too coarse to be followed through a pad.
    """
    shift = grid.step * np.eye(3)
    ways = [grid.sample(field, points + each) - grid.sample(field, points - each) for each in shift]
    return np.stack(ways, axis=1) / (2.0 * grid.step)
