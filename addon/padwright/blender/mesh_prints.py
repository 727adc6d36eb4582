"""A short text of what a mesh object holds: the same under another name, another after any change of it.

Panels ask at every redraw, so while drawing it is kept until the modeller says that the mesh has changed.
"""

from __future__ import annotations

from array import array
from typing import Any
from zlib import crc32

import bpy
from bpy.app.handlers import persistent

_known: dict[int, str] = {}  # by the mesh's session_uid, which lasts as long as the program runs
_ROUNDED = 6  # digits: turning an object rounds the scale it is seen at


def of(obj: bpy.types.Object | None, *, is_drawing: bool) -> list[Any] | None:
    """Return what tells an object's shape, colors and size; where it lies does not count."""
    if obj is None or obj.type != "MESH":
        return None
    key = obj.data.session_uid
    if not is_drawing or key not in _known:
        _known[key] = _content(obj.data)
    return [_known[key], [_modifier(each) for each in obj.modifiers], _numbers(obj)]


def _content(mesh: bpy.types.Mesh) -> str:
    from .bridge import CORNERS, OWN_COLORS, SHOWN  # not on enabling: it needs numpy

    found = [len(mesh.vertices), len(mesh.polygons)]
    for name, kind, width, values in (("position", "f", 3, "vector"), (CORNERS, "i", 1, "value")):
        layer = mesh.attributes.get(name)
        if layer is not None and len(layer.data):
            numbers = array(kind, bytes(4 * width * len(layer.data)))
            layer.data.foreach_get(values, numbers)
            found.append(crc32(numbers.tobytes()))
    if len(mesh.polygons) and len(mesh.loops) != 3 * len(mesh.polygons):
        totals = array("i", bytes(4 * len(mesh.polygons)))
        mesh.polygons.foreach_get("loop_total", totals)
        found.append(crc32(totals.tobytes()))
    colors = mesh.color_attributes.active_color
    if colors is not None and colors.name == SHOWN:
        colors = mesh.color_attributes.get(mesh.get(OWN_COLORS, ""))
    if colors is not None and colors.domain == "POINT" and len(colors.data):
        numbers = array("f", bytes(16 * len(colors.data)))
        colors.data.foreach_get("color", numbers)
        found.append(crc32(numbers.tobytes()))
    layer = next((each for each in mesh.uv_layers if each.active_render), None)
    if layer is not None and len(layer.data) and any(each is not None for each in mesh.materials):
        unwrapped = array("f", bytes(8 * len(mesh.loops)))
        layer.data.foreach_get("uv", unwrapped)
        found.append(crc32(unwrapped.tobytes()))
        found += [_pictures(each) for each in mesh.materials]
    return repr(found)


def _pictures(material: Any) -> list[Any]:
    """Return what tells the pictures of a material apart: painting on one makes it another, saving it another again."""
    nodes = material.node_tree.nodes if material is not None and material.node_tree is not None else ()
    images = [node.image for node in nodes if node.type == "TEX_IMAGE" and node.image is not None]
    return [[each.name, each.filepath, tuple(each.size), each.is_dirty] for each in images]


def _modifier(modifier: bpy.types.Modifier) -> list[Any]:
    plain = [
        str(getattr(modifier, each.identifier))
        for each in modifier.bl_rna.properties
        if each.type in {"BOOLEAN", "INT", "FLOAT", "ENUM", "STRING"}
        and not getattr(each, "is_array", False)
        and each.identifier not in _LOOKS
    ]
    own = modifier.items() if modifier.type == "NODES" else ()  # other kinds have none
    return [*plain, repr(sorted((key, str(value)) for key, value in own))]


_LOOKS = {"name", "show_expanded", "is_active", "execution_time", "persistent_uid", "show_on_cage", "show_in_editmode"}


def _numbers(obj: bpy.types.Object) -> list[float]:
    """Return the scan's own numbers per unit of the mesh's coordinates, as `bridge.scan_factors` has them."""
    from .bridge import NUMBERS, SCALE

    scale = obj.matrix_world.to_scale()
    if NUMBERS not in obj:
        return [float(f"{each:.{_ROUNDED}g}") for each in scale]
    ratio = [now / max(kept, 1e-30) for now, kept in zip(scale, obj[SCALE], strict=True)]
    ratio = [1.0 if abs(each - 1.0) < _SAME else each for each in ratio]
    return [float(f"{number * each:.{_ROUNDED}g}") for number, each in zip(obj[NUMBERS], ratio, strict=True)]


_SAME = 1e-5  # as in `bridge`


@persistent
def _on_change(_scene: Any, depsgraph: bpy.types.Depsgraph) -> None:
    for update in depsgraph.updates:
        if update.is_updated_geometry:
            found = update.id.original
            mesh = found.data if isinstance(found, bpy.types.Object) else found
            if mesh is not None:
                _known.pop(mesh.session_uid, None)


@persistent
def _on_other_data(*_: Any) -> None:
    _known.clear()


_HANDLERS = (
    ("depsgraph_update_post", _on_change),
    ("undo_post", _on_other_data),
    ("redo_post", _on_other_data),
    ("load_post", _on_other_data),
)


def start() -> None:
    """Let the modeller tell of changes."""
    stop()
    for kind, function in _HANDLERS:
        getattr(bpy.app.handlers, kind).append(function)


def stop() -> None:
    """Take back what `start` did."""
    for kind, function in _HANDLERS:
        there = getattr(bpy.app.handlers, kind)
        while function in there:
            there.remove(function)
    _known.clear()
