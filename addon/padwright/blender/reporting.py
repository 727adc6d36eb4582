"""What the person is told: errors with what to do, notes once each, and what is missing before a stage."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import bpy

from ..core.errors import PadwrightError

_MOST_NOTES = 5


def fail(operator: bpy.types.Operator, error: PadwrightError) -> set[str]:
    """Tell an error and cancel; nothing else may be caught, a bug must show itself."""
    operator.report({"ERROR"}, f"{error.message} {error.hint}".strip())
    return {"CANCELLED"}


def told(method: Callable[..., set[str]]) -> Callable[..., set[str]]:
    """Make an operator's `execute` tell a PadwrightError and cancel."""

    def execute(self: bpy.types.Operator, context: bpy.types.Context, *rest: Any) -> set[str]:
        try:
            return method(self, context, *rest)
        except PadwrightError as error:
            return fail(self, error)

    return execute


def tell(operator: bpy.types.Operator, done: str, notes: Iterable[str] = ()) -> None:
    """Say in one sentence what was done, and each note once; the first few as warnings, the rest counted."""
    unique = list(dict.fromkeys(notes))
    for note in unique[:_MOST_NOTES]:
        operator.report({"WARNING"}, note)
    if len(unique) > _MOST_NOTES:
        operator.report({"INFO"}, f"{len(unique) - _MOST_NOTES} more notes stand in the panel's result")
    operator.report({"INFO"}, done)


def allowed(cls: type[bpy.types.Operator], missing: str) -> bool:
    """Answer a `poll`: True when nothing is missing, else say what is."""
    if missing:
        cls.poll_message_set(missing)
    return not missing
