"""The sidebar: one panel a stage, in the order of the work, each saying what is missing and what comes next."""

import textwrap

import bpy

from . import state

_CHARACTER_PX = 6.2  # a character of the interface font at scale 1, about: labels do not wrap by themselves
_MARGIN_PX = 85.0  # tabs, borders and an icon beside the text


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


class PADWRIGHT_UL_zones(bpy.types.UIList):
    """Zones."""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, _index=0):
        """Draw one."""
        row = layout.row(align=True)
        row.prop(item, "name", text="", emboss=False, icon="BRUSH_DATA" if item.is_painted else "BLANK1")
        row.label(text=f"Level {item.level:g}")


def _wrapped(layout, context, text, icon="NONE"):
    """Draw a text over as many lines as the sidebar's width asks for."""
    region = getattr(context, "region", None)
    scale = context.preferences.system.ui_scale or 1.0
    pixels = (region.width if region is not None and region.width > 100 else 290) / scale
    width = (pixels - _MARGIN_PX) / _CHARACTER_PX
    column = layout.column(align=True)
    column.scale_y = 0.8
    for number, line in enumerate(textwrap.wrap(text, max(20, int(width)))):
        column.label(text=line, icon=icon if number == 0 else "BLANK1" if icon != "NONE" else "NONE")


class _Stage:
    """What all panels share."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Padwright"
    stage = ""

    def draw(self, context):
        """Draw what is missing, or the stage's settings, button and result."""
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        part = context.scene.padwright
        missing = state.missing(part, self.stage) if self.stage else ""
        self.draw_settings(context, layout, part)
        if missing:
            _wrapped(layout, context, missing, "INFO")
        self.draw_button(layout, part)
        if self.stage == "load" and part.legend:
            _wrapped(layout, context, part.legend, "COLOR")
        found = state.done(part, self.stage)
        if found is None:
            return
        behind = state.stale(part, self.stage)
        if behind:
            _wrapped(layout, context, f"{behind}; do this stage again", "FILE_REFRESH")
        done, *notes = found.lines.split("\n")
        _wrapped(layout, context, done)
        if notes:
            icon = "DISCLOSURE_TRI_DOWN" if found.is_open else "DISCLOSURE_TRI_RIGHT"
            row = layout.row()
            row.use_property_split = False
            row.alignment = "LEFT"
            row.prop(found, "is_open", text=state.counted(len(notes), "Note"), icon=icon, emboss=False)
        for note in notes if found.is_open else ():
            _wrapped(layout, context, note, "DOT")

    def draw_settings(self, context, layout, part):
        """Draw what the artist says."""

    def draw_button(self, layout, part):
        """Draw what does the stage."""


class PADWRIGHT_PT_part(_Stage, bpy.types.Panel):
    """Part"""

    bl_idname = "PADWRIGHT_PT_part"
    bl_label = "Part"
    bl_order = 0

    def draw_settings(self, context, layout, part):
        """Draw names and cautions."""
        if not part.is_started:
            _wrapped(
                layout, context, "A part has a family, a name and a number. Start one, or load a job file.", "INFO"
            )
            layout.operator("padwright.start_part", text="Start Part")
            layout.operator("padwright.load_job", text="Load Job")
            return
        layout.prop(part, "part_name")
        layout.prop(part, "number")
        layout.prop(part, "revision")
        layout.prop(part, "is_mirrored")
        layout.prop(part, "material")
        layout.prop(part, "nozzle_mm")
        layout.operator("padwright.start_part", text="Start Another Part")
        for fraction, text in state.running:
            layout.progress(factor=fraction, text=text)
            _wrapped(layout, context, "Press Esc to stop.", "INFO")


class PADWRIGHT_PT_cautions(bpy.types.Panel):
    """Cautions"""

    bl_idname = "PADWRIGHT_PT_cautions"
    bl_label = "Cautions"
    bl_parent_id = "PADWRIGHT_PT_part"
    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Padwright"

    @classmethod
    def poll(cls, context):
        """Need a family."""
        return context.scene.padwright.is_started

    def draw(self, context):
        """Draw what the family's card says for people's health."""
        for caution in _cautions(context.scene.padwright.family):
            if caution.severity != "note":
                _wrapped(self.layout, context, caution.text, "ERROR")


class PADWRIGHT_PT_scans(_Stage, bpy.types.Panel):
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
                _wrapped(layout, context, f"{length.scan_mm:.2f} mm as scanned, {length.residual_mm:+.2f} mm left over")
        elif part.base is not None:
            _wrapped(layout, context, "Without a check length the scan's own size is taken, unchecked.", "INFO")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.prepare_scans")


class PADWRIGHT_PT_alignment(_Stage, bpy.types.Panel):
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
            _wrapped(layout, context, "Without pairs the scans are aligned by themselves.", "INFO")
        elif complete < 3:
            _wrapped(layout, context, f"{complete} of 3 or more pairs are complete.", "INFO")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.align_scans")


