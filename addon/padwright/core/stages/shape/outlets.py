"""Outlets: grooves in the base side, from spaces that a solid rim shuts in to the outside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float, TriMesh
from ..folds.columns import PadColumns
from ..folds.curves import Border
from ..folds.layout import FoldLayout
from ..folds.level_lines import level_lines, resampled
from .spaces import Spaces
from .walls import strip_between

_EVERY_MM = 25.0  # along a solid rim, one outlet for so much of a space, and three at least
_LEAST_COUNT = 3
_FARTHEST_MM = 80.0
_STEP_MM = 0.5
_INTO_SPACE_MM = 1.5
_ABOVE_SKIN_MM = 1.2  # so far it reaches into the space above the skin
_MOST_SHARE = 0.6  # of the rim's thickness, so that the groove has a roof
_PAST_MM, _EDGE_MM = 2.0, 1.5  # past the outline; width of a rounded edge
_BELOW_MM = 2.0  # under the base side, so that it is cut open


@dataclass(frozen=True, eq=False)
class Outlet:
    """A groove from a space to the outside."""

    space: int
    line: Float  # (n, 2), plane frame, from the space outward
    area_mm2: float  # at its narrowest


def plan_outlets(spaces: Spaces, layout: FoldLayout, shut: list[int], width_mm: float) -> list[Outlet]:
    """Return grooves through the solid rim for spaces that reach the outside in no other way.

    A groove in the base side stays open on the board, and the solid rim above it holds it open under load.
    """
    columns, border = layout.columns, layout.border
    found: list[Outlet] = []
    for line in level_lines(border.distance_mm, 0.8 * _INTO_SPACE_MM, columns.origin, columns.step_mm):
        if len(line) < 8:
            continue
        even = resampled(line, _STEP_MM)
        label = spaces.at(even)
        solid = columns.sample(border.is_before_solid, even) > 0.5
        for space in shut:
            here = np.flatnonzero((label == space) & solid)
            if len(here) == 0:
                continue
            count = max(int(len(here) * _STEP_MM / _EVERY_MM), _LEAST_COUNT)
            for number in range(count):
                start = even[here[int((number + 0.5) * len(here) / count)]]
                way = _way_out(columns, border, start)
                if way is not None and all(_is_apart(way, other.line, width_mm) for other in found):
                    # Over the last of the way the edge is rounded: there the groove is open to the side.
                    depth = _depth(layout, way)[: -round((_PAST_MM + _EDGE_MM) / _STEP_MM)]
                    found.append(Outlet(space, way, width_mm * float(depth.min())))
    return found


def outlet_meshes(outlets: list[Outlet], layout: FoldLayout, width_mm: float) -> list[TriMesh]:
    """Return what is cut out for the grooves, one closed mesh each."""
    columns = layout.columns
    found = []
    for each in outlets:
        low = columns.sample(columns.low_mm, each.line)
        along = np.gradient(each.line, axis=0)
        along /= np.linalg.norm(along, axis=1, keepdims=True)
        across = np.stack([along[:, 1], -along[:, 0]], axis=1)
        bottom = np.column_stack([each.line, low - _BELOW_MM])
        top = np.column_stack([each.line, low + _depth(layout, each.line)])
        half = np.full((len(each.line), 2), 0.5 * width_mm)
        found.append(strip_between(bottom, top, half, across))
    return found


def _depth(layout: FoldLayout, line: Float) -> Float:
    """Return how deep a groove is, (n,) mm: up into the space, or a share of what is there."""
    columns = layout.columns
    thickness = columns.sample(columns.high_mm, line) - columns.sample(columns.low_mm, line)
    return np.asarray(np.minimum(layout.base_skin_mm + _ABOVE_SKIN_MM, _MOST_SHARE * thickness))


def _is_apart(first: Float, second: Float, width_mm: float) -> bool:
    """Say if two grooves leave a wall as wide as themselves between them."""
    return bool(np.hypot(*(first[:, None, :] - second[None]).transpose(2, 0, 1)).min() > 2.0 * width_mm)


def _way_out(columns: PadColumns, border: Border, start: Float) -> Float | None:
    """Return the straight way outward from inside a space to past the outline, (n, 2); None where it is long."""
    normal = np.array([columns.sample(each, start[None])[0] for each in border.normal])
    length = float(np.hypot(*normal))
    if length < 0.5:
        return None
    reach = np.arange(-_INTO_SPACE_MM, _FARTHEST_MM, _STEP_MM)
    line = start - reach[:, None] * normal / length
    inside = columns.sample(columns.is_footprint.astype(np.float64), line) > 0.5
    if inside.all():
        return None
    end = int(np.argmin(inside)) + round(_PAST_MM / _STEP_MM)
    return line[: end + 1]
