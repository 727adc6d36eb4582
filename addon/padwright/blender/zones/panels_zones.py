"""Zones of firmness."""

import json

import bpy

from .. import state
from ..panels import StagePanel, card, cautions, draw_legend, fact, wrapped
from ..scans import scan_colors

_FIELDS = {
    "load_centers": ("radius_mm",),
    "imprint_depth": ("from_mm", "to_mm"),
    "color_marks": ("color", "tolerance", "gap_mm", "filled", "least_cm2"),
    "pressure_grid": ("from_kpa", "to_kpa"),
    "pressed_foil": ("from_dark_pct", "to_dark_pct"),
}
_ABOUT = {
    "paint": "Paint it on the pad, then plan.",
    "rest": "Takes what no other zone claims.",
}
_FILES = {
    "weights": "Paint saved with the job file",
    "pressure_grid": "Pressures of a grid, as the job file says",
    "imprint_depth": "Depths as the job file says",
    "pressed_foil": "How dark a foil is, as the job file says",
}


class PADWRIGHT_UL_zones(bpy.types.UIList):
    """Zones."""

    def draw_item(self, context, layout, _data, item, _icon, _active, _property, _index=0):
        family = card(context.scene.padwright)
        row = layout.split(factor=0.7, align=True)
        row.prop(item, "name", text="", emboss=False, icon=_icon_of(context, item))
        words = family.level_name(item.level) if item.level == int(item.level) else ""
        row.label(text=words or f"{item.level:.3g}")


def _icon_of(context, zone):
    """Return the icon of a zone: under the brush, painted, or from data."""
    pad = context.scene.padwright.pad
    if pad is not None and pad.mode == "WEIGHT_PAINT" and zone.group:
        active = pad.vertex_groups.active
        if active is not None and active.name == zone.group:
            return "GREASEPENCIL"
    return "BRUSH_DATA" if zone.is_painted else "BLANK1"


class PADWRIGHT_PT_zones(StagePanel, bpy.types.Panel):
    """Zones"""

    bl_label = "Zones"
    bl_order = 50
    stage = "zones"
    does = "padwright.plan_zones"

    def draw_settings(self, context, layout, part):
        row = layout.row()
        row.template_list("PADWRIGHT_UL_zones", "", part, "zones", part, "zone_index", rows=4)
        side = row.column(align=True)
        side.operator("padwright.add_zone", text="", icon="ADD")
        side.operator("padwright.remove_zone", text="", icon="REMOVE")
        side.operator("padwright.move_zone", text="", icon="TRIA_UP").direction = "up"
        side.operator("padwright.move_zone", text="", icon="TRIA_DOWN").direction = "down"
        if 0 <= part.zone_index < len(part.zones):
            self._draw_zone(context, layout, part, part.zones[part.zone_index])
        layout.prop(part, "blend_steps")
        if part.blend_steps:
            layout.prop(part, "blend_width_mm")

    def _draw_zone(self, context, layout, part, zone):
        layout.prop(zone, "name")
        layout.prop(zone, "level")
        layout.prop(zone, "stiffness_times")
        if zone.source != "rest" and zone.level == state.rest_level(part) and zone.stiffness_times == 1.0:
            wrapped(layout, context, "As firm as the rest: it will not be told apart.", "INFO")
        family = card(part)
        fact(layout, "Target", f"{zone.stiffness_times * family.target_modulus_kpa(zone.level):.0f} kPa")
        if zone.area_cm2 > 0:
            fact(layout, "Area", f"{zone.area_cm2:.1f} cm2")
        if zone.bears and state.done(part, "load") is not None:
            is_old = bool(state.stale(part, "load"))
            fact(layout, "Bears", f"{zone.bears} before" if is_old else zone.bears)
            if zone.bore and not is_old:
                fact(layout, "Before Tuning", zone.bore)
        if zone.is_painted:
            wrapped(layout, context, "Painted by you; it stays as painted.", "BRUSH_DATA")
        else:
            layout.prop(zone, "source")
            self._draw_source(context, layout, part, zone)
        self._draw_paint(context, layout, zone)

    def _draw_source(self, context, layout, part, zone):
        for name in _FIELDS.get(zone.source, ()):
            layout.prop(zone, name)
        if zone.source in _ABOUT:
            wrapped(layout, context, _ABOUT[zone.source], "INFO")
        elif zone.source == "pressure_grid" and not part.mat_file.strip():
            wrapped(layout, context, "There is no mat: choose its file in the panel Pressure Mat.", "ERROR")
        elif zone.source in ("color_marks", "pressed_foil") and not scan_colors.has_colors(part.impression):
            wrapped(layout, context, "The impression scan has no colors: choose another source.", "ERROR")
        elif zone.source == "color_marks":
            self._draw_colors(context, layout, part, zone)
        elif zone.source == "outline":
            layout.prop(zone, "curve")
            if zone.curve is None:
                layout.operator("padwright.draw_zone_outline")
            else:
                layout.operator("padwright.edit_curve", text="Edit Outline").what = "zone"
        elif zone.source == "kept":
            kept = json.loads(zone.kept) if zone.kept else {}
            wrapped(layout, context, _FILES.get(kept.get("source", ""), "As the job file says") + ".", "FILE")

    def _draw_colors(self, context, layout, part, zone):
        """Draw the colors found on the scan, each with a button that gives it to the zone."""
        if zone.color_name:
            fact(layout, "By Name", zone.color_name)
        layout.operator("padwright.show_scan_colors")
        layout.operator("padwright.find_colors")
        column = layout.column(align=True)
        for number, found in enumerate(part.scan_colors):
            row = column.row(align=True)
            swatch = row.row(align=True)
            swatch.enabled = False
            swatch.prop(found, "color", text="")
            words = f"{found.name}, {found.area_cm2:.1f} cm2" if number else f"{found.name}: the clay"
            row.operator("padwright.take_color", text=words).number = number

    def _draw_paint(self, context, layout, zone):
        column = layout.column(align=True)
        if context.mode == "PAINT_WEIGHT":
            column.operator("padwright.end_painting", icon="CHECKMARK")
        column.operator("padwright.paint_zone", icon="BRUSH_DATA")
        if zone.source not in ("paint", "rest"):
            column.operator("padwright.start_from_data")
        row = column.row(align=True)
        row.operator("padwright.smooth_paint", text="Smooth")
        row.operator_menu_enum("padwright.mirror_zone", "way", text="Mirror")
        if zone.is_painted:
            column.operator("padwright.drop_paint")

    def draw_more(self, context, layout, part):
        if state.done(part, "zones") is not None:
            layout.operator("padwright.show_values", text="Show Firmness").values = "firmness"
        draw_legend(context, layout, part)
        for text in cautions(part, "PERINEAL_PRESSURE"):
            wrapped(layout, context, text, "ERROR")
