"""Between the modeller's objects and the core's arrays; the only place that knows scene units and object transforms.

A scan object keeps two things for itself: the factors from its mesh's coordinates to the scan's own numbers, and the
object scale they hold for. As long as nobody scales the object, the scan's numbers are exactly those of its mesh,
whatever the scene's unit and however the object is moved, turned or shown at its corrected size.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector

from ..core.base.errors import InputError
from ..core.base.mesh import Float, TriMesh
from ..core.base.units import mm_per_unit

NUMBERS = "padwright_numbers"  # the scan's own numbers per unit of the mesh's coordinates, one a coordinate
SCALE = "padwright_scale"  # the object scale NUMBERS holds for
SHOWN = "padwright_shown"  # colors that show values; never those of the scan
OWN_COLORS = "padwright_own_colors"  # the color attribute that was on show before them
OWN_NUMBERS = "padwright_own_numbers"  # on a picture: its coordinates are its numbers, however large it is shown
CORNERS = ".corner_vert"  # the modeller's own name; fifty times as fast as asking each corner for its vertex
SCANS = ("base", "impression")
_SHEAR = 1e-4
_ROUNDING = 1e-5


def unit_mm(part: Any, scan: str) -> float:
    """Return how many mm one of a scan's own numbers is; what is no scan, as the pad, is numbered in mm."""
    return mm_per_unit(getattr(part, f"{scan}_unit")) if scan in SCANS else 1.0


def as_typed(value: Any) -> Any:
    """Return a property's value as it was typed: the shortest number that the modeller's 32 bits stand for."""
    if isinstance(value, float):
        return float(str(np.float32(value)))
    if isinstance(value, (str, bool, int)):
        return value
    return [as_typed(float(each)) for each in value]


def mm_per_scene_unit(scene: bpy.types.Scene) -> float:
    """Return how many mm one unit of the scene is; the unit shown on screen does not count."""
    return 1000.0 * float(scene.unit_settings.scale_length)


def read_mesh(obj: bpy.types.Object, depsgraph: bpy.types.Depsgraph | None = None) -> TriMesh:
    """Return an object's triangles in its own coordinates, with its vertex colors; modifiers count.

    Raises InputError when it has no face, is being edited, or is hidden and has modifiers.
    """
    if obj.mode == "EDIT":
        raise InputError(f'"{obj.name}" is in Edit Mode.', hint="Press Tab to leave it.")
    if depsgraph is None or not obj.modifiers:
        return _triangles(obj.data, obj.name)
    if not obj.visible_get():  # the modeller does not work out modifiers of what is hidden
        raise InputError(f'"{obj.name}" is hidden and has modifiers.', hint="Show it, or apply them.")
    evaluated = obj.evaluated_get(depsgraph)
    mesh = evaluated.to_mesh()
    try:
        return _triangles(mesh, obj.name)
    finally:
        evaluated.to_mesh_clear()


def _triangles(mesh: bpy.types.Mesh, name: str) -> TriMesh:
    if not mesh.polygons:
        raise InputError(f'"{name}" has {len(mesh.vertices)} vertices and no face.', hint="Choose another object.")
    points = np.zeros(3 * len(mesh.vertices), dtype=np.float32)
    mesh.attributes["position"].data.foreach_get("vector", points)
    if len(mesh.loops) == 3 * len(mesh.polygons):  # triangles only: no face has fewer corners
        corners = np.zeros(len(mesh.loops), dtype=np.int32)
        mesh.attributes[CORNERS].data.foreach_get("value", corners)
    else:
        mesh.calc_loop_triangles()
        corners = np.zeros(3 * len(mesh.loop_triangles), dtype=np.int32)
        mesh.loop_triangles.foreach_get("vertices", corners)
    return TriMesh(points.reshape(-1, 3).astype(np.float64), corners.reshape(-1, 3), _colors(mesh))


