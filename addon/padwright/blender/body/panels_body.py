"""The body pressed into virtual clay."""

import bpy

from .. import state
from ..panels import StagePanel, wrapped


class PADWRIGHT_PT_body(StagePanel, bpy.types.Panel):
    """Body"""

    bl_label = "Body"
    bl_order = 25
    stage = "body"
    does = "padwright.press_body"

    @classmethod
    def poll(cls, context):
        """Need a scan of the body instead of one of clay."""
        return super().poll(context) and state.is_wanted(context.scene.padwright, cls.stage)

    def draw_settings(self, context, layout, part):
        for name in ("clay_thickness_mm", "imprint_depth_mm"):
            layout.prop(part, name)
        if part.imprint_depth_mm == 0.0 or part.clay_strength_kpa > 0.0:  # both are refused: then both are on show
            layout.prop(part, "clay_strength_kpa")
        for name in ("scan_load_share", "flesh_thickness_mm", "body_mass_kg", "share"):
            layout.prop(part, name)
        layout.label(text="Landmarks")
        row = layout.row()
        row.template_list("PADWRIGHT_UL_pairs", "", part, "pairs", part, "pair_index", rows=2)
        side = row.column(align=True)
        side.operator("padwright.add_pair", text="", icon="ADD")
        side.operator("padwright.remove_pair", text="", icon="REMOVE")
        layout.operator("padwright.pick_pairs", text="Pick Landmarks on Scans")
        complete = sum(pair.has_base and pair.has_impression for pair in part.pairs)
        if complete < 3:
            wrapped(
                layout, context, "Without three landmarks the body is pressed from where it lies in the scene.", "INFO"
            )
