"""The print, scanned, held against the part."""

import bpy

from ..panels import SidePanel, draw_legend, wrapped, wrapped_lines


class PADWRIGHT_PT_compare(SidePanel, bpy.types.Panel):
    """Printed part"""

    bl_label = "Compare with the Print"
    bl_parent_id = "PADWRIGHT_PT_trials"
    bl_order = 20

    def draw_all(self, context, layout, part):
        found = part.compare
        for name in (
            *("scan", "unit", "weight_g"),
            *("extent_long_mm", "extent_x_mm", "extent_y_mm", "extent_z_mm"),
        ):
            layout.prop(found, name)
        layout.operator("padwright.compare_print")
        if not found.said:
            wrapped(layout, context, "Scan the finished part. One length by caliper says how much it shrank.", "INFO")
            return
        wrapped(layout, context, found.said)
        if found.of not in (part.revision, part.trials.begun_from):
            wrapped(layout, context, f"Of print {found.of}; this is print {part.revision}.", "FILE_REFRESH")
        wrapped_lines(layout, context, found.facts, "DOT")
        if len(found.worst):
            box = layout.box().column(align=True)
            box.label(text="Worst Places")
            for row in found.worst:
                wrapped(box, context, f"{row.off_mm:+.1f} mm, {row.name}")
        wrapped_lines(layout, context, found.doubts, "ERROR")
        layout.operator("padwright.show_print")
        draw_legend(context, layout, part)
        wrapped_lines(layout, context, found.corrections, "FORWARD")
        if found.keys:
            layout.operator("padwright.take_corrections")
