"""The printed shape of folded walls."""

import bpy

from .. import state
from ..panels import StagePanel, draw_legend, fact


class PADWRIGHT_PT_shape(StagePanel, bpy.types.Panel):
    """Shape"""

    bl_label = "Shape"
    bl_order = 90
    stage = "shape"
    does = "padwright.make_shape"

    @classmethod
    def poll(cls, context):
        """Need a part of folded walls."""
        return super().poll(context) and state.is_wanted(context.scene.padwright, cls.stage)

    def draw_more(self, context, layout, part):
        row = layout.row(align=True)
        row.enabled = state.done(part, "load") is not None  # else a line above says so
        for what, text in (("wished", "Show Wished"), ("reached", "Show Reached")):
            row.operator("padwright.show_values", text=text).values = what
        row = layout.row(align=True)
        for what, text in (("whole", "Whole"), ("cutaway", "Cutaway"), ("layer", "Layer")):
            row.operator("padwright.show_inside", text=text, depress=part.view.inside == what).what = what
        self._draw_sliders(layout, part.view)
        draw_legend(context, layout, part)

    def _draw_sliders(self, layout, view):
        if view.inside == "cutaway":
            layout.prop(view, "cut_share", slider=True)
            layout.prop(view, "is_cut_across")
        elif view.inside == "layer":
            layout.prop(view, "layer_share", slider=True)
            fact(layout, "Layer", view.layer_said)
