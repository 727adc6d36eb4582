"""The pad, and what is cut into it."""

import bpy

from .. import state
from ..panels import SidePanel, StagePanel, draw_legend, wrapped
from . import drawn


class PADWRIGHT_UL_reliefs(bpy.types.UIList):
    """Reliefs."""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, _index=0):
        row = layout.row(align=True)
        row.prop(item, "name", text="", emboss=False, icon="MESH_CIRCLE" if item.kind == "opening" else "IPO_SINE")
        row.label(text="Opening" if item.kind == "opening" else f"{item.width_mm:.3g} x {item.depth_mm:.3g} mm")


class PADWRIGHT_PT_pad(StagePanel, bpy.types.Panel):
    """Pad"""

    bl_label = "Pad"
    bl_order = 40
    stage = "pad"
    does = "padwright.build_pad"

    def draw_settings(self, context, layout, part):
        for name in ("fit_gap_mm", "least_thickness_mm", "rim_radius_mm", "cover_mm"):
            layout.prop(part, name)
        layout.prop(part, "footprint")
        if part.footprint is None:
            layout.operator("padwright.draw_footprint")
        else:
            layout.operator("padwright.edit_curve", text="Edit Footprint").what = "footprint"
        if context.mode == "EDIT_CURVE":
            wrapped(layout, context, "Move the curve's points, then press Tab to go on.", "INFO")

    def draw_more(self, context, layout, part):
        if part.pad is not None:
            layout.operator("padwright.show_values", text="Show Thickness").values = "thickness"
            draw_legend(context, layout, part)


class PADWRIGHT_PT_reliefs(SidePanel, bpy.types.Panel):
    """Reliefs"""

    bl_label = "Reliefs and Envelope"
    bl_parent_id = "PADWRIGHT_PT_pad"

    def draw_all(self, context, layout, part):
        row = layout.row()
        row.template_list("PADWRIGHT_UL_reliefs", "", part, "reliefs", part, "relief_index", rows=2)
        row.column(align=True).operator("padwright.remove_relief", text="", icon="REMOVE")
        row = layout.row(align=True)
        row.operator("padwright.add_relief", text="Add Opening").kind = "opening"
        row.operator("padwright.add_relief", text="Add Channel").kind = "channel"
        relief = state.row_at(part.reliefs, part.relief_index)
        if relief is not None:
            self._draw_relief(context, layout, relief)
        layout.prop(part, "envelope")
        if part.envelope is not None:
            wrapped(layout, context, "The envelope takes the place of the clay.", "INFO")

    def _draw_relief(self, context, layout, relief):
        layout.prop(relief, "kind")
        layout.prop(relief, "curve")
        if relief.kind == "channel":
            layout.prop(relief, "width_mm")
            layout.prop(relief, "depth_mm")
        layout.prop(relief, "edge_radius_mm")
        is_closed = True if relief.kind == "opening" else None
        wrong, todo = drawn.fault(context.scene, drawn.Used("Relief", relief.curve, is_closed))
        if wrong:
            wrapped(layout, context, f"{wrong} {todo}", "ERROR")
        layout.operator("padwright.edit_curve").what = "relief"
