"""The modeller's 3D viewports: which one is under the mouse, what of it is free of other regions, and its view."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import bpy
import numpy as np
from mathutils import Vector

from ...core.geometry.views import View

_AWAY = 1.2  # from the eye to the middle, in diagonals of what is looked at
Box = tuple[float, float, float, float]  # left, bottom, right, top, pixels
_SIDES = {"UI", "TOOLS", "HEADER", "TOOL_HEADER", "ASSET_SHELF", "ASSET_SHELF_HEADER"}
_GIZMOS_PX = (90.0, 300.0)  # width and height of the modeller's own navigation buttons at scale 1: seen in the window


def view_of(region: Any, region_3d: Any) -> View:
    """Return a viewport's view."""
    return View(np.array(region_3d.perspective_matrix, dtype=np.float64), region.width, region.height)


def under_mouse(window: Any, x: int, y: int) -> tuple[Any, Any] | None:
    """Return the 3D viewport's area and region at a place in the window, or None where another region lies over it."""
    for area in areas(window.screen):
        if not _holds(area, x, y):
            continue
        if any(region.type != "WINDOW" and _holds(region, x, y) for region in area.regions):
            return None
        for region in area.regions:
            if region.type == "WINDOW" and region.data is not None and _holds(region, x, y):
                return area, region
    return None


def _holds(where: Any, x: int, y: int) -> bool:
    is_there = where.width > 1 and where.height > 1
    return is_there and where.x <= x < where.x + where.width and where.y <= y < where.y + where.height


def free_box(area: Any, region: Any) -> Box:
    """Return what of a region no sidebar, tool bar or header covers, in its own pixels."""
    left, bottom, right, top = 0.0, 0.0, float(region.width), float(region.height)
    for other in area.regions:
        if other.type not in _SIDES or other.width <= 1 or other.height <= 1:
            continue
        x0, y0 = other.x - region.x, other.y - region.y
        x1, y1 = x0 + other.width, y0 + other.height
        if x1 <= 0 or y1 <= 0 or x0 >= region.width or y0 >= region.height:
            continue
        if other.width > other.height:  # along the top or the bottom
            if (y0 + y1) / 2 > region.height / 2:
                top = min(top, y0)
            else:
                bottom = max(bottom, y1)
        elif (x0 + x1) / 2 > region.width / 2:
            right = min(right, x0)
        else:
            left = max(left, x1)
    return left, bottom, right, top


def gizmo_box(area: Any, region: Any, scale: float) -> Box | None:
    """Return where the modeller's navigation buttons lie in a region, or None when they are off."""
    space = area.spaces.active
    if not (space.show_gizmo and space.show_gizmo_navigate):
        return None
    _, bottom, right, top = free_box(area, region)
    width, height = (each * scale for each in _GIZMOS_PX)
    return right - width, max(bottom, top - height), right, top


def areas(screen: Any) -> list[Any]:
    """Return the 3D viewports of a screen; none where there is no screen."""
    return [area for area in screen.areas if area.type == "VIEW_3D"] if screen is not None else []


def _sights(screen: Any) -> list[tuple[Any, Any, Any]]:
    """Return (area, region, view) of each 3D viewport."""
    regions = [(area, each) for area in areas(screen) for each in area.regions if each.type == "WINDOW"]
    return [(area, region, region.data) for area, region in regions if region.data is not None]


def redraw(context: bpy.types.Context) -> None:
    """Ask for all 3D viewports of the window to be drawn again."""
    for area in areas(getattr(context.window, "screen", None)):
        area.tag_redraw()


def frame(context: bpy.types.Context, objects: Iterable[bpy.types.Object]) -> None:
    """Let every 3D viewport show objects as a whole, without turning the view; what is cut off near or far comes in."""
    corners = np.array([obj.matrix_world @ Vector(corner) for obj in objects for corner in obj.bound_box])
    if not len(corners):
        return
    size = max(float(np.linalg.norm(np.ptp(corners, axis=0))), 1e-6)
    for area, _, sight in _sights(context.screen):
        if sight.view_perspective == "CAMERA":
            continue
        sight.view_location, sight.view_distance = (corners.min(axis=0) + corners.max(axis=0)) / 2, _AWAY * size
        space = area.spaces.active
        space.clip_end = max(space.clip_end, 20.0 * _AWAY * size)
        space.clip_start = min(space.clip_start, 0.01 * _AWAY * size)


def right_and_up(context: bpy.types.Context) -> tuple[np.ndarray, np.ndarray]:
    """Return what is to the right and up in the viewport of the context, or in the first one, as unit vectors."""
    sight = getattr(context, "region_data", None)
    if sight is None:
        sight = next((each for _, _, each in _sights(context.screen)), None)
    if sight is None:
        return np.eye(3)[0], np.eye(3)[2]
    turn = np.array(sight.view_rotation.to_matrix(), dtype=np.float64)
    return turn[:, 0], turn[:, 1]


class Sights:
    """How each scan was last looked at, so that going from one to the other and back finds the place again."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, int], tuple[Any, Any, float]] = {}

    def look_at(self, context: bpy.types.Context, leaving: str, obj: bpy.types.Object) -> None:
        """Bring an object into every viewport that shows nothing of it; the view is not turned by itself."""
        corners = np.array([obj.matrix_world @ Vector(corner) for corner in obj.bound_box], dtype=np.float64)
        for area, region, sight in _sights(getattr(context.window, "screen", None)):
            if sight.view_perspective == "CAMERA":
                continue
            number = region.as_pointer()
            self._kept[leaving, number] = sight.view_location.copy(), sight.view_rotation.copy(), sight.view_distance
            if _is_seen(area, region, corners):
                continue
            found = self._kept.get((obj.name, number))
            if found is not None:
                sight.view_location, sight.view_rotation, sight.view_distance = found
            else:
                sight.view_location = corners.mean(axis=0)
                sight.view_distance = max(_AWAY * float(np.linalg.norm(np.ptp(corners, axis=0))), 1e-6)


def _is_seen(area: Any, region: Any, corners: np.ndarray) -> bool:
    left, bottom, right, top = free_box(area, region)
    seen, is_before = view_of(region, region.data).pixels(corners)
    if not is_before.all():  # the eye is beside or inside it
        return bool(is_before.any())
    (x0, y0), (x1, y1) = seen.min(axis=0), seen.max(axis=0)
    return bool(x1 > left and x0 < right and y1 > bottom and y0 < top)
