"""Scans, their size, and how they lie to each other."""

import bpy

from .panels import StagePanel, wrapped


class PADWRIGHT_UL_lengths(bpy.types.UIList):
    """Check lengths."""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, _index=0):
        """Draw one."""
        row = layout.row(align=True)
        row.prop(item, "name", text="", emboss=False)
        row.label(text=f"{item.measured_mm:.1f} mm")
        row.label(text=f"{item.residual_mm:+.2f}" if item.is_fitted else "")


class PADWRIGHT_UL_pairs(bpy.types.UIList):
    """Point pairs."""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, index=0):
        """Draw one."""
        row = layout.row(align=True)
        row.label(text=f"Pair {index + 1}")
        row.label(text="Base", icon="CHECKMARK" if item.has_base else "BLANK1")
        row.label(text="Impression", icon="CHECKMARK" if item.has_impression else "BLANK1")


class PADWRIGHT_PT_scans(StagePanel, bpy.types.Panel):
    """Scans"""

    bl_idname = "PADWRIGHT_PT_scans"
    bl_label = "Scans"
    bl_order = 10
    stage = "scans"

    def draw_settings(self, context, layout, part):
        """Draw both scans and the check lengths."""
        for scan in ("base", "impression"):
            column = layout.column(align=True)
            column.prop(part, scan)
            column.prop(part, f"{scan}_unit")
            row = column.row(align=True)
            row.operator("padwright.import_scan", text="Import").scan = scan
            row.operator("padwright.use_object", text="Use Active").scan = scan
        layout.prop(part, "impression_scale")
        layout.label(text="Check Lengths")
        row = layout.row()
        row.template_list("PADWRIGHT_UL_lengths", "", part, "lengths", part, "length_index", rows=2)
        side = row.column(align=True)
        side.operator("padwright.add_length", text="", icon="ADD")
        side.operator("padwright.remove_length", text="", icon="REMOVE")
        if 0 <= part.length_index < len(part.lengths):
            length = part.lengths[part.length_index]
            layout.prop(length, "scan")
            layout.prop(length, "measured_mm")
            layout.prop(length, "plus_minus_mm")
            row = layout.row(align=True)
            row.operator("padwright.set_length_end", text="From at Cursor").end = "start"
            row.operator("padwright.set_length_end", text="To at Cursor").end = "end"
            if length.is_fitted:
                wrapped(layout, context, f"{length.scan_mm:.2f} mm as scanned, {length.residual_mm:+.2f} mm left over")
        elif part.base is not None:
            wrapped(layout, context, "Without a check length the scan's own size is taken, unchecked.", "INFO")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.prepare_scans")


class PADWRIGHT_PT_alignment(StagePanel, bpy.types.Panel):
    """Alignment"""

    bl_idname = "PADWRIGHT_PT_alignment"
    bl_label = "Alignment"
    bl_order = 20
    stage = "alignment"

    def draw_settings(self, context, layout, part):
        """Draw the pairs."""
        row = layout.row()
        row.template_list("PADWRIGHT_UL_pairs", "", part, "pairs", part, "pair_index", rows=2)
        side = row.column(align=True)
        side.operator("padwright.add_pair", text="", icon="ADD")
        side.operator("padwright.remove_pair", text="", icon="REMOVE")
        if 0 <= part.pair_index < len(part.pairs):
            row = layout.row(align=True)
            row.operator("padwright.set_pair_point", text="Base at Cursor").scan = "base"
            row.operator("padwright.set_pair_point", text="Impression at Cursor").scan = "impression"
        complete = sum(pair.has_base and pair.has_impression for pair in part.pairs)
        if not part.pairs:
            wrapped(layout, context, "Without pairs the scans are aligned by themselves.", "INFO")
        elif complete < 3:
            wrapped(layout, context, f"{complete} of 3 or more pairs are complete.", "INFO")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.align_scans")


CLASSES = (
    PADWRIGHT_UL_lengths,
    PADWRIGHT_UL_pairs,
    PADWRIGHT_PT_scans,
    PADWRIGHT_PT_alignment,
)
