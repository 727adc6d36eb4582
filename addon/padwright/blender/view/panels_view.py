"""What is drawn over the viewport."""

import bpy

from ..panels import SidePanel, draw_legend


class PADWRIGHT_PT_view(SidePanel, bpy.types.Panel):
    """In the Viewport"""

    bl_label = "In the Viewport"
    bl_parent_id = "PADWRIGHT_PT_part"

    def draw(self, context):
        part = context.scene.padwright
        column = self.layout.column(align=True)
        for name in ("shows_lengths", "shows_pairs", "shows_centers", "shows_mat_places", "shows_run", "shows_bar"):
            column.prop(part.view, name)
        draw_legend(context, self.layout, part)
