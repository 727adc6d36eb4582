"""Results on meshes: names, kinds, and how arrays get there and back."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np

THICKNESS = "padwright_thickness"  # mm
DEPTH = "padwright_imprint_depth"  # mm
CONTACT = "padwright_contact"  # is the body bearing there
SIDE = "padwright_side"  # 1 body side, 2 base side, 0 rim
ZONE = "padwright_zone"  # number of the zone with the largest share
MAT = "padwright_mat"  # what a pressure mat showed, kPa or of its own numbers
MAT_OFF = "padwright_mat_off"  # kPa predicted under the first load less what the mat showed
PRESSURE = "padwright_pressure"  # kPa under the first load
STRAIN = "padwright_strain"  # compression over thickness under the first load
WISHED = "padwright_wished_kpa"  # of folded walls, at the strain under the load
REACHED = "padwright_reached_kpa"
FIRMNESS = "padwright_firmness"  # level, blended by share

_KINDS = {"FLOAT": np.float32, "INT": np.int32, "BOOLEAN": np.bool_}
_STEPS = 255  # shares in vertex groups are written in so many steps: a brush knows no finer
_SAMPLE = 256  # so many vertices tell in how many groups one is
_CROWDED = 2.0  # with more groups a vertex the other way of reading them is the faster one; measured


def write(mesh: bpy.types.Mesh, name: str, values: np.ndarray) -> None:
    """Put one value a vertex on a mesh, (n,): real numbers, whole numbers or truths by the array's own kind."""
    kind = {"f": "FLOAT", "i": "INT", "u": "INT", "b": "BOOLEAN"}[values.dtype.kind]
    found = mesh.attributes.get(name)
    if found is not None and (found.data_type != kind or found.domain != "POINT"):
        mesh.attributes.remove(found)
        found = None
    if found is None:
        mesh.attributes.new(name, kind, "POINT")
    plain = np.nan_to_num(values) if kind == "FLOAT" else values
    mesh.attributes[name].data.foreach_set("value", np.ascontiguousarray(plain, dtype=_KINDS[kind]))


def read(mesh: bpy.types.Mesh, name: str) -> np.ndarray | None:
    """Return one value a vertex, (n,), or None when the mesh has no such attribute."""
    found = mesh.attributes.get(name)
    if found is None or found.data_type not in _KINDS:
        return None
    values = np.zeros(len(found.data), dtype=_KINDS[found.data_type])
    found.data.foreach_get("value", values)
    return values


def write_group(obj: bpy.types.Object, name: str, share: np.ndarray) -> None:
    """Put the share of every vertex, (n,) 0 to 1, into a vertex group; vertices without share leave it."""
    group = obj.vertex_groups.get(name) or obj.vertex_groups.new(name=name)
    step = np.round(np.clip(share, 0.0, 1.0) * _STEPS).astype(np.int64)
    group.remove(np.flatnonzero(step == 0).tolist())
    order = np.argsort(step, kind="stable")
    values, starts = np.unique(step[order], return_index=True)
    for value, members in zip(values.tolist(), np.split(order, starts[1:]), strict=True):
        if value:
            group.add(members.tolist(), value / _STEPS, "REPLACE")


def read_groups(obj: bpy.types.Object, names: list[str]) -> dict[str, np.ndarray]:
    """Return the share of every vertex, (n,) 0 to 1, in each of the vertex groups that the object has."""
    wanted = [group for group in obj.vertex_groups if group.name in names]
    count = len(obj.data.vertices)
    if not wanted:
        return {}
    # Vertex groups have no foreach_get. Asking each vertex for its groups takes longer the more it is in; a bmesh takes
    # the same time for any number. Both change nothing in the file, so that they may be done anywhere.
    some = [obj.data.vertices[index] for index in range(0, count, max(1, count // _SAMPLE))]
    if sum(len(vertex.groups) for vertex in some) <= _CROWDED * len(some):
        found = {group.index: np.zeros(count) for group in wanted}
        for vertex in obj.data.vertices:
            for each in vertex.groups:
                if each.group in found:
                    found[each.group][vertex.index] = each.weight
        return {group.name: found[group.index] for group in wanted}
    mesh = bmesh.new()
    try:
        mesh.from_mesh(obj.data, face_normals=False, vertex_normals=False)
        layer = mesh.verts.layers.deform.active
        if layer is None:
            return {group.name: np.zeros(count) for group in wanted}
        shares = [vertex[layer] for vertex in mesh.verts]
        return {
            group.name: np.fromiter((each.get(group.index, 0.0) for each in shares), dtype=np.float64, count=count)
            for group in wanted
        }
    finally:
        mesh.free()
