"""Scans and their size."""

import bpy

from .. import state
from ..panels import StagePanel, draw_other_ways, fact, wrapped
from . import sizes


class PADWRIGHT_UL_lengths(bpy.types.UIList):
    """Check lengths"""

    def draw_item(self, _context, layout, data, item, _icon, _active, _property, _index=0):
        """Draw one: name, by hand, and once the size was fitted, on the scan and what is left."""
        first, others = _columns(layout, data)
        is_off = item.is_fitted and item.is_outlier
        first.prop(item, "name", text="", emboss=False, icon="ERROR" if is_off else "NONE")
        others.label(text=f"{item.measured_mm:.1f}" if item.measured_mm > 0 else "?")
        if _is_fitted(data):
            others.label(text=f"{item.scan_mm:.1f}" if item.is_fitted else "")
            others.label(text=f"{round(item.residual_mm, 2) + 0.0:+.2f}" if item.is_fitted else "")


def _is_fitted(part):
    return any(length.is_fitted for length in part.lengths)


def _columns(layout, part):
    """Return a place for a length's name and one for its numbers: most of the width to the name while it has one."""
    split = layout.split(factor=0.4 if _is_fitted(part) else 0.75, align=True)
    return split.row(align=True), split.row(align=True)


def _draw_lengths(context, layout, part):
    """Draw the check lengths and the one in work."""
    layout.label(text="Check Lengths (mm)")
    if part.lengths:
        head = layout.row()
        first, others = _columns(head, part)
        first.label(text="Name")
        for text in ("Hand", "Scan", "Left") if _is_fitted(part) else ("Hand",):
            others.label(text=text)
        head.label(text="", icon="BLANK1")
    row = layout.row()
    row.template_list("PADWRIGHT_UL_lengths", "", part, "lengths", part, "length_index", rows=2)
    side = row.column(align=True)
    side.operator("padwright.add_length", text="", icon="ADD")
    side.operator("padwright.remove_length", text="", icon="REMOVE")
    row = layout.row(align=True)
    for scan in ("base", "impression"):
        name = "Body" if scan == "impression" and part.shows_body else scan.title()
        row.operator("padwright.pick_length", text=f"Pick on {name}").scan = scan
    length = state.row_at(part.lengths, part.length_index)
    if length is not None:
        for name in ("name", "scan", "measured_mm", "plus_minus_mm"):
            layout.prop(length, name)
        if draw_other_ways(layout, part):
            row = layout.row(align=True)
            row.operator("padwright.set_length_end", text="From at Cursor").end = "start"
            row.operator("padwright.set_length_end", text="To at Cursor").end = "end"
    elif part.base is not None:
        wrapped(layout, context, "Without a check length the scan's own size is taken, unchecked.", "INFO")


class PADWRIGHT_PT_scans(StagePanel, bpy.types.Panel):
    """Scans"""

    bl_label = "Scans"
    bl_order = 10
    bl_options: set[str] = set()
    stage = "scans"
    does = "padwright.prepare_scans"

    def draw_settings(self, context, layout, part):
        for scan in ("base", "impression"):
            if scan == "impression":
                layout.prop(part, "shows_body")
            name = "Body" if scan == "impression" and part.shows_body else scan.title()
            column = layout.column(align=True)
            column.prop(part, scan, text=name)
            column.prop(part, f"{scan}_unit", text=f"{name} Unit")
            row = column.row(align=True)
            row.operator("padwright.import_scan", text="Import").scan = scan
            row.operator_menu_enum("padwright.use_object", "unit", text="Use Active").scan = scan
            size = sizes.size_mm(part, scan)
            if size is not None:
                fact(column, "As Scanned", sizes.in_words(size))
                doubt = sizes.doubt(part, scan)
                if doubt:
                    wrapped(column, context, doubt, "ERROR")
        if not part.shows_body:
            layout.prop(part, "impression_scale")
        _draw_lengths(context, layout, part)

    def draw_more(self, context, layout, part):
        if part.lengths:
            wrapped(layout, context, "The original scan is kept: only its object is scaled.", "INFO")
