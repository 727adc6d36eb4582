"""How the scans lie to each other."""

import bpy

from .. import refusals, state
from ..panels import StagePanel, draw_legend, draw_other_ways, wrapped
from . import poses


class PADWRIGHT_UL_pairs(bpy.types.UIList):
    """Point pairs"""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, index=0):
        row = layout.row(align=True)
        row.label(text=f"Pair {index + 1}")
        if item.is_fitted:
            row.label(text=f"{item.miss_mm:.2f} mm apart")
            return
        on = {(True, True): "on both", (True, False): "on the base", (False, True): "on the impression"}
        row.label(text=on.get((item.has_base, item.has_impression), "not set"))


class PADWRIGHT_PT_alignment(StagePanel, bpy.types.Panel):
    """Alignment"""

    bl_label = "Alignment"
    bl_order = 20
    stage = "alignment"
    does = "padwright.align_scans"

    @classmethod
    def poll(cls, context):
        """Need clay to align; a body is laid as it is pressed."""
        return super().poll(context) and not context.scene.padwright.shows_body

    def draw_settings(self, context, layout, part):
        layout.label(text="Point Pairs")
        row = layout.row()
        row.template_list("PADWRIGHT_UL_pairs", "", part, "pairs", part, "pair_index", rows=2)
        side = row.column(align=True)
        side.operator("padwright.add_pair", text="", icon="ADD")
        side.operator("padwright.remove_pair", text="", icon="REMOVE")
        layout.operator("padwright.pick_pairs", text="Pick Pairs on Scans")
        if 0 <= part.pair_index < len(part.pairs) and draw_other_ways(layout, part):
            row = layout.row(align=True)
            row.operator("padwright.set_pair_point", text="Base at Cursor").scan = "base"
            row.operator("padwright.set_pair_point", text="Impression at Cursor").scan = "impression"
        complete = sum(pair.has_base and pair.has_impression for pair in part.pairs)
        if not part.pairs:
            wrapped(layout, context, "Without pairs the scans are aligned by themselves.", "INFO")
        elif complete < 3:
            wrapped(layout, context, f"{complete} of 3 or more pairs are complete.", "INFO")

    def draw_more(self, context, layout, part):
        self._draw_poses(context, layout, part)
        if state.done(part, "alignment") is not None:
            layout.operator("padwright.show_values", text="Show Distances").values = "distance"
            if part.view.title == "Distance to Base":
                draw_legend(context, layout, part)

    def _draw_poses(self, context, layout, part):
        found = refusals.poses(part)
        if found is not None:
            count, shown = len(found.candidates), poses.shown(part)
            box = layout.box().column(align=True)
            box.label(text=f"{count} poses fit" + (f": {shown} of {count}" if shown else ""), icon="QUESTION")
            row = box.row(align=True)
            row.operator("padwright.show_pose", text="Previous", icon="TRIA_LEFT").step = -1
            row.operator("padwright.show_pose", text="Next", icon="TRIA_RIGHT").step = 1
            if 0 < shown <= count:
                wrapped(box, context, found.candidates[shown - 1].sentence)
                box.operator("padwright.use_pose")
        elif poses.taken(part):
            wrapped(layout, context, f"Pose {poses.taken(part)}, taken by you.", "PINNED")
            layout.operator("padwright.drop_pose")
