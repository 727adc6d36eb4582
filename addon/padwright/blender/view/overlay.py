"""When the modeller draws over its 3D viewports, told of on enabling and taken back; `overlay_draw` draws."""

from __future__ import annotations

from typing import Any

import bpy
from bpy.app.handlers import persistent

from .. import refusals, state
from ..scans import pick_session
from . import shading

_handle: list[Any] = []


def is_anything(part: Any) -> bool:
    """Return whether there may be something to draw; asked at every redraw of every viewport."""
    view = part.view
    return bool(
        pick_session.current
        or (view.shows_bar and view.is_colored)
        or (view.shows_lengths and len(part.lengths))
        or (view.shows_pairs and len(part.pairs))
        or (view.shows_mat_places and (len(part.mat_places) or part.mat_picture is not None))
        or (view.shows_run and part.rows_run == "given")
        or (view.shows_centers and state.done(part, "reading") is not None)
    )


def _on_draw() -> None:
    part = getattr(bpy.context.scene, "padwright", None)
    if bpy.app.background or part is None or not is_anything(part):
        return
    from . import overlay_draw

    overlay_draw.draw(bpy.context)


@persistent
def _on_load(*_: Any) -> None:
    pick_session.stop()
    shading.forget()
    state.written.clear()
    refusals.forget()


def start() -> None:
    """Let the modeller call for drawing."""
    stop()
    _handle.append(bpy.types.SpaceView3D.draw_handler_add(_on_draw, (), "WINDOW", "POST_PIXEL"))
    bpy.app.handlers.load_post.append(_on_load)


def stop() -> None:
    """Take back what `start` did."""
    while _handle:
        bpy.types.SpaceView3D.draw_handler_remove(_handle.pop(), "WINDOW")
    for each in [each for each in bpy.app.handlers.load_post if each is _on_load]:
        bpy.app.handlers.load_post.remove(each)
    pick_session.stop()
