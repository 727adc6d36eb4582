"""Between the artist's curve objects and points in a scan's own numbers."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector

from ...core.base.errors import InputError
from ...core.base.mesh import Float
from .. import bridge, state
from ..bridge import as_typed, unit_mm
from . import drawn

COLLECTION = "Outlines"
MATERIAL = "Padwright Outline"
COLOR = (1.0, 0.08, 0.38, 1.0)  # linear; stands out from clay, from the levels and from what is selected
_LINE_MM = 0.6  # half of how thick the line of a drawn curve is shown
_LEAST_AREA_MM2 = 1.0  # what a closed curve must surround


def read_points(context: bpy.types.Context, use: drawn.Used) -> tuple[list[list[float]], str]:
    """Return a curve's points in a scan's own numbers, as short as 32 bits allow, and the scan's name.

    Raises InputError when the curve cannot be used; the message says why.
    """
    wrong, todo = drawn.fault(context.scene, use)
    if wrong:
        raise InputError(wrong, hint=todo)
    obj, part = use.curve, context.scene.padwright
    name = drawn.scan_of(part, obj)
    scan = getattr(part, name)
    line = _line(context, obj)
    factors = bridge.scan_factors(scan, context.scene, unit_mm(part, name))
    place = drawn.place_on(obj, scan)
    if place != Matrix.Identity(4):
        matrix = np.array(place, dtype=np.float64)
        line = line @ matrix[:3, :3].T + matrix[:3, 3]
    points = line * factors
    is_cyclic = obj.data.splines[0].use_cyclic_u
    points = _without_repeats(points, is_cyclic)
    _check(use, obj, points, unit_mm(part, name))
    if is_cyclic and not use.is_closed:
        points = np.concatenate([points, points[:1]])
    return [as_typed(point) for point in points.tolist()], name


def _check(use: drawn.Used, obj: bpy.types.Object, points: Float, mm: float) -> None:
    least = 3 if use.is_closed else 2
    if len(points) < least:
        raise InputError(
            f'{use.what}: "{obj.name}" has {len(points)} different points; {least} are needed.',
            hint="Add points in Edit Mode.",
        )
    if use.is_closed:
        area = 0.5 * np.linalg.norm(np.cross(points, np.roll(points, -1, axis=0)).sum(axis=0)) * mm**2
        if area < _LEAST_AREA_MM2:
            raise InputError(f'{use.what}: "{obj.name}" surrounds {area:.1f} mm2.', hint="Draw it around an area.")


def _without_repeats(points: Float, is_cyclic: bool) -> Float:
    is_new = np.ones(len(points), dtype=bool)
    is_new[1:] = (points[1:] != points[:-1]).any(axis=1)
    points = points[is_new]
    return points[:-1] if is_cyclic and len(points) > 1 and (points[0] == points[-1]).all() else points


def _line(context: bpy.types.Context, obj: bpy.types.Object) -> Float:
    """Return the line of a curve object as it is seen, (n, 3), its own coordinates."""
    curve = obj.data
    if obj.mode == "EDIT":
        raise InputError(f'"{obj.name}" is in Edit Mode.', hint="Press Tab to leave it.")
    spline = curve.splines[0]
    if spline.type == "POLY" and not obj.modifiers and curve.shape_keys is None:
        flat = np.zeros(4 * len(spline.points), dtype=np.float32)
        spline.points.foreach_get("co", flat)
        return flat.reshape(-1, 4)[:, :3].astype(np.float64)
    is_thick = curve.bevel_depth or curve.extrude or curve.bevel_object or curve.fill_mode in {"FRONT", "BACK", "BOTH"}
    if not obj.modifiers:
        return _thin_line(obj) if is_thick else _wire(obj, obj)
    if not obj.visible_get():  # the modeller does not work out modifiers of what is hidden
        raise InputError(f'"{obj.name}" is hidden and has modifiers.', hint="Show it, or apply them.")
    if is_thick:
        raise InputError(f'"{obj.name}" has modifiers and a bevel.', hint="Apply the modifiers, or take the bevel off.")
    return _wire(obj.evaluated_get(context.evaluated_depsgraph_get()), obj)


def _thin_line(obj: bpy.types.Object) -> Float:
    """Return the line of a curve that is shown as a tube or a face."""
    curve = obj.data.copy()
    curve.bevel_mode, curve.bevel_depth, curve.extrude, curve.bevel_object = "ROUND", 0.0, 0.0, None
    curve.fill_mode = "NONE" if curve.dimensions == "2D" else "FULL"
    stand_in = bpy.data.objects.new(obj.name, curve)
    try:
        return _wire(stand_in, obj)
    finally:
        bpy.data.objects.remove(stand_in)
        bpy.data.curves.remove(curve)


def _wire(shown: bpy.types.Object, obj: bpy.types.Object) -> Float:
    mesh = shown.to_mesh()
    try:
        count = len(mesh.vertices)
        edges = np.zeros(2 * len(mesh.edges), dtype=np.int32)
        mesh.edges.foreach_get("vertices", edges)
        flat = np.zeros(3 * count, dtype=np.float32)
        mesh.vertices.foreach_get("co", flat)
    finally:
        shown.to_mesh_clear()
    edges = edges.reshape(-1, 2)
    row = np.column_stack([np.arange(len(edges)), np.arange(1, len(edges) + 1) % max(count, 1)])
    is_one_line = count - 1 <= len(edges) <= count and np.array_equal(np.sort(edges, axis=1), np.sort(row, axis=1))
    if not is_one_line:
        raise InputError(
            f'"{obj.name}" is no single line: {count} points and {len(edges)} edges.',
            hint="Take off what makes faces or copies of it.",
        )
    return flat.reshape(-1, 3).astype(np.float64)


def make_curve(
    context: bpy.types.Context, what: str, name: str, local: Float, scan: bpy.types.Object, *, is_closed: bool,
    is_smooth: bool,
) -> bpy.types.Object:  # fmt: skip
    """Return a new curve object that hangs on a scan object, with points in that object's coordinates, (n, 3)."""
    data = bpy.data.curves.new(name, "CURVE")
    data.dimensions = "3D"
    spline = data.splines.new("BEZIER" if is_smooth else "POLY")
    points = spline.bezier_points if is_smooth else spline.points
    points.add(len(local) - 1)
    places = np.asarray(local, dtype=np.float32)
    if not is_smooth:
        places = np.column_stack([places, np.ones(len(places), dtype=np.float32)])
    points.foreach_set("co", np.ascontiguousarray(places).ravel())
    for point in points if is_smooth else ():
        point.handle_left_type = point.handle_right_type = "AUTO"
    spline.use_cyclic_u = is_closed
    data.bevel_depth = _LINE_MM / (
        bridge.mm_per_scene_unit(context.scene) * max(abs(each) for each in bridge.world_scale(scan))
    )
    data.materials.append(_material())
    obj = bpy.data.objects.new(name, data)
    obj.parent = scan  # so that it goes with the scan when that is moved, or scaled to its true size
    obj[drawn.MARK] = what
    obj.show_in_front, obj.color = True, COLOR
    state.collection(context.scene, COLLECTION).objects.link(obj)
    return obj


