"""What changed from the print before."""

import bpy

from ..panels import SidePanel, wrapped, wrapped_lines


class PADWRIGHT_PT_changes(SidePanel, bpy.types.Panel):
    """What changed"""

    bl_label = "Against the Print Before"
    bl_parent_id = "PADWRIGHT_PT_trials"
    bl_order = 10

    def draw_all(self, context, layout, part):
        kept = part.trials
        layout.operator("padwright.compare_prints")
        if not kept.changed_of:
            wrapped(layout, context, "Export both prints first, each into a folder of its own.", "INFO")
            return
        wrapped(layout, context, f"Prints {kept.changed_of}:")
        wrapped_lines(layout, context, kept.changed_said, "DOT")
        kind, box = "", layout
        for row in kept.changed:
            if row.kind != kind:
                kind, box = row.kind, layout.box().column(align=True)
                box.label(text=kind)
            change = f" ({row.change})" if row.change else ""
            wrapped(box, context, f"{row.name}: {row.before} to {row.now}{change}", "DOT")
