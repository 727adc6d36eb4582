"""The regions."""

import bpy

from .. import state
from ..panels import StagePanel, fact, wrapped


class PADWRIGHT_UL_regions(bpy.types.UIList):
    """Regions."""

    def draw_item(self, context, layout, _data, item, _icon, _active, _property, index=0):
        """Draw one; its name selects its object."""
        split = layout.split(factor=0.1, align=True)
        material = item.obj.active_material if item.obj is not None and item.obj.type == "MESH" else None
        if material is not None:
            split.prop(material, "diffuse_color", text="")
        else:
            split.label(text="")
        row = split.split(factor=0.64, align=True)
        is_selected = item.obj is not None and item.obj == context.object
        icon = "RADIOBUT_ON" if is_selected else "RADIOBUT_OFF"
        name = row.row()
        name.alignment = "LEFT"
        name.operator("padwright.select_region", text=item.name, icon=icon, emboss=False).index = index
        size = row.row()
        size.alignment = "RIGHT"
        size.label(text=f"{item.volume_cm3:.1f} cm3")


class PADWRIGHT_PT_regions(StagePanel, bpy.types.Panel):
    """Regions"""

    bl_label = "Regions"
    bl_order = 70
    stage = "regions"
    does = "padwright.cut_regions"

    @classmethod
    def poll(cls, context):
        """Need a part that is cut: one of folded walls is one solid."""
        return super().poll(context) and state.is_wanted(context.scene.padwright, cls.stage)

    def draw_settings(self, context, layout, part):
        layout.prop(part, "contact")
        if part.contact == "overlapping":
            layout.prop(part, "overlap_mm")

    def draw_more(self, context, layout, part):
        found = part.found
        if not len(found.regions) or state.done(part, "regions") is None:
            return
        row = layout.row(align=True)
        for what, text in (("pad", "Show Pad"), ("regions", "Show Regions")):
            row.operator("padwright.show_regions", text=text).what = what
        layout.template_list("PADWRIGHT_UL_regions", "", found, "regions", found, "region_index", rows=3)
        region = state.row_at(found.regions, found.region_index)
        if region is None:
            return
        box = layout.box().column(align=True)
        fact(box, "Level", f"{region.level:.3g}, {region.level_name}")
        if abs(region.wished_level - region.level) > 5e-3:
            fact(box, "Wished", f"{region.wished_level:.3g}")
        if region.kpa:
            fact(box, "As Printed", region.kpa)
            wrapped(box, context, region.settings[:1].upper() + region.settings[1:])
        if region.binding:
            wrapped(box, context, f"Off its level: {region.binding}.", "ERROR")
