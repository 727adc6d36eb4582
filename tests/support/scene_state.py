"""All of a scene that the add-on may have changed, as plain values that can be compared."""

from __future__ import annotations

import hashlib
from typing import Any

import bpy
import numpy as np

_VALUES = {"FLOAT": "value", "INT": "value", "BOOLEAN": "value", "FLOAT_VECTOR": "vector", "BYTE_COLOR": "color_srgb"}
_WIDTHS = {"FLOAT_VECTOR": 3, "BYTE_COLOR": 4}


def plain(value: Any) -> Any:
    """Return a property group, list or value as something that can be compared."""
    if isinstance(value, bpy.types.PropertyGroup):
        names = [prop.identifier for prop in value.bl_rna.properties if prop.identifier != "rna_type"]
        return {name: plain(getattr(value, name)) for name in names}
    if isinstance(value, bpy.types.ID):
        return value.name_full
    if isinstance(value, (str, bool, int, float, type(None))):
        return value
    return [plain(each) for each in value]


def everything() -> dict[str, Any]:
    """Return what objects, meshes, collections, materials, the 3D cursor, the modes and the part are like."""
    bpy.context.view_layer.update()
    active = bpy.context.view_layer.objects.active
    scene = bpy.context.scene
    return {
        "objects": {obj.name_full: _object(obj) for obj in bpy.data.objects},
        "meshes": {mesh.name_full: _mesh(mesh) for mesh in bpy.data.meshes if mesh.users},
        "collections": {
            each.name: (sorted(obj.name for obj in each.objects), sorted(child.name for child in each.children))
            for each in [*bpy.data.collections, scene.collection]
        },
        "materials": {each.name: tuple(each.diffuse_color) for each in bpy.data.materials if each.users},
        "mode": bpy.context.mode,
        "active": active and active.name,
        "cursor": tuple(scene.cursor.location),
        "part": plain(scene.padwright),
    }


def _object(obj: bpy.types.Object) -> dict[str, Any]:
    is_in_scene = obj.name in bpy.context.view_layer.objects
    return {
        # What was deleted and is still pointed at has no place in the scene any more.
        "matrix": [tuple(row) for row in (obj.matrix_world if is_in_scene else obj.matrix_basis)],
        "data": obj.data and obj.data.name_full,
        "groups": [group.name for group in obj.vertex_groups],
        "own": sorted((key, plain(obj[key])) for key in obj.keys() if not key.startswith("cycles")),
        "shown": (is_in_scene and obj.hide_get(), is_in_scene and obj.select_get(), obj.display_type, obj.show_name),
        "color": tuple(obj.color),
        "parent": obj.parent and obj.parent.name,
        "modifiers": [modifier.name for modifier in obj.modifiers],
    }


def _mesh(mesh: bpy.types.Mesh) -> dict[str, Any]:
    return {
        "size": (len(mesh.vertices), len(mesh.edges), len(mesh.polygons)),
        "values": {each.name: _digest(each) for each in mesh.attributes if each.data_type in _VALUES},
        "shares": _shares(mesh),
        "materials": [each and each.name for each in mesh.materials],
        "shown color": mesh.color_attributes.active_color_name,
    }


def _digest(attribute: bpy.types.Attribute) -> str:
    kind = {"INT": np.int32, "BOOLEAN": bool}.get(attribute.data_type, np.float32)
    values = np.zeros(len(attribute.data) * _WIDTHS.get(attribute.data_type, 1), dtype=kind)
    attribute.data.foreach_get(_VALUES[attribute.data_type], values)
    return hashlib.sha256(values.tobytes()).hexdigest()[:16]


def _shares(mesh: bpy.types.Mesh) -> str:
    """Return a digest of all vertex groups' shares."""
    users = [obj for obj in bpy.data.objects if obj.data == mesh and obj.vertex_groups]
    if not users:
        return ""
    found = [(each.group, round(each.weight, 6)) for vertex in mesh.vertices for each in vertex.groups]
    return hashlib.sha256(repr(found).encode()).hexdigest()[:16]


def differences(first: Any, second: Any, place: str = "") -> list[str]:
    """Return where two such values differ, one line a place."""
    if isinstance(first, dict) and isinstance(second, dict):
        found = [f"{place}/{key}: only in one" for key in first.keys() ^ second.keys()]
        for key in first.keys() & second.keys():
            found += differences(first[key], second[key], f"{place}/{key}")
        return sorted(found)
    return [] if first == second else [f"{place}: {first!r:.150} != {second!r:.150}"]
