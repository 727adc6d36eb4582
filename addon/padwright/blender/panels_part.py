"""The part: its names, the cautions of its family, and the work that is going on."""

import bpy

from . import refusals, state
from .panels import SidePanel, StagePanel, buttons, card, draw_progress, wrapped


def next_step(part):
    """Return what the artist does next, in words."""
    settings = state.all_settings(part)
    does = buttons()
    for stage in (each for each in state.STAGES if each in does and state.is_wanted(part, each)):
        if stage in ("alignment", "reading") and part.impression is None and part.envelope is not None:
            continue
        button = _label(does[stage])
        lacking = state.missing(part, stage)
        if lacking:
            return f"Next: {lacking.replace(' first', '', 1)}" + ("; or export without it" if stage == "load" else "")
        refused = refusals.of(part, stage)
        if refused is not None:
            return f"{button} was refused. Next: {refused.hint or refused.message}"
        if state.done(part, stage) is None:
            return f"Next: {button}"
        behind = state.stale(part, stage, settings)
        if behind:
            return f"Next: {button} again. {behind}"
    return "Next: Export Part, or change a value and do its stage again"


def _label(operator):
    """Return what stands on an operator's button."""
    return getattr(bpy.types, f"PADWRIGHT_OT_{operator.split('.')[1]}").bl_label


class PADWRIGHT_PT_part(StagePanel, bpy.types.Panel):
    """Part"""

    bl_label = "Part"
    bl_order = 0
    bl_options: set[str] = set()

    @classmethod
    def poll(cls, _context):
        return True

    def draw_settings(self, context, layout, part):
        if not part.is_started:
            wrapped(layout, context, "A part has a family, a name and a number. Start one, or load a job file.", "INFO")
            layout.operator("padwright.start_part", text="Start Part")
            layout.operator("padwright.load_job", text="Load Job")
            return
        if not state.running:
            wrapped(layout, context, next_step(part), "FORWARD")
        for name in ("part_name", "number", "revision", "is_mirrored", "material", "nozzle_mm"):
            layout.prop(part, name)
        layout.operator("padwright.start_part", text="Start Another Part")
        draw_progress(context, layout)


class PADWRIGHT_PT_cautions(SidePanel, bpy.types.Panel):
    """Cautions"""

    bl_label = "Cautions"
    bl_parent_id = "PADWRIGHT_PT_part"
    bl_options: set[str] = set()  # open: they are to be read

    def draw_all(self, context, layout, part):
        for caution in card(part).cautions:
            wrapped(layout, context, caution.text, "INFO" if caution.severity == "note" else "ERROR")