class PADWRIGHT_PT_impression(_Stage, bpy.types.Panel):
    """Impression"""

    bl_idname = "PADWRIGHT_PT_impression"
    bl_label = "Impression"
    bl_order = 30
    stage = "reading"

    def draw_settings(self, context, layout, part):
        """Draw how it is read."""
        layout.prop(part, "press")
        if part.press == "given":
            layout.prop(part, "press_vector")
        layout.prop(part, "clay_thickness_mm")
        layout.prop(part, "spacing_mm")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.read_impression")


class PADWRIGHT_PT_pad(_Stage, bpy.types.Panel):
    """Pad"""

    bl_idname = "PADWRIGHT_PT_pad"
    bl_label = "Pad"
    bl_order = 40
    stage = "pad"

    def draw_settings(self, context, layout, part):
        """Draw its shape."""
        for name in ("fit_gap_mm", "least_thickness_mm", "rim_radius_mm", "cover_mm"):
            layout.prop(part, name)

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.build_pad")


class PADWRIGHT_PT_zones(_Stage, bpy.types.Panel):
    """Zones"""

    bl_idname = "PADWRIGHT_PT_zones"
    bl_label = "Zones"
    bl_order = 50
    stage = "zones"

    def draw_settings(self, context, layout, part):
        """Draw the list and the zone in work."""
        row = layout.row()
        row.template_list("PADWRIGHT_UL_zones", "", part, "zones", part, "zone_index", rows=3)
        side = row.column(align=True)
        side.operator("padwright.add_zone", text="", icon="ADD")
        side.operator("padwright.remove_zone", text="", icon="REMOVE")
        side.operator("padwright.move_zone", text="", icon="TRIA_UP").direction = "up"
        side.operator("padwright.move_zone", text="", icon="TRIA_DOWN").direction = "down"
        if 0 <= part.zone_index < len(part.zones):
            self._draw_zone(context, layout, part.zones[part.zone_index])
        layout.prop(part, "blend_steps")
        if part.blend_steps:
            layout.prop(part, "blend_width_mm")

    def _draw_zone(self, context, layout, zone):
        layout.prop(zone, "level")
        if zone.is_painted:
            _wrapped(layout, context, "You have painted this zone; it stays as painted.", "BRUSH_DATA")
            layout.operator("padwright.drop_paint")
        else:
            layout.prop(zone, "source")
            shown = {"load_centres": ("radius_mm",), "imprint_depth": ("from_mm", "to_mm")}
            for name in shown.get(zone.source, ()):
                layout.prop(zone, name)
        layout.operator("padwright.paint_zone")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.plan_zones")


class PADWRIGHT_PT_regions(_Stage, bpy.types.Panel):
    """Regions"""

    bl_idname = "PADWRIGHT_PT_regions"
    bl_label = "Regions"
    bl_order = 60
    stage = "regions"

    def draw_settings(self, context, layout, part):
        """Draw how they meet."""
        layout.prop(part, "contact")
        if part.contact == "overlapping":
            layout.prop(part, "overlap_mm")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.cut_regions")


class PADWRIGHT_PT_load(_Stage, bpy.types.Panel):
    """Load"""

    bl_idname = "PADWRIGHT_PT_load"
    bl_label = "Load"
    bl_order = 70
    stage = "load"

    def draw_settings(self, context, layout, part):
        """Draw who bears on it and what is aimed for."""
        if part.press == "inward":
            layout.prop(part, "grip_pressure_kpa")
        else:
            layout.prop(part, "body_mass_kg")
            layout.prop(part, "share")
        layout.prop(part, "goal")
        if part.goal != "levels":
            layout.prop(part, "sinkage_limit_mm")
        if part.goal == "relieve":
            for zone in part.zones:
                layout.prop(zone, "is_relieved", text=zone.name)

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.check_load")
        layout.operator_menu_enum("padwright.show_values", "values", text="Show Values")


class PADWRIGHT_PT_export(_Stage, bpy.types.Panel):
    """Export"""

    bl_idname = "PADWRIGHT_PT_export"
    bl_label = "Export"
    bl_order = 80
    stage = "export"

    def draw_settings(self, context, layout, part):
        """Draw where to."""
        layout.prop(part, "folder")
        layout.prop(part, "writes_stl")

    def draw_button(self, layout, part):
        """Draw what does it."""
        layout.operator("padwright.export_part")
        row = layout.row(align=True)
        row.operator("padwright.save_job", text="Save Job")
        row.operator("padwright.load_job", text="Load Job")


def _cautions(family):
    """Return what the family's card says for people's health; the card is read once."""
    from ..core.families import load_family

    return load_family(family).cautions


CLASSES = (
    PADWRIGHT_UL_lengths,
    PADWRIGHT_UL_pairs,
    PADWRIGHT_UL_zones,
    PADWRIGHT_PT_part,
    PADWRIGHT_PT_cautions,
    PADWRIGHT_PT_scans,
    PADWRIGHT_PT_alignment,
    PADWRIGHT_PT_impression,
    PADWRIGHT_PT_pad,
    PADWRIGHT_PT_zones,
    PADWRIGHT_PT_regions,
    PADWRIGHT_PT_load,
    PADWRIGHT_PT_export,
)
