"""The files of the part."""

import bpy

from .. import refusals, state
from ..panels import StagePanel, card, fact, wrapped
from . import takes


class PADWRIGHT_PT_export(StagePanel, bpy.types.Panel):
    """Export"""

    bl_label = "Export"
    bl_order = 100
    stage = "export"

    def draw_settings(self, context, layout, part):
        layout.prop(part, "folder", placeholder="//out" if bpy.data.filepath else "choose one")
        layout.prop(part, "writes_stl")
        self.draw_takes(context, layout, part)

    def draw_takes(self, context, layout, part):
        """Draw what the print takes, and what that leaves out."""
        known, found = takes.known_from(part), part.found
        if not len(found.takes) or not found.takes_of.startswith(known):
            does = "the load is checked" if known == "load" else "the shape is made"
            wrapped(layout, context, f"Mass and hours are known once {does}.", "INFO")
            return
        box = layout.box().column(align=True)
        for row in found.takes:
            fact(box, row.name, row.now)
        wrapped(box, context, found.takes_not)
        if not takes.is_of_now(part):
            wrapped(box, context, "Of the part as it was before its settings changed.", "FILE_REFRESH")

    def draw_button(self, layout, part):
        layout.operator("padwright.export_part")
        layout.operator("padwright.export_selection")
        row = layout.row(align=True)
        row.operator("padwright.save_job", text="Save Job")
        row.operator("padwright.load_job", text="Load Job")
        row = layout.row(align=True)
        row.operator("padwright.open_page", text="Open Report").page = "report"
        row.operator("padwright.open_page", text="Open Sheet").page = "sheet"

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
