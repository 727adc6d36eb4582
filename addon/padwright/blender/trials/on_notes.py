"""What the buttons of trials share."""

from __future__ import annotations

from typing import Any

import bpy

from ..button import Button


class OnNotes(Button):
    """Needs a part with zones."""

    modes = {"OBJECT"}

    @classmethod
    def missing(cls, context: bpy.types.Context, part: Any) -> str:
        """Return what the notes need."""
        if not part.is_started:
            return "Start a part first"
        return "" if len(part.zones) else "Add a zone first"
