"""Regions, and the files of the part."""

import bpy

from .panels import StagePanel


class PADWRIGHT_PT_regions(StagePanel, bpy.types.Panel):
    """Regions"""

    bl_idname = "PADWRIGHT_PT_regions"
    bl_label = "Regions"
    bl_order = 60
    stage = "regions"

    def draw_settings(self, context, layout, part):
        """Draw how they meet."""
        layout.prop(part, "contact")
        if part.contact == "overlapping":
            layout.prop(part, "overlap_mm")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.cut_regions")


class PADWRIGHT_PT_export(StagePanel, bpy.types.Panel):
    """Export"""

    bl_idname = "PADWRIGHT_PT_export"
    bl_label = "Export"
    bl_order = 80
    stage = "export"

    def draw_settings(self, context, layout, part):
        """Draw where to."""
        layout.prop(part, "folder")
        layout.prop(part, "writes_stl")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.export_part")
        layout.operator("padwright.export_selection")
        row = layout.row(align=True)
        row.operator("padwright.save_job", text="Save Job")
        row.operator("padwright.load_job", text="Load Job")


CLASSES = (
    PADWRIGHT_PT_regions,
    PADWRIGHT_PT_export,
)
