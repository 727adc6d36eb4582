"""Places on scans, taken from what the artist has selected or from the 3D cursor."""

from __future__ import annotations

import bpy
import numpy as np

from ..core.errors import InputError
from . import bridge, scene


def two_selected(context: bpy.types.Context) -> tuple[str, list[float], list[float]] | None:
    """Return the scan and the two selected vertices in its own numbers, or None when there are not exactly two."""
    part = context.scene.padwright
    for scan in scene.SCANS:
        obj = getattr(part, scan)
        if obj is None or obj != context.active_object:
            continue
        if obj.mode == "EDIT":
            obj.update_from_editmode()
        is_chosen = np.zeros(len(obj.data.vertices), dtype=bool)
        obj.data.vertices.foreach_get("select", is_chosen)
        if is_chosen.sum() != 2:
            return None
        factors = bridge.scan_factors(obj, context.scene, scene.unit_mm(part, scan))
        first, second = (np.array(obj.data.vertices[int(i)].co) * factors for i in np.flatnonzero(is_chosen))
        return scan, first.tolist(), second.tolist()
    return None


def cursor_on_scan(context: bpy.types.Context, scan: str) -> tuple[list[float], float]:
    """Return the 3D cursor in a scan's own numbers, and how far it is off the scan's surface, mm.

    Raises
    ------
    InputError
        When there is no such scan, or it is hidden.
    """
    part = context.scene.padwright
    obj = getattr(part, scan)
    if obj is None:
        raise InputError(f"There is no {scan} scan.", hint="Import one, or choose an object.")
    if not obj.visible_get():
        raise InputError(f'"{obj.name}" is hidden.', hint="Show it to set points on it.")
    context.view_layer.update()
    cursor = context.scene.cursor.location
    is_found, near, _, _ = obj.closest_point_on_mesh(obj.matrix_world.inverted_safe() @ cursor)
    off = (obj.matrix_world @ near - cursor).length * bridge.mm_per_scene_unit(context.scene) if is_found else np.inf
    point = bridge.point_in_scan(obj, cursor, context.scene, scene.unit_mm(part, scan))
    return point.tolist(), float(off)
