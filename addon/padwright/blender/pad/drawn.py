"""What the part takes from the artist's own objects, and what is wrong with them; cheap enough to draw by."""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from typing import Any, NamedTuple
from zlib import crc32

import bpy
from mathutils import Matrix

from .. import mesh_prints
from ..scans import datum

MARK = "padwright_drawn"  # on curves that were made here: what for
_AFTER_PAD = ("pad", "zones", "regions", "folds", "load", "shape")
_AFTER_ZONES = ("zones", "regions", "folds", "load", "shape")


class Used(NamedTuple):
    """A curve that the part uses, what for, and whether it must be closed (None: either way)."""

    what: str
    curve: bpy.types.Object | None
    is_closed: bool | None


def relief_title(part: Any, index: int) -> str:
    """Return what a relief is called."""
    return part.reliefs[index].name or f"relief {index + 1}"


def used(part: Any, stage: str) -> Iterator[Used]:
    """Return the curves that a stage and those before it take."""
    if stage in _AFTER_PAD:
        if part.footprint is not None:
            yield Used("Footprint", part.footprint, True)
        for index, relief in enumerate(part.reliefs):
            title = relief_title(part, index)
            yield Used(title[:1].upper() + title[1:], relief.curve, True if relief.kind == "opening" else None)
    if stage in _AFTER_ZONES:
        for zone in part.zones:
            if zone.source == "outline" and not zone.is_painted:
                yield Used(f'Zone "{zone.name}"', zone.curve, True)


def fault_of_object(scene: bpy.types.Scene, use: Used) -> tuple[str, str]:
    """Return why an object cannot be drawn on at all and what to do, or two empty texts."""
    obj = use.curve
    if obj is None:
        return f"{use.what} has no curve.", "Draw one, or choose a curve object."
    if scene.objects.get(obj.name) != obj:
        return f'{use.what}: "{obj.name}" is not in this scene.', "Choose another curve, or clear the field."
    if obj.type != "CURVE":
        return f'{use.what}: "{obj.name}" is no curve.', "Choose a curve object."
    return "", ""


def fault(scene: bpy.types.Scene, use: Used) -> tuple[str, str]:
    """Return what is wrong with a curve and what to do, or two empty texts."""
    wrong = fault_of_object(scene, use)
    obj = use.curve
    if wrong[0] or obj is None:
        return wrong
    splines = obj.data.splines
    if len(splines) != 1:
        return f'{use.what}: "{obj.name}" has {len(splines)} splines.', "Leave one, or choose another curve."
    spline = splines[0]
    if use.is_closed and not spline.use_cyclic_u:
        return f'{use.what}: "{obj.name}" is open.', "Close it in Edit Mode: Curve, Toggle Cyclic."
    count = len(spline.bezier_points) if spline.type == "BEZIER" else len(spline.points)
    least = 2 if spline.type == "BEZIER" or not use.is_closed else 3
    if count < least:
        return f'{use.what}: "{obj.name}" has {count} of {least} points.', "Add points in Edit Mode."
    return "", ""


def missing(part: Any, stage: str) -> str:
    """Return in words what is wrong with what a stage takes from the artist's objects, or nothing."""
    scene = part.id_data
    envelope = part.envelope
    if envelope is not None and (envelope.type != "MESH" or scene.objects.get(envelope.name) != envelope):
        return f'Envelope: "{envelope.name}" is no mesh in this scene. Choose another object, or clear the field'
    if datum.missing(part):
        return datum.missing(part)
    if stage in _AFTER_PAD and envelope is not None and part.impression is None and part.press == "auto":
        return "Without an impression, give the press direction"
    for use in used(part, stage):
        wrong, todo = fault(scene, use)
        if wrong:
            return f"{wrong} {todo}".rstrip(".")
    return ""


def settings(part: Any, stage: str, *, is_drawing: bool) -> list[Any]:
    """Return what changes when the artist changes an object that this very stage takes; names do not count."""
    if stage == "scans":
        scans = [mesh_prints.of(obj, is_drawing=is_drawing) for obj in (part.base, part.impression)]
        return [*scans, part.datum, *([[tuple(place.numbers), place.is_set] for place in part.datum_places])]
    if stage == "pad":
        rows = [[r.name, r.kind, r.width_mm, r.depth_mm, r.edge_radius_mm, _shape(part, r.curve)] for r in part.reliefs]
        return [_shape(part, part.footprint), rows, _solid(part, is_drawing)]
    if stage == "zones":
        return [_shape(part, zone.curve) for zone in part.zones if zone.source == "outline"]
    return []


def scan_of(part: Any, obj: bpy.types.Object) -> str:
    """Return the scan whose numbers a curve's points are given in: the one it hangs on, else the base."""
    return "impression" if part.impression is not None and obj.parent == part.impression else "base"


def is_free(obj: bpy.types.Object) -> bool:
    """Return whether nothing but its own numbers places an object."""
    return obj.parent is None and not obj.constraints


def place_on(obj: bpy.types.Object, scan: bpy.types.Object) -> Matrix:
    """Return where an object lies in a scan object's coordinates.

    The same to the last bit before and after the object is hung on the scan, however the scan is scaled then.
    """
    if obj.parent == scan and obj.parent_type == "OBJECT" and not obj.constraints:
        return obj.matrix_parent_inverse @ obj.matrix_basis
    return scan.matrix_world.inverted_safe() @ (obj.matrix_basis if is_free(obj) else obj.matrix_world)


def _shape(part: Any, obj: bpy.types.Object | None) -> Any:
    """Return a short text of a curve's shape and place; it stays the same when a file is opened again."""
    if obj is None or obj.type != "CURVE" or part.base is None:
        return None
    said: list[Any] = [obj.data.resolution_u, [each.type for each in obj.modifiers]]
    scan = getattr(part, scan_of(part, obj))
    said += [round(each, 5) for row in place_on(obj, scan)[:3] for each in row]
    for spline in obj.data.splines:
        said += [spline.type, spline.use_cyclic_u, spline.resolution_u, spline.order_u, spline.use_endpoint_u]
        points, width = (spline.bezier_points, 3) if spline.type == "BEZIER" else (spline.points, 4)
        names = ("co", "handle_left", "handle_right") if spline.type == "BEZIER" else ("co",)
        for name in names:
            numbers = array("f", bytes(4 * width * len(points)))
            points.foreach_get(name, numbers)
            said.append(crc32(numbers.tobytes()))
    return said


def _solid(part: Any, is_drawing: bool) -> Any:
    obj = part.envelope
    if obj is None or obj.type != "MESH" or part.base is None:
        return None
    place, turn, _ = part.base.matrix_world.decompose()
    where = Matrix.LocRotScale(place, turn, None).inverted_safe() @ obj.matrix_world
    return [mesh_prints.of(obj, is_drawing=is_drawing), [round(each, 5) for row in where[:3] for each in row]]
