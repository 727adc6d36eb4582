"""Clicking places on scans in the window: one modal operator's body for lengths and pairs."""

from __future__ import annotations

from typing import Any

import bpy

from ...core.base.errors import InputError, PadwrightError
from .. import reporting
from ..long_work import LongWork
from . import pick_session

_SNAP_PX = 12.0  # at interface scale 1
_LOOKING = {"MIDDLEMOUSE", "WHEELUPMOUSE", "WHEELDOWNMOUSE", "WHEELINMOUSE", "WHEELOUTMOUSE", "TRACKPADPAN",
            "TRACKPADZOOM", "MOUSEROTATE", "MOUSESMARTZOOM", "HOME", "ACCENT_GRAVE"}  # fmt: skip
_PASSED = ("NDOF_", "NUMPAD_", "TIMER", "WINDOW_", "INBETWEEN_")
_KEEPING, _BACK = {"RET", "NUMPAD_ENTER"}, {"RIGHTMOUSE", "BACK_SPACE"}


class Picks:
    """An operator that asks for places on scans.

    A subclass gives `session`, and `keep`, which writes one finished length or pair from its places into its own
    properties and calls `execute`. In the window nothing but the look of the scans changes until then.
    """

    def session(self, context: bpy.types.Context) -> pick_session.Session:
        """Return what is to be clicked."""
        raise NotImplementedError

    def keep(self, context: bpy.types.Context, places: tuple[pick_session.PickedPlace, ...]) -> set[str]:
        """Write one finished length or pair."""
        raise NotImplementedError

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        """Start picking in the window."""
        from ..view import viewports

        if bpy.app.background or context.window is None:
            return self.execute(context)
        if LongWork.is_running or pick_session.current:
            self.report({"WARNING"}, "Other work is still going on; press Esc to stop it")
            return {"CANCELLED"}
        session = self.session(context)
        session.is_snapping = context.scene.tool_settings.use_snap
        part = context.scene.padwright
        try:
            for click in session.clicks:
                if getattr(part, click.scan) is None:
                    todo = "Build it first." if click.scan == "pad" else "Import one, or choose an object."
                    raise InputError(f"There is no {click.on}.", hint=todo)
        except PadwrightError as error:
            return reporting.fail(self, error)
        self._session = session
        self._scene = context.scene.name
        self._looks = pick_session.Looks(context)
        self._sights, self._at = viewports.Sights(), ""
        pick_session.current[:] = [session]
        if session.is_on_two:
            both = self._both(part)
            self._looks.both(context, *both)
            viewports.frame(context, both)
        context.window.cursor_modal_set("CROSSHAIR")
        context.window_manager.modal_handler_add(self)
        self._ask(context)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Take a click, a key, or let the artist look around."""
        if pick_session.current != [self._session] or context.scene.name != self._scene:
            self._end(context)  # another file or scene
            return {"CANCELLED"}
        if event.type == "ESC" and event.value == "PRESS":
            self.cancel(context)
            self.report({"INFO"}, "Stopped; the scene is as it was")
            return {"CANCELLED"}
        if event.type in _KEEPING and event.value == "PRESS":
            return self._finish(context)
        try:
            return self._act(context, event)
        except PadwrightError as error:
            self._end(context)
            return reporting.fail(self, error)

    def _act(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        from ..view import viewports

        if event.type in _BACK and event.value == "PRESS":
            self._session.take_back()
            self._ask(context)
            return {"RUNNING_MODAL"}
        found = viewports.under_mouse(context.window, event.mouse_x, event.mouse_y)
        if event.type in {"MOUSEMOVE", "LEFT_CTRL", "RIGHT_CTRL", "OSKEY"}:
            self._session.hover = self._place(context, event, found)
            viewports.redraw(context)
            return {"PASS_THROUGH"} if event.type == "MOUSEMOVE" else {"RUNNING_MODAL"}
        if event.type == "LEFTMOUSE" and event.value == "PRESS" and not event.alt:
            return self._click(context, event, found)
        is_looking = (
            event.type in _LOOKING or event.type.startswith(_PASSED) or (event.type == "LEFTMOUSE" and event.alt)
        )
        return {"PASS_THROUGH"} if is_looking else {"RUNNING_MODAL"}

    def _click(self, context: bpy.types.Context, event: bpy.types.Event, found: Any) -> set[str]:
        place = self._place(context, event, found)
        if place is None:
            if found is not None and _is_on_gizmos(context, event, found):
                return {"PASS_THROUGH"}
            self._say(context, f"There is nothing of the {self._session.wanted.on} under the mouse. ")
            return {"RUNNING_MODAL"}
        self._session.take(place)
        if self._session.wanted is None:
            return self._finish(context)
        self._ask(context)
        return {"RUNNING_MODAL"}

    def _place(self, context: bpy.types.Context, event: bpy.types.Event, found: Any) -> pick_session.PickedPlace | None:
        from ..view import viewports
        from . import scan_places

        wanted = self._session.wanted
        if found is None or wanted is None:
            return None
        _, region = found
        # As everywhere in the modeller: the magnet in the header says whether to snap, and Ctrl turns it round.
        is_snapping = self._session.is_snapping != event.ctrl and wanted.snaps
        snap = _SNAP_PX * context.preferences.system.ui_scale if is_snapping else 0.0
        pixel = (event.mouse_x - region.x + 0.5, event.mouse_y - region.y + 0.5)
        return scan_places.place_under(context, wanted.scan, viewports.view_of(region, region.data), pixel, snap)

    def _ask(self, context: bpy.types.Context) -> None:
        """Show the scan that is wanted and say what to click."""
        wanted = self._session.wanted
        obj = getattr(context.scene.padwright, wanted.scan)
        if self._session.is_on_two:
            self._looks.both(context, *self._both(context.scene.padwright))
        else:
            self._looks.only(context, obj)
        self._sights.look_at(context, self._at, obj)
        self._at = obj.name
        self._say(context)

    def _both(self, part: Any) -> tuple[bpy.types.Object, bpy.types.Object]:
        """Return the two objects that are clicked in turn, that which may be put aside last."""
        scans = sorted({click.scan for click in self._session.clicks}, key=("base", "impression", "mat_picture").index)
        still, moved = (getattr(part, scan) for scan in scans)
        return still, moved

    def _say(self, context: bpy.types.Context, warning: str = "") -> None:
        from ..view import viewports

        context.workspace.status_text_set(self._session.line(warning))
        viewports.redraw(context)

    def _finish(self, context: bpy.types.Context) -> set[str]:
        """Write what is whole, one undo step each; the last one's comes from the modeller when this ends."""
        whole = self._session.finished
        self._end(context)
        for number, places in enumerate(whole, 1):
            answer = self.keep(context, places)
            if number == len(whole):
                return answer
            bpy.ops.ed.undo_push(message=self.bl_label)
        self.report({"INFO"}, "Nothing was picked; the scene is as it was")
        return {"CANCELLED"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Stop; called by Esc, and by the modeller when the window goes."""
        self._end(context)

    def _end(self, context: bpy.types.Context) -> None:
        from ..view import viewports

        pick_session.stop()
        if context.scene is not None and context.scene.name == self._scene:
            self._looks.put_back(context)
        if context.window is not None:
            context.window.cursor_modal_restore()
        if context.workspace is not None:
            context.workspace.status_text_set(None)
        viewports.redraw(context)


def _is_on_gizmos(context: bpy.types.Context, event: bpy.types.Event, found: Any) -> bool:
    from ..view import viewports

    area, region = found
    box = viewports.gizmo_box(area, region, context.preferences.system.ui_scale)
    if box is None:
        return False
    left, bottom, right, top = box
    return left <= event.mouse_x - region.x < right and bottom <= event.mouse_y - region.y < top
