"""Cut the pad into regions and show them in a collection, colored by firmness."""

import bpy
from bpy.props import EnumProperty, IntProperty

from ...core.base.errors import InputError
from ...core.base.text import counted
from .. import state
from ..button import Button
from ..stage_work import WRITERS, StageWork, part_pose
from ..view import shading
from .hand_edits import COLLECTION

LEVEL = "padwright_level"


class PADWRIGHT_OT_cut_regions(StageWork, bpy.types.Operator):
    """Cut the pad along its zones into closed regions, one object each"""

    bl_label = "Cut Regions"
    stage = "regions"


class PADWRIGHT_OT_select_region(Button, bpy.types.Operator):
    """Select the object of this region"""

    bl_label = "Select Region"
    modes = {"OBJECT"}

    index: IntProperty(name="Region", description="Its place in the list, from 0", min=0)

    @classmethod
    def missing(cls, context, part):
        return "" if len(part.found.regions) else "Cut the regions first"

    def act(self, context, part):
        found = part.found
        index = min(self.index, len(found.regions) - 1)
        row = found.regions[index]
        if row.obj is None or row.obj.name not in context.view_layer.objects:
            raise InputError(f'The object of "{row.name}" is gone.', hint="Cut the regions again.")
        state.select_only(context, row.obj)
        found.region_index = index


class PADWRIGHT_OT_show_regions(Button, bpy.types.Operator):
    """Show the regions in the colors of their levels, or the whole pad"""

    bl_label = "Show Regions"

    what: EnumProperty(
        name="What",
        description="What is shown",
        items=[
            ("regions", "Regions", "The regions in the colors of their levels"),
            ("pad", "Pad", "The pad as it was built"),
        ],
    )

    @classmethod
    def missing(cls, context, part):
        return "" if len(part.found.regions) else "Cut the regions first"

    def act(self, context, part):
        from ..view import value_colors
        from . import hand_edits

        if part.view.is_colored:
            value_colors.clear(context)
        is_regions = self.what == "regions"
        if part.pad is not None and part.pad.name in context.view_layer.objects:
            if context.mode != "OBJECT":
                bpy.ops.object.mode_set(mode="OBJECT")
            part.pad.hide_set(is_regions)
        for obj in hand_edits.regions(context.scene).values():
            if obj.name in context.view_layer.objects:
                obj.hide_set(not is_regions)
        show_material_colors(context, is_regions)


_COLORLESS = {"SINGLE", "RANDOM", "VERTEX"}


def show_material_colors(context, is_on):
    """Let the viewport show colors of levels where its own setting hides them; or put that setting back."""
    space = context.space_data
    if space is None or space.type != "VIEW_3D":
        return
    if is_on and space.shading.color_type in _COLORLESS:
        shading.change("regions", space.shading, {"color_type": "MATERIAL"})
    elif not is_on:
        shading.put_back("regions", [space.shading])


def _write_regions(context, result):
    from ...core.base.progress import drain
    from ...core.run.pipeline import do_stage
    from ...core.run.stages import STAGES
    from .. import bridge, scene
    from ..load import load_view
    from ..view import value_colors
    from . import hand_edits, level_look

    part = context.scene.padwright
    if part.view.is_colored:
        value_colors.clear(context)
    part.found.regions.clear()
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
        level_look.dress(obj, result.family, region.firmness_level)
        place.objects.link(obj)
        hand_edits.name_region(obj, region.id)
        row = part.found.regions.add()
        row.name, row.region, row.obj = region.name, region.id, obj
        row.level = row.wished_level = region.firmness_level
        row.volume_cm3 = region.volume_cm3
        row.level_name = result.family.level_name(region.firmness_level)
    if result.firmness is None:  # the settings by level are known before any load is
        load = next(stage for stage in STAGES if stage.name == "load")
        without_walls = result.having("folds", None, ())
        result = drain(do_stage(load, without_walls, scene.work_folder(), steps=1))
    load_view.write_settings(part, result)
    part.found.region_index = min(part.found.region_index, max(0, len(part.found.regions) - 1))
    show_material_colors(context, True)
    for obj in state.made(part):
        state.hide(obj, True)
    state.show_scans(part, base=False, impression=False)
    volumes = ", ".join(f"{each.name} {each.volume_cm3:.1f} cm3" for each in result.regions.regions)
    return f"{counted(len(result.regions.regions), 'region')}: {volumes}", result.regions.notes


WRITERS["regions"] = _write_regions
