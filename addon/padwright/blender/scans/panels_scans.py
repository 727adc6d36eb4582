"""Scans, their size, and how they lie to each other."""

import bpy

from .. import refusals, state
from ..alignment import poses
from ..panels import StagePanel, SubPanel, draw_legend, fact, wrapped
from . import sizes


class PADWRIGHT_UL_lengths(bpy.types.UIList):
    """Check lengths"""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, _index=0):
        """Draw one: name, by hand, on the scan, what is left."""
        first, others = _columns(layout)
        is_off = item.is_fitted and item.is_outlier
        first.prop(item, "name", text="", emboss=False, icon="ERROR" if is_off else "NONE")
        others.label(text=f"{item.measured_mm:.1f}" if item.measured_mm > 0 else "?")
        others.label(text=f"{item.scan_mm:.1f}" if item.is_fitted else "")
        others.label(text=f"{round(item.residual_mm, 2) + 0.0:+.2f}" if item.is_fitted else "")


def _columns(layout):
    split = layout.split(factor=0.4, align=True)
    return split.row(align=True), split.row(align=True)


class PADWRIGHT_UL_pairs(bpy.types.UIList):
    """Point pairs"""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, index=0):
        """Draw one."""
        row = layout.row(align=True)
        row.label(text=f"Pair {index + 1}")
        if item.is_fitted:
            row.label(text=f"{item.miss_mm:.2f} mm apart")
            return
        on = {(True, True): "on both", (True, False): "on the base", (False, True): "on the impression"}
        row.label(text=on.get((item.has_base, item.has_impression), "not set"))


def _draw_other_ways(layout, part):
    """Draw what opens the ways to set points without clicking; return whether it is open."""
    row = layout.row()
    row.use_property_split = False
    row.alignment = "LEFT"
    is_open = part.view.shows_other_ways
    row.prop(part.view, "shows_other_ways", icon="TRIA_DOWN" if is_open else "TRIA_RIGHT", emboss=False)
    return is_open


def _draw_lengths(context, layout, part):
    """Draw the check lengths and the one in work."""
    layout.label(text="Check Lengths (mm)")
    if part.lengths:
        head = layout.row()
        first, others = _columns(head)
        first.label(text="Name")
        for text in ("Hand", "Scan", "Left"):
            others.label(text=text)
        head.label(text="", icon="BLANK1")
    row = layout.row()
    row.template_list("PADWRIGHT_UL_lengths", "", part, "lengths", part, "length_index", rows=2)
    side = row.column(align=True)
    side.operator("padwright.add_length", text="", icon="ADD")
    side.operator("padwright.remove_length", text="", icon="REMOVE")
    row = layout.row(align=True)
    for scan in ("base", "impression"):
        row.operator("padwright.pick_length", text=f"Pick on {scan.title()}").scan = scan
    if 0 <= part.length_index < len(part.lengths):
        length = part.lengths[part.length_index]
        layout.prop(length, "name")
        layout.prop(length, "scan")
        layout.prop(length, "measured_mm")
        layout.prop(length, "plus_minus_mm")
        if _draw_other_ways(layout, part):
            row = layout.row(align=True)
            row.operator("padwright.set_length_end", text="From at Cursor").end = "start"
            row.operator("padwright.set_length_end", text="To at Cursor").end = "end"
    elif part.base is not None:
        wrapped(layout, context, "Without a check length the scan's own size is taken, unchecked.", "INFO")


class PADWRIGHT_PT_scans(StagePanel, bpy.types.Panel):
    """Scans"""

    bl_idname = "PADWRIGHT_PT_scans"
    bl_label = "Scans"
    bl_order = 10
    bl_options: set[str] = set()
    stage = "scans"

    def draw_settings(self, context, layout, part):
        """Draw both scans and the check lengths."""
        for scan in ("base", "impression"):
            column = layout.column(align=True)
            column.prop(part, scan)
            column.prop(part, f"{scan}_unit")
            row = column.row(align=True)
            row.operator("padwright.import_scan", text="Import").scan = scan
            row.operator_menu_enum("padwright.use_object", "unit", text="Use Active").scan = scan
            size = sizes.size_mm(part, scan)
            if size is not None:
                fact(column, "As Scanned", sizes.in_words(size))
                doubt = sizes.doubt(part, scan)
                if doubt:
                    wrapped(column, context, doubt, "ERROR")
        layout.prop(part, "impression_scale")
        _draw_lengths(context, layout, part)

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.prepare_scans")

    def draw_more(self, context, layout, part):
        """Say what stays."""
        if part.lengths:
            wrapped(layout, context, "The original scan is kept: only its object is scaled.", "INFO")


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
        layout.operator("padwright.pick_pairs", text="Pick Pairs on Scans")
        if 0 <= part.pair_index < len(part.pairs) and _draw_other_ways(layout, part):
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

    def draw_more(self, context, layout, part):
        """Draw the poses to choose between, and what shows how well the scans lie on each other."""
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


class PADWRIGHT_PT_view(SubPanel, bpy.types.Panel):
    """In the Viewport"""

    bl_idname = "PADWRIGHT_PT_view"
    bl_label = "In the Viewport"
    bl_parent_id = "PADWRIGHT_PT_part"

    def draw(self, context):
        """Draw what is drawn over the viewport."""
        part = context.scene.padwright
        column = self.layout.column(align=True)
        for name in ("shows_lengths", "shows_pairs", "shows_centers", "shows_bar"):
            column.prop(part.view, name)
        draw_legend(context, self.layout, part)


CLASSES = (
    PADWRIGHT_UL_lengths,
    PADWRIGHT_UL_pairs,
    PADWRIGHT_PT_view,
    PADWRIGHT_PT_scans,
    PADWRIGHT_PT_alignment,
)
