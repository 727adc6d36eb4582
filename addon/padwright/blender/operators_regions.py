"""Cut the pad into regions and show them in a collection, colored by firmness."""

import bpy

from . import state
from .hand_edits import COLLECTION
from .stage_work import WRITERS, StageWork, part_pose

LEVEL = "padwright_level"


class PADWRIGHT_OT_cut_regions(StageWork, bpy.types.Operator):
    """Cut the pad along its zones into closed regions, one object each"""

    bl_idname = "padwright.cut_regions"
    bl_label = "Cut Regions"
    bl_options = {"REGISTER", "UNDO"}
    stage = "regions"


def _write_regions(context, result):
    from . import bridge, hand_edits

    part = context.scene.padwright
    place = state.collection(context.scene, COLLECTION)
    old = [obj for obj in place.objects if LEVEL in obj and hand_edits.REGION not in obj]
    for obj in [*old, *hand_edits.regions(context.scene).values()]:
        state.remove_object(obj)
    pose = part_pose(context, result)
    factor = 1.0 / bridge.mm_per_scene_unit(context.scene)
    for region in result.regions.regions:
        name = f"{part.number} {region.name}"
        obj = bpy.data.objects.new(name, bridge.new_mesh(name, region.mesh, factor))
        obj.matrix_world = pose
        obj[LEVEL] = float(region.firmness_level)
        obj.data.materials.append(_material(result.family, region.firmness_level))
        obj.color = obj.data.materials[0].diffuse_color
        place.objects.link(obj)
        hand_edits.name_region(obj, region.id)
    if part.pad is not None:
        part.pad.hide_set(True)
    state.show_scans(part, base=False, impression=False)
    volumes = ", ".join(f"{each.name} {each.volume_cm3:.1f} cm3" for each in result.regions.regions)
    return f"{state.counted(len(result.regions.regions), 'region')}: {volumes}", result.regions.notes


def _material(family, level):
    """Return the material that shows a level, made when it is not there."""
    from ..core.output.thumbnail import firmness_color

    name = f"Padwright {family.id} {level:g}"
    found = bpy.data.materials.get(name)
    if found is None:
        found = bpy.data.materials.new(name)
        text = firmness_color(level, [each.display_color for each in family.levels])
        encoded = [int(text[start : start + 2], 16) / 255.0 for start in (1, 3, 5)]
        # The modeller takes linear light; IEC 61966-2-1 tells how sRGB is encoded.
        linear = [each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in encoded]
        found.diffuse_color = (*linear, 1.0)
    return found


WRITERS["regions"] = _write_regions

CLASSES = (PADWRIGHT_OT_cut_regions,)
