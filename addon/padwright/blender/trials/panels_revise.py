"""What the next print is to change, zone by zone, and why."""

import bpy

from ..panels import SidePanel, wrapped, wrapped_lines


class PADWRIGHT_PT_revise(SidePanel, bpy.types.Panel):
    """Next print"""

    bl_label = "Next Print"
    bl_parent_id = "PADWRIGHT_PT_trials"
    bl_options: set[str] = set()  # it belongs to the notes above it

    def draw_all(self, context, layout, part):
        kept = part.trials
        layout.operator("padwright.propose_revision")
        if not len(kept.changes):
            wrapped(layout, context, "It is proposed from the notes, zone by zone, with reasons.", "INFO")
            return
        wrapped_lines(layout, context, kept.stop, "ERROR")
        for row in kept.changes:
            box = layout.box().column(align=True)
            box.label(text=row.name)
            wrapped(box, context, row.said[:1].upper() + row.said[1:], "FORWARD" if row.is_changed else "BLANK1")
            wrapped(box, context, row.why)
            if row.watch:
                wrapped(box, context, row.watch, "VIEWZOOM")
        wrapped_lines(layout, context, kept.told, "DOT")
        if kept.proposed_of not in (part.revision, part.trials.begun_from):
            wrapped(layout, context, f"Of print {kept.proposed_of}; this is print {part.revision}.", "FILE_REFRESH")
        layout.operator("padwright.take_revision", text=f"Take Print {kept.next_revision} into the Part")
