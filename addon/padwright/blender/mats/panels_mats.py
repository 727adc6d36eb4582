"""The pressure mat, or the foil."""

import bpy

from .. import state
from ..panels import StagePanel, draw_legend, wrapped
from .foil_file import is_picture


class PADWRIGHT_UL_mat_places(bpy.types.UIList):
    """Places of the mat"""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, index=0):
        row = layout.row(align=True)
        row.label(text=f"Place {index + 1}")
        first, second = item.at_mm if item.by == "ruler" else item.pixel if item.by == "pixel" else item.cell
        row.label(text=f"{first:g}, {second:g} mm" if item.by == "ruler" else f"[{first:g}, {second:g}]")
        row.label(text="on scan" if item.has_point else "no point")


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
        is_foil = is_picture(part)
        has_sheet = all(part.mat_sheet_mm)
        of_picture = ("mat_sheet_mm", "mat_dark_bears") if has_sheet else ("mat_dpi", "mat_sheet_mm", "mat_dark_bears")
        for name in of_picture if is_foil else ("mat_unit", "mat_pitch_mm", "mat_frames"):
            layout.prop(part, name)
        if not is_foil and part.mat_frames == "one":
            layout.prop(part, "mat_frame")
        layout.prop(part, "mat_laid")
        if part.mat_laid != "places" and not part.mat_places:
            layout.prop(part, "mat_pose")
        for name in ("mat_seen", "mat_measured_on", "mat_accuracy", "mat_for_load"):
            layout.prop(part, name)
        self._draw_places(context, layout, part)

    def _draw_places(self, context, layout, part):
        layout.label(text="Places")
        row = layout.row()
        row.template_list("PADWRIGHT_UL_mat_places", "", part, "mat_places", part, "mat_place_index", rows=2)
        side = row.column(align=True)
        side.operator("padwright.add_mat_place", text="", icon="ADD")
        side.operator("padwright.remove_mat_place", text="", icon="REMOVE")
        if not any(each.has_point for each in part.mat_places):
            layout.prop(part, "mat_places_on")
        layout.operator("padwright.pick_mat_places", text="Pick on Mat and Scan")
        place = state.row_at(part.mat_places, part.mat_place_index)
        if place is not None:
            layout.prop(place, "by")
            layout.prop(place, "at_mm" if place.by == "ruler" else place.by)
            layout.operator("padwright.pick_mat_point", text="Pick Where It Lay")
        else:
            wrapped(layout, context, "Without places it is laid by what it shows.", "INFO")
        is_shown = part.mat_picture is not None
        layout.operator("padwright.hide_mat_picture" if is_shown else "padwright.show_mat_picture")

    def draw_more(self, context, layout, part):
        if state.done(part, "mats") is None:
            if not part.mat_file.strip():
                wrapped(layout, context, "Without a mat you need nothing here.", "INFO")
            return
        layout.operator("padwright.show_values", text="Show Mat").values = "mat"
        draw_legend(context, layout, part)
