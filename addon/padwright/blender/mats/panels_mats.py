"""The pressure mat."""

import bpy

from .. import state
from ..panels import StagePanel, draw_legend, wrapped


class PADWRIGHT_PT_mat(StagePanel, bpy.types.Panel):
    """Pressure mat"""

    bl_label = "Pressure Mat"
    bl_order = 35
    bl_options = {"DEFAULT_CLOSED"}
    stage = "mats"
    does = "padwright.lay_mat"

    def draw_settings(self, context, layout, part):
        layout.prop(part, "mat_file")
        if not part.mat_file.strip():
            return
        for name in ("mat_unit", "mat_pitch_mm", "mat_frames"):
            layout.prop(part, name)
        if part.mat_frames == "one":
            layout.prop(part, "mat_frame")
        layout.prop(part, "mat_laid")
        if part.mat_laid != "places":
            layout.prop(part, "mat_pose")
        for name in ("mat_seen", "mat_measured_on", "mat_for_load"):
            layout.prop(part, name)

    def draw_more(self, context, layout, part):
        if state.done(part, "mats") is None:
            wrapped(layout, context, "Without a mat you need nothing here.", "INFO")
            return
        layout.operator("padwright.show_values", text="Show Mat").values = "mat"
        draw_legend(context, layout, part)
