"""What the body left in the clay, and the pad."""

import bpy

from .panels import StagePanel


class PADWRIGHT_PT_impression(StagePanel, bpy.types.Panel):
    """Impression"""

    bl_idname = "PADWRIGHT_PT_impression"
    bl_label = "Impression"
    bl_order = 30
    stage = "reading"

    def draw_settings(self, context, layout, part):
        """Draw how it is read."""
        layout.prop(part, "press")
        if part.press == "given":
            layout.prop(part, "press_vector")
        layout.prop(part, "clay_thickness_mm")
        layout.prop(part, "spacing_mm")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.read_impression")


class PADWRIGHT_PT_pad(StagePanel, bpy.types.Panel):
    """Pad"""

    bl_idname = "PADWRIGHT_PT_pad"
    bl_label = "Pad"
    bl_order = 40
    stage = "pad"

    def draw_settings(self, context, layout, part):
        """Draw its shape."""
        for name in ("fit_gap_mm", "least_thickness_mm", "rim_radius_mm", "cover_mm"):
            layout.prop(part, name)

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.build_pad")


CLASSES = (
    PADWRIGHT_PT_impression,
    PADWRIGHT_PT_pad,
)