def mesh_places(obj: bpy.types.Object) -> Float:
    """Return the places of an object's own vertices, (n, 3), in its own coordinates; modifiers do not count."""
    places = np.zeros(3 * len(obj.data.vertices), dtype=np.float32)
    obj.data.attributes["position"].data.foreach_get("vector", places)
    return places.reshape(-1, 3).astype(np.float64)


def _colors(mesh: bpy.types.Mesh) -> np.ndarray | None:
    layer = mesh.color_attributes.active_color
    if layer is not None and layer.name == SHOWN:
        layer = mesh.color_attributes.get(mesh.get(OWN_COLORS, ""))
    if layer is None or layer.domain != "POINT":
        return None
    values = np.zeros(4 * len(mesh.vertices), dtype=np.float32)
    layer.data.foreach_get("color_srgb", values)
    return np.round(255.0 * np.clip(values, 0.0, 1.0)).astype(np.uint8).reshape(-1, 4)


def new_mesh(name: str, mesh: TriMesh, factor: float = 1.0) -> bpy.types.Mesh:
    """Return a new mesh of the modeller with the coordinates times a factor."""
    made = bpy.data.meshes.new(name)
    _fill(made, mesh, factor)
    return made


def refill(obj: bpy.types.Object, mesh: TriMesh, factor: float = 1.0) -> None:
    """Put other triangles into an object; what hangs on its old vertices goes."""
    obj.data.clear_geometry()
    obj.vertex_groups.clear()
    _fill(obj.data, mesh, factor)


def _fill(made: bpy.types.Mesh, mesh: TriMesh, factor: float) -> None:
    count = len(mesh.faces)
    made.vertices.add(len(mesh.vertices))
    made.attributes["position"].data.foreach_set("vector", _flat(mesh.vertices * factor, np.float32))
    made.loops.add(3 * count)
    made.attributes[CORNERS].data.foreach_set("value", _flat(mesh.faces, np.int32))
    made.polygons.add(count)
    made.polygons.foreach_set("loop_start", np.arange(0, 3 * count, 3, dtype=np.int32))
    made.update(calc_edges=True)
    first, second, third = mesh.faces.T
    is_sound = np.isfinite(mesh.vertices).all() and not ((first == second) | (second == third) | (third == first)).any()
    if not is_sound:  # it takes longer than all the rest here
        made.validate()
    if mesh.colors is not None:
        layer = made.color_attributes.new("Color", "BYTE_COLOR", "POINT")
        layer.data.foreach_set("color_srgb", _flat(mesh.colors / 255.0, np.float32))


def _flat(values: np.ndarray, kind: type) -> np.ndarray:
    return np.ascontiguousarray(values, dtype=kind).ravel()


def adopt_scan(obj: bpy.types.Object, numbers: Sequence[float]) -> None:
    """Say what an object's coordinates are in the scan's own numbers, at the scale it has now."""
    obj[NUMBERS] = [float(each) for each in numbers]
    obj[SCALE] = [float(each) for each in world_scale(obj)]


def world_scale(obj: bpy.types.Object) -> Vector:
    """Return the scale an object is seen at.

    Raises InputError when a parent's uneven scale slants it.
    """
    place, turn, scale = obj.matrix_world.decompose()
    rebuilt = Matrix.LocRotScale(place, turn, scale)
    size = max(abs(each) for each in scale)
    if size == 0.0 or any(
        abs(rebuilt[row][column] - obj.matrix_world[row][column]) > _SHEAR * size
        for row in range(3)
        for column in range(3)
    ):
        raise InputError(f'"{obj.name}" is slanted or flat by its parent\'s scale.', hint="Apply the parent's scale.")
    return scale


