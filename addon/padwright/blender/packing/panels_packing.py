"""The files of the part."""

import bpy

from .. import refusals, state
from ..panels import StagePanel, card, wrapped


class PADWRIGHT_PT_export(StagePanel, bpy.types.Panel):
    """Export"""

    bl_label = "Export"
    bl_order = 100
    stage = "export"

    def draw_settings(self, context, layout, part):
        layout.prop(part, "folder", placeholder="//out" if bpy.data.filepath else "choose one")
        layout.prop(part, "writes_stl")

    def draw_button(self, layout, part):
        layout.operator("padwright.export_part")
        layout.operator("padwright.export_selection")
        row = layout.row(align=True)
        row.operator("padwright.save_job", text="Save Job")
        row.operator("padwright.load_job", text="Load Job")

    def draw_more(self, context, layout, part):
        is_any = any("padwright_region" in obj for obj in context.selected_objects)
        if state.done(part, "regions") is not None and not is_any:
            wrapped(layout, context, "Select regions to export them by themselves.", "INFO")
        said, is_of_now = state.files_of(part)
        if said and (not is_of_now or refusals.of(part, "export") is not None):
            wrapped(layout, context, f"From before, no longer as the part is now: {said}", "FILE_REFRESH")
        elif said:
            wrapped(layout, context, said, "CHECKMARK")
        for caution in card(part).cautions:  # below, so that the buttons and what they say stay in sight
            wrapped(layout, context, caution.brief, "INFO" if caution.severity == "note" else "ERROR")
