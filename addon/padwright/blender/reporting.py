"""What the person is told: errors with what to do, notes once each, and what is missing before a stage."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import bpy

from ..core.base.errors import PadwrightError
from ..core.base.notes import Weight, heaviest_first, weight_of

_MOST_NOTES = 5


def fail(operator: bpy.types.Operator, error: PadwrightError) -> set[str]:
    """Tell an error and cancel; nothing else may be caught, a bug must show itself."""
    operator.report({"ERROR"}, in_window(f"{error.message} {error.hint}".strip()))
    return {"CANCELLED"}


def in_window(text: str) -> str:
    """Return a sentence of the core in the words of the panels."""
    from .job_words import in_window as said  # not on enabling: it needs the reader of jobs

    return said(text)


def or_none(function: Callable[..., Any], *arguments: Any) -> Any:
    """Return what a function gives, or None where it raises a PadwrightError: drawing has no one to tell."""
    try:
        return function(*arguments)
    except PadwrightError:
        return None


def tell(operator: bpy.types.Operator, done: str, notes: Iterable[str] = ()) -> None:
    """Say in one sentence what was done, and the heaviest few notes once each, the rest counted.

    What must be acted on before printing is always said. Background, with which nothing is to be done, is no warning.
    """
    unique = heaviest_first(notes)
    most = max(_MOST_NOTES, sum(weight_of(note) is Weight.ACT for note in unique))
    for note in unique[:most]:
        operator.report({"INFO" if weight_of(note) is Weight.BACKGROUND else "WARNING"}, in_window(note))
    if len(unique) > most:
        operator.report({"INFO"}, f"{len(unique) - most} more notes stand in the panel's result")
    operator.report({"INFO"}, done)


def leave_edit_mode(context: bpy.types.Context) -> None:
    """Go to Object Mode: in Edit Mode the modeller's undo knows the mesh alone, not the part."""
    if context.mode.startswith("EDIT"):
        bpy.ops.object.mode_set(mode="OBJECT")
