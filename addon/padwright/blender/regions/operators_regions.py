"""Cut the pad into regions and show them in a collection, colored by firmness."""

import bpy
from bpy.props import EnumProperty, IntProperty

from ...core.base.text import counted
from .. import reporting, state
from ..stage_work import WRITERS, StageWork, part_pose
from ..view import shading
from .hand_edits import COLLECTION

LEVEL = "padwright_level"


class PADWRIGHT_OT_cut_regions(StageWork, bpy.types.Operator):
    """Cut the pad along its zones into closed regions, one object each"""

    bl_idname = "padwright.cut_regions"
    bl_label = "Cut Regions"
    bl_options = {"REGISTER", "UNDO"}
    stage = "regions"


class PADWRIGHT_OT_select_region(bpy.types.Operator):
    """Select the object of this region"""

    bl_idname = "padwright.select_region"
    bl_label = "Select Region"
    bl_options = {"REGISTER", "UNDO"}

    index: IntProperty(name="Region", description="Its place in the list, from 0", min=0)

    @classmethod
    def poll(cls, context):
        """Need regions."""
        if context.mode != "OBJECT":
            return reporting.allowed(cls, "Go back to Object Mode first")
        return reporting.allowed(cls, "" if len(context.scene.padwright.found.regions) else "Cut the regions first")

    @reporting.told
    def execute(self, context):
        """Show it, select it alone, and make its row the active one."""
        from ...core.base.errors import InputError

        found = context.scene.padwright.found
        index = min(self.index, len(found.regions) - 1)
        row = found.regions[index]
        if row.obj is None or row.obj.name not in context.view_layer.objects:
            raise InputError(f'The object of "{row.name}" is gone.', hint="Cut the regions again.")
        for obj in context.selected_objects:
            obj.select_set(False)
        row.obj.hide_set(False)
        row.obj.select_set(True)
        context.view_layer.objects.active = row.obj
        found.region_index = index
        return {"FINISHED"}


class PADWRIGHT_OT_show_regions(bpy.types.Operator):
    """Show the regions in the colors of their levels, or the whole pad"""

    bl_idname = "padwright.show_regions"
    bl_label = "Show Regions"
    bl_options = {"REGISTER", "UNDO"}

    what: EnumProperty(
        name="What",
        description="What is shown",
        items=[
            ("regions", "Regions", "The regions in the colors of their levels"),
            ("pad", "Pad", "The pad as it was built"),
        ],
    )

    @classmethod
    def poll(cls, context):
        """Need regions."""
        return reporting.allowed(cls, "" if len(context.scene.padwright.found.regions) else "Cut the regions first")

    def execute(self, context):
        """Hide one, show the other."""
        from ..view import value_colors
        from . import hand_edits

        part = context.scene.padwright
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
        return {"FINISHED"}


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
        result = drain(do_stage(STAGES[-1], result, scene.work_folder(), steps=1))
    load_view.write_settings(part, result)
    part.found.region_index = min(part.found.region_index, max(0, len(part.found.regions) - 1))
    show_material_colors(context, True)
    state.hide(part.pad, True)
    state.show_scans(part, base=False, impression=False)
    volumes = ", ".join(f"{each.name} {each.volume_cm3:.1f} cm3" for each in result.regions.regions)
    return f"{counted(len(result.regions.regions), 'region')}: {volumes}", result.regions.notes


WRITERS["regions"] = _write_regions

CLASSES = (PADWRIGHT_OT_cut_regions, PADWRIGHT_OT_select_region, PADWRIGHT_OT_show_regions)
