"""What makes the part soft: settings of a fill, or folded walls."""

import bpy

from .. import state
from ..panels import StagePanel, wrapped


class PADWRIGHT_PT_fill(StagePanel, bpy.types.Panel):
    """Fill"""

    bl_label = "Fill"
    bl_order = 60
    stage = "folds"
    does = "padwright.lay_out_walls"

    def draw_all(self, context, layout, part):
        layout.prop(part, "fill_kind")
        if part.fill_kind == "folds":
            StagePanel.draw_all(self, context, layout, part)
        else:
            said = "Each region gets a fill for your print program to make."
            wrapped(layout, context, state.missing_base(part) or said, "INFO")

    def draw_settings(self, context, layout, part):
        wrapped(layout, context, "Theory so far: print the blocks of folded walls before a whole part.", "ERROR")
        layout.prop(part, "fill_layout")
        if part.fill_layout == "rows":
            layout.prop(part, "rows_run")
            if part.rows_run == "given":
                layout.prop(part, "run_vector")
            layout.operator("padwright.pick_run", text="Pick Direction on Pad")
        for name in ("wall_folds", "wall_beads", "wall_pitch_mm", "skin_layers"):
            layout.prop(part, name)
        wrapped(layout, context, "0: chosen for the zones' firmness.", "INFO")
        for name in ("most_slope_deg", "longest_bridge_mm", "least_core_mm", "voids"):
            layout.prop(part, name)
