"""How prints were to wear, and what the next one is to be."""

import bpy

from .. import state
from ..panels import SidePanel, fact, wrapped


class PADWRIGHT_UL_noted(bpy.types.UIList):
    """Notes."""

    def draw_item(self, _context, layout, _data, item, _icon, _active, _property, _index=0):
        row = layout.split(factor=0.4, align=True)
        row.label(text=item.name)
        row.label(text=f"Print {item.revision}" + (", compared" if item.compared else ""))


class PADWRIGHT_PT_trials(SidePanel, bpy.types.Panel):
    """Trials"""

    bl_label = "Trials"
    bl_order = 110

    def draw_all(self, context, layout, part):
        form = part.trials
        if not part.is_started or not len(part.zones):
            wrapped(layout, context, "Add a zone first" if part.is_started else "Start a part first", "INFO")
        place = "//" if bpy.data.filepath else "choose one"
        layout.prop(form, "folder", placeholder=place)
        if form.is_open:
            self._draw_note(context, layout, form)
            return
        wrapped(layout, context, "Wear it for a day before you judge it, best on three or four days.", "INFO")
        row = layout.row(align=True)
        row.operator("padwright.begin_trial")
        row.operator("padwright.read_trials")
        if len(form.noted):
            layout.template_list("PADWRIGHT_UL_noted", "", form, "noted", form, "noted_index", rows=3)
            noted = state.row_at(form.noted, form.noted_index)
            if noted is not None:
                wrapped(layout, context, noted.said)
                if noted.compared:
                    wrapped(layout, context, f"Its scan: {noted.compared}", "INFO")

    def _draw_note(self, context, layout, form):
        fact(layout, "Print", form.revision)
        for name in ("date", "hours_worn", "activity"):
            layout.prop(form, name)
        if 0.0 < form.hours_worn < 1.0:
            wrapped(layout, context, "So soon a verdict often turns round: note it again after a day.", "INFO")
        for answer in form.answers:
            box = layout.box().column(align=True)
            box.use_property_split = False
            box.label(text=answer.name)
            box.row(align=True).prop(answer, "feels", expand=True)
            if form.before:
                box.label(text=f"Against print {form.before}:")
                box.row(align=True).prop(answer, "than_last", expand=True)
        self._draw_pain(context, layout, form)
        for name in ("slipped", "wore", "note", "photos"):
            layout.prop(form, name)
        layout.operator("padwright.add_photos")
        row = layout.row(align=True)
        row.operator("padwright.save_trial")
        row.operator("padwright.drop_trial")

    def _draw_pain(self, context, layout, form):
        layout.prop(form, "pain", slider=True)
        if form.pain >= 4:
            wrapped(layout, context, "Stop wearing it. Change the shape before the next try.", "ERROR")
        text = "Pick It Again" if form.has_pain_point else "Pick Sore Place"
        icon = "CHECKMARK" if form.has_pain_point else "NONE"
        layout.operator("padwright.pick_sore", text=text, icon=icon)
