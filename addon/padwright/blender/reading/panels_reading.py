"""What the body left in the clay."""

import bpy

from .. import state
from ..panels import StagePanel, wrapped


class PADWRIGHT_UL_centers(bpy.types.UIList):
    """Load centers."""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, index=0):
        layout.use_property_split = False
        split = layout.split(factor=0.66, align=True)
        row = split.row(align=True)
        row.prop(item, "is_used", text="")
        named = row.split(factor=0.2, align=True)
        named.label(text=str(item.number or index + 1))  # as in the viewport
        named.prop(item, "name", text="", emboss=False, placeholder="name")
        split.label(
            text="deleted" if state.is_unmarked(item) else f"{item.depth_mm:.1f} mm" if item.number else "not found"
        )


class PADWRIGHT_PT_impression(StagePanel, bpy.types.Panel):
    """Impression"""

    bl_label = "Impression"
    bl_order = 30
    stage = "reading"
    does = "padwright.read_impression"

    def draw_settings(self, context, layout, part):
        layout.prop(part, "press")
        if part.press == "given":
            layout.prop(part, "press_vector")
        if not part.shows_body:
            layout.prop(part, "clay_thickness_mm")
        for name in ("spacing_mm", "body_side_smoothing_mm", "average_sides"):
            layout.prop(part, name)

    def draw_more(self, context, layout, part):
        if not len(part.centers):
            return
        layout.label(text="Load Centers")
        layout.template_list("PADWRIGHT_UL_centers", "", part, "centers", part, "center_index", rows=3)
        wrapped(layout, context, "Switch off what is none, then read again.", "INFO")
        center = state.row_at(part.centers, part.center_index)
        if center is not None and center.why and not center.is_used:
            wrapped(layout, context, f"Not used: {center.why}.", "DOT")