def _material() -> bpy.types.Material:
    """Return the material that shows drawn curves, made when it is not there."""
    found = bpy.data.materials.get(MATERIAL)
    if found is None or found.library is not None:
        found = bpy.data.materials.new(MATERIAL)
        found.diffuse_color = COLOR
    return found


def curve_of_numbers(
    context: bpy.types.Context, what: str, name: str, points: Any, on: str, *, is_closed: bool
) -> bpy.types.Object:
    """Return a new curve object through points of a job, given in a scan's own numbers.

    Raises InputError when they lie on an impression that there is not.
    """
    part = context.scene.padwright
    scan = getattr(part, on)
    if scan is None:
        raise InputError(f"Points of {name} lie on the {on} scan, and there is none.", hint="Mend the job file.")
    local = np.asarray(points, dtype=np.float64) / bridge.scan_factors(scan, context.scene, unit_mm(part, on))
    return make_curve(context, what, name, local, scan, is_closed=is_closed, is_smooth=False)


def mirrored_curve(context: bpy.types.Context, curve: bpy.types.Object, plane: Any, pose: Matrix) -> bpy.types.Object:
    """Return a copy of a curve object with its points mirrored.

    Parameters
    ----------
    plane : SidePlane
        Part frame, mm.
    pose : Matrix
        Of the part frame in the scene.
    """
    context.view_layer.update()
    normal = np.asarray(plane.normal, dtype=np.float64)
    matrix = np.eye(4)
    matrix[:3, :3] -= 2.0 * np.outer(normal, normal)
    matrix[:3, 3] = 2.0 * float(normal @ plane.point) * normal / bridge.mm_per_scene_unit(context.scene)
    world = curve.matrix_world
    local = world.inverted_safe() @ pose @ Matrix(matrix.tolist()) @ pose.inverted_safe() @ world
    made = curve.copy()
    made.data = curve.data.copy()
    for spline in made.data.splines:
        for point in spline.bezier_points:
            ends = [local @ end for end in (point.handle_left, point.co, point.handle_right)]
            point.handle_left, point.co, point.handle_right = ends
        for point in spline.points:
            point.co = Vector((*(local @ point.co.to_3d()), point.co[3]))
    for collection in curve.users_collection:
        collection.objects.link(made)
    return made


def hang_on_base(context: bpy.types.Context) -> None:
    """Hang the curves in use on the base scan, where they are: it may be scaled to its true size now."""
    part = context.scene.padwright
    for use in drawn.used(part, "load"):
        obj = use.curve
        if part.base is None or drawn.fault(context.scene, use)[0]:
            continue
        if drawn.is_free(obj) and obj.library is None:
            inverse = part.base.matrix_world.inverted_safe()
            obj.parent = part.base
            obj.matrix_parent_inverse = inverse


def remove_curve(obj: bpy.types.Object | None) -> None:
    """Remove a curve that was made here; one of the artist's own stays."""
    if obj is None or drawn.MARK not in obj:
        return
    data = obj.data
    bpy.data.objects.remove(obj)
    if data is not None and data.users == 0:
        bpy.data.curves.remove(data)
