"""Places on scans: under the mouse, from what the artist has selected, or from the 3D cursor."""

from __future__ import annotations

import math

import bpy
import numpy as np

from ...core.base.errors import InputError
from ...core.base.mesh import Float
from ...core.geometry.views import View, nearest_on_screen
from .. import bridge
from .pick_session import PickedPlace

_AROUND = tuple((math.cos(turn), math.sin(turn)) for turn in np.linspace(0.0, 2.0 * math.pi, 8, endpoint=False))


def scan_object(part: bpy.types.PropertyGroup, scan: str) -> bpy.types.Object:
    """Return a scan's object, or that of the pad or of the mat's picture.

    Raises InputError when there is no such scan, or it is hidden.
    """
    obj = getattr(part, scan)
    if obj is None:
        raise InputError(f"There is no {scan} scan.", hint="Import one, or choose an object.")
    if not obj.visible_get():
        raise InputError(f'"{obj.name}" is hidden.', hint="Show it to set points on it.")
    return obj


def place_under(
    context: bpy.types.Context, scan: str, view: View, pixel: tuple[float, float], snap_px: float = 0.0
) -> PickedPlace | None:
    """Return the place on a scan that is seen at a pixel, or None; no other object counts.

    Raises InputError as `scan_object`.

    Parameters
    ----------
    pixel : (float, float)
    snap_px : float
        A vertex so near, pixels, is taken instead of the surface; 0: the surface alone.
    """
    part = context.scene.padwright
    obj = scan_object(part, scan)
    factors = bridge.scan_factors(obj, context.scene, bridge.unit_mm(part, scan))
    depsgraph = context.evaluated_depsgraph_get()
    hit = _meet(obj, depsgraph, view, pixel)
    if snap_px > 0.0:
        hits = (
            [hit]
            if hit is not None
            else [  # beside the scan its nearest corner can still be meant
                _meet(obj, depsgraph, view, (pixel[0] + snap_px * x, pixel[1] + snap_px * y)) for x, y in _AROUND
            ]
        )
        corners = _corners(obj, depsgraph, {each[1] for each in hits if each is not None})
        best = nearest_on_screen(view, _in_scene(obj, corners), pixel, snap_px)
        if best is not None:
            return PickedPlace(scan, (corners[best] * factors).tolist(), True)
    return None if hit is None else PickedPlace(scan, (hit[0] * factors).tolist(), False)


def _meet(obj, depsgraph, view: View, pixel: tuple[float, float]) -> tuple[Float, int] | None:
    """Return where a pixel's line of sight first meets an object, in its own coordinates, and in which face."""
    start, end = view.ray(pixel, _in_scene(obj, np.array(obj.bound_box)))
    back = obj.matrix_world.inverted_safe()
    first, last = back @ bridge.Vector(start), back @ bridge.Vector(end)
    way = last - first
    if way.length == 0.0:
        return None
    is_met, place, _, face = obj.ray_cast(first, way, distance=way.length, depsgraph=depsgraph)
    return (np.array(place, dtype=np.float64), face) if is_met else None


def _corners(obj, depsgraph, faces: set[int]) -> Float:
    """Return the vertices of some faces as they are seen, with modifiers, (n, 3)."""
    mesh = obj.evaluated_get(depsgraph).data
    found = {vertex for face in faces for vertex in mesh.polygons[face].vertices}
    return np.array([mesh.vertices[vertex].co for vertex in found], dtype=np.float64).reshape(-1, 3)


def _in_scene(obj, local: Float) -> Float:
    matrix = np.array(obj.matrix_world, dtype=np.float64)
    return local @ matrix[:3, :3].T + matrix[:3, 3]


def selected(context: bpy.types.Context, scan: str) -> Float:
    """Return the selected vertices of a scan in its own numbers, (n, 3); none where it is not the active object."""
    part = context.scene.padwright
    obj = getattr(part, scan)
    if obj is None or obj != context.active_object:
        return np.zeros((0, 3))
    if obj.mode == "EDIT":
        obj.update_from_editmode()
    is_chosen = np.zeros(len(obj.data.vertices), dtype=bool)
    obj.data.vertices.foreach_get("select", is_chosen)
    places = np.zeros(3 * len(is_chosen), dtype=np.float32)
    obj.data.vertices.foreach_get("co", places)
    factors = bridge.scan_factors(obj, context.scene, bridge.unit_mm(part, scan))
    return places.reshape(-1, 3)[is_chosen] * factors


def cursor_on_scan(context: bpy.types.Context, scan: str) -> tuple[list[float], float]:
    """Return the 3D cursor in a scan's own numbers, and how far it is off the scan's surface, mm.

    Raises InputError as `scan_object`.
    """
    part = context.scene.padwright
    obj = scan_object(part, scan)
    context.view_layer.update()
    cursor = context.scene.cursor.location
    is_found, near, _, _ = obj.closest_point_on_mesh(obj.matrix_world.inverted_safe() @ cursor)
    off = (obj.matrix_world @ near - cursor).length * bridge.mm_per_scene_unit(context.scene) if is_found else np.inf
    point = bridge.point_in_scan(obj, cursor, context.scene, bridge.unit_mm(part, scan))
    return point.tolist(), float(off)
