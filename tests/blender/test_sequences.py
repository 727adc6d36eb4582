"""Buttons pressed at random, then taken back: the scene is as it was."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

BUTTONS = [
    ("prepare_scans", {}),
    ("align_scans", {}),
    ("read_impression", {}),
    ("build_pad", {}),
    ("plan_zones", {}),
    ("cut_regions", {}),
    ("check_load", {}),
    ("add_zone", {}),
    ("remove_zone", {}),
    ("move_zone", {"direction": "up"}),
    ("move_zone", {"direction": "down"}),
    ("add_length", {}),
    ("remove_length", {}),
    ("set_length_end", {"end": "start"}),
    ("add_pair", {}),
    ("set_pair_point", {"scan": "base"}),
    ("remove_pair", {}),
    ("drop_paint", {}),
]


def plain(value):
    """Return a property group, list or value as something that can be compared."""
    if isinstance(value, bpy.types.PropertyGroup):
        return {
            prop.identifier: plain(getattr(value, prop.identifier))
            for prop in value.bl_rna.properties
            if prop.identifier != "rna_type"
        }
    if isinstance(value, bpy.types.ID):
        return value.name
    if isinstance(value, (str, bool, int, float, type(None))):
        return value
    return [plain(each) for each in value]


def everything():
    """Return all that the add-on may have changed."""
    bpy.context.view_layer.update()
    objects = {}
    for obj in bpy.data.objects:
        mesh = obj.data
        flat = np.zeros(3 * len(mesh.vertices) if mesh else 0, dtype=np.float32)
        if mesh:
            mesh.vertices.foreach_get("co", flat)
        objects[obj.name] = (
            [tuple(row) for row in obj.matrix_world],
            flat.tobytes(),
            sorted(each.name for each in mesh.attributes) if mesh else None,
            sorted(group.name for group in obj.vertex_groups) if mesh else None,
            sorted((key, str(obj[key])) for key in obj.keys()),
            obj.hide_get(),
        )
    collections = {each.name: sorted(obj.name for obj in each.objects) for each in bpy.data.collections}
    return objects, collections, plain(bpy.context.scene.padwright)


@pytest.mark.parametrize("seed", range(8))
def test_undo_brings_back_the_scene_after_any_sequence(part, seed):
    chance = np.random.default_rng(seed)
    for _ in range(int(chance.integers(0, 4))):  # begin somewhere on the way
        press(chance)
    bpy.ops.ed.undo_push(message="begin")
    before = everything()
    pressed = []
    for _ in range(12):
        pressed += press(chance)
    for _ in pressed:
        bpy.ops.ed.undo()
    assert everything() == before, pressed


def press(chance):
    name, values = BUTTONS[int(chance.integers(len(BUTTONS)))]
    operator = getattr(bpy.ops.padwright, name)
    try:
        return [name] if operator("EXEC_DEFAULT", True, **values) == {"FINISHED"} else []
    except RuntimeError:  # something is missing and was said; nothing may have changed
        return []
