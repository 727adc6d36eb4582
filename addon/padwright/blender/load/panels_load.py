"""The load on the pad, and what tuning made of it."""

import json

import bpy

from .. import state
from ..panels import StagePanel, card, cautions, draw_legend, fact, wrapped

_GRAVITY = 9.80665  # m/s2, as in core.stages.load.load_case; a test compares the two
_MARKS = {"far": "CHECKMARK", "some": "INFO", "doubtful": "ERROR", "out": "ERROR"}


class PADWRIGHT_UL_cases(bpy.types.UIList):
    """Load cases."""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, _index=0):
        row = layout.row(align=True)
        row.label(text=item.name, icon=_MARKS[item.bottoming])
        row.label(text=item.force)
        row.label(text=item.peak)


class PADWRIGHT_PT_load(StagePanel, bpy.types.Panel):
    """Load"""

    bl_label = "Load"
    bl_order = 80
    stage = "load"
    does = "padwright.check_load"

    def draw_settings(self, context, layout, part):
        if part.press == "inward":
            layout.prop(part, "grip_pressure_kpa")
        else:
            layout.prop(part, "body_mass_kg")
            layout.prop(part, "share")
        if not part.is_rigid:
            layout.prop(part, "flesh_thickness_mm")
        layout.prop(part, "is_rigid")
        for name, value in load_facts(part):
            fact(layout, name, value)
        layout.prop(part, "goal")
        if part.goal != "levels":
            layout.prop(part, "sinkage_limit_mm")
        if part.goal == "relieve":
            for zone in part.zones:
                layout.prop(zone, "is_relieved", text=zone.name)

    def draw_button(self, layout, part):
        text = "Check Load" if part.goal == "levels" else "Tune and Check Load"
        layout.operator(self.does, text=text)

    def draw_more(self, context, layout, part):
        found = part.found
        if len(found.cases) and state.done(part, "load") is not None:
            self._draw_case(context, layout, found, found.cases[min(found.case_index, len(found.cases) - 1)])
            if len(found.tuning) or found.tuning_said:
                self._draw_tuning(context, layout, found)
            self._draw_colors(layout, found)
            if part.mat_file.strip():
                layout.operator("padwright.show_values", text="Show Predicted Less Mat").values = "mat_off"
            wrapped(layout, context, "These numbers compare pads; they judge nobody's health.", "INFO")
            for text in cautions(part, "NUMBNESS"):
                wrapped(layout, context, text.split(". ")[0] + ".", "ERROR")
        draw_legend(context, layout, part)

    def _draw_case(self, context, layout, found, case):
        if len(found.cases) > 1:
            layout.template_list("PADWRIGHT_UL_cases", "", found, "cases", found, "case_index", rows=2)
        box = layout.box().column(align=True)
        for row in case.rows:
            fact(box, row.name, row.now)
        wrapped(box, context, case.meaning, _MARKS[case.bottoming])
        box = layout.box().column(align=True)
        box.label(text="Share of the Load")
        for row in case.zones:
            fact(box, row.name, row.now)

    def _draw_tuning(self, context, layout, found):
        box = layout.box().column(align=True)
        if len(found.tuning):
            _three(box, "Tuning", "Before", "After")
        for row in found.tuning:
            _three(box, row.name, row.before, row.now)
        wrapped(box, context, found.tuning_said)
        if len(found.tuning):
            wrapped(box, context, "Regions keep the colors of the levels you asked for.")

    def _draw_colors(self, layout, found):
        if len(found.tuning):
            row = layout.row(align=True)
            row.operator("padwright.show_load", text="Before").values = "pressure_before"
            row.operator("padwright.show_load", text="After").values = "pressure"
        layout.operator_menu_enum("padwright.show_load", "values", text="Show Load")


def _three(layout, name, first, second):
    """Draw a name and two values."""
    row = layout.split(factor=0.46)
    row.label(text=name)
    values = row.row()
    values.label(text=first)
    values.label(text=second)


def load_facts(part):
    """Return how hard the body bears and its posture, in words, before any check."""
    kept = json.loads(part.kept).get("load", {}) if part.kept else {}
    facts = []
    if part.press == "inward":
        if "squeeze_n" in kept:
            facts.append(("Squeeze", f"{kept['squeeze_n']:.0f} N in all"))
    elif "force_n" in kept:
        facts.append(("Force", f"{kept['force_n']:.0f} N by the job"))
    elif part.body_mass_kg > 0:
        facts.append(("Force", f"{part.body_mass_kg * part.share * _GRAVITY:.0f} N"))
    plain = card(part).defaults.get(("load", "posture"))
    posture = kept.get("posture") or (plain.value if plain is not None else "")
    if part.press != "inward" and "force_n" not in kept:
        posture = card(part).posture_for(posture, part.share)
    if posture:
        facts.append(("Posture", posture))
    count = len(kept.get("cases", ()))
    if count:
        facts.append(("More Cases", str(count)))
    return facts
