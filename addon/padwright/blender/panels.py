"""What all panels of the sidebar share: text over several lines, and a stage's missing things, button and result."""

import textwrap
from functools import lru_cache

from ..core.base.text import counted
from . import refusals, state

CATEGORY = "Padwright"
_CHARACTER_PX = 6.2  # a character of the interface font at scale 1, about: labels do not wrap by themselves
_MARGIN_PX = 85.0  # tabs, borders and an icon beside the text


def wrapped(layout, context, text, icon="NONE"):
    """Draw a text over as many lines as the sidebar's width asks for."""
    region = getattr(context, "region", None)
    scale = context.preferences.system.ui_scale or 1.0
    pixels = (region.width if region is not None and region.width > 100 else 290) / scale
    width = (pixels - _MARGIN_PX) / _CHARACTER_PX
    column = layout.column(align=True)
    column.scale_y = 0.8
    for number, line in enumerate(_lines(text, max(20, int(width)))):
        column.label(text=line, icon=icon if number == 0 else "BLANK1" if icon != "NONE" else "NONE")


def wrapped_lines(layout, context, text, icon):
    """Draw a text of several lines, each as `wrapped`; nothing for an empty one."""
    for line in text.split("\n") if text else ():
        wrapped(layout, context, line, icon)


@lru_cache(maxsize=256)
def _lines(text, width):
    """Return a text's lines: panels are drawn many times a second, and their texts seldom change."""
    return textwrap.wrap(text, width)


def fact(layout, name, value):
    """Draw a name and a value as a property is drawn."""
    row = layout.split(factor=0.4)
    left = row.row()
    left.alignment = "RIGHT"
    left.label(text=name)
    row.label(text=value)


def card(part):
    """Return the card of the part's family, with the levels of its kind of fill; it is read once."""
    from ..core.job.cards import load_family

    return load_family(part.family).with_fill(part.fill_kind)


def cautions(part, code):
    """Return what the family's card says under a code: at most one text."""
    return [each.text for each in card(part).cautions if each.code == code]


def draw_legend(context, layout, part):
    """Draw what the colors on show mean, and the way back from them."""
    if part.view.is_colored:
        wrapped(layout, context, part.legend, "COLOR")
    if part.view.is_colored or part.view.before:
        layout.operator("padwright.clear_colors")


def draw_other_ways(layout, part):
    """Draw what opens the ways to set points without clicking; return whether it is open."""
    is_open = part.view.shows_other_ways
    icon = "TRIA_DOWN" if is_open else "TRIA_RIGHT"
    _opener(layout).prop(part.view, "shows_other_ways", icon=icon, emboss=False)
    return is_open


def _opener(layout):
    """Return a place for what opens and closes all below it."""
    row = layout.row()
    row.use_property_split = False
    row.alignment = "LEFT"
    return row


def draw_progress(context, layout):
    """Draw how far the long work is."""
    for fraction, text in state.running:
        layout.progress(factor=fraction, text=text)
        wrapped(layout, context, "Press Esc to stop.", "INFO")


class SidePanel:
    """A panel of the sidebar, closed at first, there once a part is started."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = CATEGORY
    bl_options = {"DEFAULT_CLOSED"}  # one open panel a time leaves the list of stages in sight

    @classmethod
    def poll(cls, context):
        """Need a part."""
        return context.scene.padwright.is_started

    def draw(self, context):
        """Draw all, with names before values as the modeller's own panels have them."""
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        with state.nothing_changes():
            self.draw_all(context, layout, context.scene.padwright)

    def draw_all(self, context, layout, part):
        """Draw all, from top to bottom."""


class StagePanel(SidePanel):
    """A panel of one stage."""

    stage = ""
    does = ""  # the operator of the stage's button

    def draw_header_preset(self, context):
        """Mark a stage that is done, or behind its settings."""
        with state.nothing_changes():
            self._draw_mark(context.scene.padwright)

    def _draw_mark(self, part):
        if self.stage and refusals.of(part, self.stage) is not None:
            self.layout.label(text="", icon="ERROR")
        elif state.done(part, self.stage) is not None:
            self.layout.label(text="", icon="FILE_REFRESH" if state.stale(part, self.stage) else "CHECKMARK")

    def draw_all(self, context, layout, part):
        """Draw what is missing, and the stage's settings, button and result."""
        missing = state.missing(part, self.stage) if self.stage else ""
        self.draw_settings(context, layout, part)
        if missing:
            wrapped(layout, context, missing, "INFO")
        self.draw_button(layout, part)
        if self.stage in state.at_work:
            draw_progress(context, layout)
        refused = refusals.of(part, self.stage) if self.stage else None
        if refused is not None:
            wrapped(layout, context, refused.message, "ERROR")
            wrapped(layout, context, refused.hint, "FORWARD")
        self.draw_more(context, layout, part)
        found = state.done(part, self.stage)
        if found is None:
            return
        behind = state.stale(part, self.stage)
        if behind:
            wrapped(layout, context, f"{behind}; do this stage again", "FILE_REFRESH")
        done, *notes = found.lines.split("\n")
        wrapped(layout, context, done)
        for note in notes[: found.acting]:  # before printing: never behind a click
            wrapped(layout, context, note, "ERROR")
        notes = notes[found.acting :]
        wrapped_lines(layout, context, found.facts, "DOT")
        if notes:
            icon = "DISCLOSURE_TRI_DOWN" if found.is_open else "DISCLOSURE_TRI_RIGHT"
            _opener(layout).prop(found, "is_open", text=counted(len(notes), "Note"), icon=icon, emboss=False)
        for note in notes if found.is_open else ():
            wrapped(layout, context, note, "DOT")

    def draw_settings(self, context, layout, part):
        """Draw what the artist says."""

    def draw_button(self, layout, part):
        """Draw what does the stage."""
        if self.does:
            layout.operator(self.does)

    def draw_more(self, context, layout, part):
        """Draw what stands between the button and the result."""


def buttons():
    """Return stage -> the operator that does it, as the stages' panels say."""
    return {kind.stage: kind.does for kind in StagePanel.__subclasses__() if kind.does}
