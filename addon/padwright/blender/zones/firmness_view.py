"""The planned firmness as colors on the pad."""

from __future__ import annotations

import bpy

from ..view import value_colors

TITLE = "Firmness"
_LEVELS = ((1.0, "1 relief"), (2.0, "2 soft"), (3.0, "3 medium"), (4.0, "4 firm"))


def show(context: bpy.types.Context, values: object) -> str:
    """Color the pad by the level of every vertex, (n,), and return in words what the colors mean."""
    pad = context.scene.padwright.pad
    return value_colors.show(context, pad, values, title=TITLE, unit="", low=1.0, high=4.0, ticks=_LEVELS)


def show_again(context: bpy.types.Context, values: object) -> None:
    """Color the pad anew where it shows the firmness of an older plan."""
    view = context.scene.padwright.view
    if view.is_colored and view.title == TITLE:
        show(context, values)
