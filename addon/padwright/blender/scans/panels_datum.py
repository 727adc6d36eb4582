"""The part's own axes."""

import bpy

from ..panels import SidePanel, wrapped
from . import datum


class PADWRIGHT_PT_datum(SidePanel, bpy.types.Panel):
    """Part frame"""

    bl_label = "Part Frame"
    bl_parent_id = "PADWRIGHT_PT_scans"

    def draw_all(self, context, layout, part):
        layout.prop(part, "datum", text="Axes")
        if part.datum == "points":
            is_set = [place.is_set for place in part.datum_places] or [False] * len(datum.PLACES)
            for places in (datum.PLACES[:3], datum.PLACES[3:]):
                row = layout.row(align=True)
                for place, title, _ in places:
                    icon = "CHECKMARK" if is_set[int(place)] else "NONE"
                    row.operator("padwright.set_datum_point", text=title, icon=icon).place = place
            wrapped(layout, context, "At the selected vertex of the base, or at the 3D cursor.", "INFO")
            layout.operator("padwright.clear_datum")
        layout.operator("padwright.lay_on_datum")
