"""What all buttons share: how the modeller calls them, what is missing before they can be pressed, errors told."""

from __future__ import annotations

from typing import Any, ClassVar

import bpy

from ..core.base.errors import PadwrightError
from . import reporting

MODES = {"OBJECT", "PAINT_WEIGHT"}
"""Where what changes the part may be pressed: in Edit Mode and the like undo would not bring the part back."""


class Button:
    """An operator that works on the part: `PADWRIGHT_OT_add_zone` is `padwright.add_zone` to the modeller.

    A subclass gives `act`, and `missing` where something may be. One with "EDIT_MESH" among its modes looks at what is
    selected there and then leaves it by itself; with no modes it can be pressed anywhere.
    """

    bl_idname: ClassVar[str]
    bl_options: ClassVar[set[str]] = {"REGISTER", "UNDO"}
    modes: ClassVar[set[str]] = MODES

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        cls.bl_idname = f"padwright.{cls.__name__.rpartition('_OT_')[2]}"

    @classmethod
    def missing(cls, context: bpy.types.Context, part: Any) -> str:
        """Return in words what is missing before it can be pressed, or nothing."""
        return ""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Say what is missing."""
        is_wrong = cls.modes and context.mode not in cls.modes
        lacking = "Go back to Object Mode first" if is_wrong else cls.missing(context, context.scene.padwright)
        if lacking:
            cls.poll_message_set(lacking)
        return not lacking

    def act(self, context: bpy.types.Context, part: Any) -> set[str] | None:
        """Do the work and tell; return what the modeller is answered when that is not that it is finished."""
        raise NotImplementedError

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Do the work, or tell why not and cancel."""
        try:
            return self.act(context, context.scene.padwright) or {"FINISHED"}
        except PadwrightError as error:
            return reporting.fail(self, error)