def scan_factors(obj: bpy.types.Object, scene: bpy.types.Scene, mm_per_number: float) -> Float:
    """Return what an object's coordinates are multiplied by to give the scan's own numbers, (3,)."""
    if OWN_NUMBERS in obj:
        return np.ones(3)
    scale = np.array(world_scale(obj))
    if NUMBERS not in obj:
        return scale * mm_per_scene_unit(scene) / mm_per_number
    ratio = scale / np.array(obj[SCALE])
    ratio[np.abs(ratio - 1.0) < _ROUNDING] = 1.0  # turning an object rounds the scale it is seen at
    return np.array(obj[NUMBERS]) * ratio


def scan_numbers(obj: bpy.types.Object, context: bpy.types.Context, mm_per_number: float) -> TriMesh:
    """Return a scan object's mesh in the scan's own numbers."""
    mesh = read_mesh(obj, context.evaluated_depsgraph_get())
    return mesh.transformed(np.diag([*scan_factors(obj, context.scene, mm_per_number), 1.0]))


def show_at_true_size(obj: bpy.types.Object, scene: bpy.types.Scene, mm_per_number: float, factor: float) -> None:
    """Scale a scan object so that it is seen at its true size; its mesh and its own numbers stay as they are."""
    numbers = scan_factors(obj, scene, mm_per_number)
    place, turn, _ = obj.matrix_world.decompose()
    size = Vector(numbers * mm_per_number * factor / mm_per_scene_unit(scene))
    obj.matrix_world = Matrix.LocRotScale(place, turn, size)
    obj[NUMBERS] = [float(each) for each in numbers]
    obj[SCALE] = [float(each) for each in size]


def pose_of(obj: bpy.types.Object) -> Matrix:
    """Return where an object is and how it is turned, without its scale, scene units."""
    place, turn, _ = obj.matrix_world.decompose()
    return Matrix.LocRotScale(place, turn, None)


def scene_matrix(matrix_mm: Float, scene: bpy.types.Scene) -> Matrix:
    """Return a rigid 4x4 in mm as one in scene units."""
    matrix = np.array(matrix_mm, dtype=np.float64)
    matrix[:3, 3] /= mm_per_scene_unit(scene)
    return Matrix(matrix.tolist())


def mm_matrix(matrix: Matrix, scene: bpy.types.Scene) -> Float:
    """Return a rigid 4x4 in scene units as one in mm."""
    found = np.array(matrix, dtype=np.float64)
    found[:3, 3] *= mm_per_scene_unit(scene)
    return found


def point_in_scan(obj: bpy.types.Object, world: Vector, scene: bpy.types.Scene, mm_per_number: float) -> Float:
    """Return a place in the scene in a scan object's own numbers, (3,)."""
    local = obj.matrix_world.inverted_safe() @ world
    return np.array(local) * scan_factors(obj, scene, mm_per_number)


def write_colors(mesh: bpy.types.Mesh, colors: Float) -> None:
    """Put a color a vertex that shows a value, (n, 4) sRGB 0 to 1, on a mesh; its own colors stay behind it."""
    active = mesh.color_attributes.active_color
    if active is not None and active.name != SHOWN:
        mesh[OWN_COLORS] = active.name
    found = mesh.attributes.get(SHOWN)
    if found is not None and (found.domain, found.data_type) != ("POINT", "BYTE_COLOR"):
        mesh.attributes.remove(found)
    if mesh.color_attributes.get(SHOWN) is None:
        mesh.color_attributes.new(SHOWN, "BYTE_COLOR", "POINT")
    mesh.color_attributes[SHOWN].data.foreach_set("color_srgb", _flat(colors, np.float32))
    mesh.color_attributes.active_color = mesh.color_attributes[SHOWN]


def drop_colors(mesh: bpy.types.Mesh) -> None:
    """Take away the colors that show a value, and show the mesh's own again."""
    found = mesh.color_attributes.get(SHOWN)
    if found is not None:
        mesh.color_attributes.remove(found)
    own = mesh.color_attributes.get(mesh.get(OWN_COLORS, ""))
    if own is not None:
        mesh.color_attributes.active_color = own
    mesh.pop(OWN_COLORS, None)
