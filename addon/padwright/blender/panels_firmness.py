"""Zones of firmness, and the load on them."""

import bpy

from .panels import StagePanel, wrapped


class PADWRIGHT_UL_zones(bpy.types.UIList):
    """Zones."""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, _index=0):
        """Draw one."""
        row = layout.row(align=True)
        row.prop(item, "name", text="", emboss=False, icon="BRUSH_DATA" if item.is_painted else "BLANK1")
        row.label(text=f"Level {item.level:g}")


class PADWRIGHT_PT_zones(StagePanel, bpy.types.Panel):
    """Zones"""

    bl_idname = "PADWRIGHT_PT_zones"
    bl_label = "Zones"
    bl_order = 50
    stage = "zones"

    def draw_settings(self, context, layout, part):
        """Draw the list and the zone in work."""
        row = layout.row()
        row.template_list("PADWRIGHT_UL_zones", "", part, "zones", part, "zone_index", rows=3)
        side = row.column(align=True)
        side.operator("padwright.add_zone", text="", icon="ADD")
        side.operator("padwright.remove_zone", text="", icon="REMOVE")
        side.operator("padwright.move_zone", text="", icon="TRIA_UP").direction = "up"
        side.operator("padwright.move_zone", text="", icon="TRIA_DOWN").direction = "down"
        if 0 <= part.zone_index < len(part.zones):
            self._draw_zone(context, layout, part.zones[part.zone_index])
        layout.prop(part, "blend_steps")
        if part.blend_steps:
            layout.prop(part, "blend_width_mm")

    def _draw_zone(self, context, layout, zone):
        layout.prop(zone, "level")
        if zone.is_painted:
            wrapped(layout, context, "You have painted this zone; it stays as painted.", "BRUSH_DATA")
            layout.operator("padwright.drop_paint")
        else:
            layout.prop(zone, "source")
            shown = {"load_centres": ("radius_mm",), "imprint_depth": ("from_mm", "to_mm")}
            for name in shown.get(zone.source, ()):
                layout.prop(zone, name)
        layout.operator("padwright.paint_zone")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.plan_zones")


class PADWRIGHT_PT_load(StagePanel, bpy.types.Panel):
    """Load"""

    bl_idname = "PADWRIGHT_PT_load"
    bl_label = "Load"
    bl_order = 70
    stage = "load"

    def draw_settings(self, context, layout, part):
        """Draw who bears on it and what is aimed for."""
        if part.press == "inward":
            layout.prop(part, "grip_pressure_kpa")
        else:
            layout.prop(part, "body_mass_kg")
            layout.prop(part, "share")
        layout.prop(part, "goal")
        if part.goal != "levels":
            layout.prop(part, "sinkage_limit_mm")
        if part.goal == "relieve":
            for zone in part.zones:
                layout.prop(zone, "is_relieved", text=zone.name)

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.check_load")
        layout.operator_menu_enum("padwright.show_values", "values", text="Show Values")

    def draw_more(self, context, layout, part):
        """Draw what the colors mean."""
        if part.legend:
            wrapped(layout, context, part.legend, "COLOR")


CLASSES = (
    PADWRIGHT_UL_zones,
    PADWRIGHT_PT_zones,
    PADWRIGHT_PT_load,
)
