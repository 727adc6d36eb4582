"""The pad, what is cut into it, and its own axes."""

import bpy

from ..panels import StagePanel, SubPanel, draw_legend, wrapped
from . import drawn


class PADWRIGHT_UL_reliefs(bpy.types.UIList):
    """Reliefs."""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, _index=0):
        """Draw one."""
        row = layout.row(align=True)
        row.prop(item, "name", text="", emboss=False, icon="MESH_CIRCLE" if item.kind == "opening" else "IPO_SINE")
        row.label(text="Opening" if item.kind == "opening" else f"{item.width_mm:.3g} x {item.depth_mm:.3g} mm")


class PADWRIGHT_PT_datum(SubPanel, bpy.types.Panel):
    """Part frame"""

    bl_idname = "PADWRIGHT_PT_datum"
    bl_label = "Part Frame"
    bl_parent_id = "PADWRIGHT_PT_scans"

    def draw(self, context):
        """Draw what the part's own axes are."""
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        part = context.scene.padwright
        layout.prop(part, "datum", text="Axes")
        if part.datum == "points":
            is_set = [place.is_set for place in part.datum_places] or [False] * len(drawn.DATUM_PLACES)
            for names in (drawn.DATUM_PLACES[:3], drawn.DATUM_PLACES[3:]):
                row = layout.row(align=True)
                for place, title, _ in names:
                    icon = "CHECKMARK" if is_set[int(place)] else "NONE"
                    row.operator("padwright.set_datum_point", text=title, icon=icon).place = place
            wrapped(layout, context, "At the selected vertex of the base, or at the 3D cursor.", "INFO")
            layout.operator("padwright.clear_datum")
        layout.operator("padwright.lay_on_datum")


class PADWRIGHT_PT_pad(StagePanel, bpy.types.Panel):
    """Pad"""

    bl_idname = "PADWRIGHT_PT_pad"
    bl_label = "Pad"
    bl_order = 40
    stage = "pad"
    does = "padwright.build_pad"

    def draw_settings(self, context, layout, part):
        """Draw its shape."""
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
        """Draw how its thickness is seen."""
        if part.pad is not None:
            layout.operator("padwright.show_values", text="Show Thickness").values = "thickness"
            draw_legend(context, layout, part)


class PADWRIGHT_PT_reliefs(SubPanel, bpy.types.Panel):
    """Reliefs"""

    bl_idname = "PADWRIGHT_PT_reliefs"
    bl_label = "Reliefs and Envelope"
    bl_parent_id = "PADWRIGHT_PT_pad"

    def draw(self, context):
        """Draw openings, channels, and the artist's own solid."""
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        part = context.scene.padwright
        row = layout.row()
        row.template_list("PADWRIGHT_UL_reliefs", "", part, "reliefs", part, "relief_index", rows=2)
        row.column(align=True).operator("padwright.remove_relief", text="", icon="REMOVE")
        row = layout.row(align=True)
        row.operator("padwright.add_relief", text="Add Opening").kind = "opening"
        row.operator("padwright.add_relief", text="Add Channel").kind = "channel"
        if 0 <= part.relief_index < len(part.reliefs):
            self._draw_relief(context, layout, part, part.reliefs[part.relief_index])
        layout.prop(part, "envelope")
        if part.envelope is not None:
            wrapped(layout, context, "The envelope takes the place of the clay.", "INFO")

    def _draw_relief(self, context, layout, part, relief):
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


CLASSES = (
    PADWRIGHT_UL_reliefs,
    PADWRIGHT_PT_datum,
    PADWRIGHT_PT_pad,
    PADWRIGHT_PT_reliefs,
)
