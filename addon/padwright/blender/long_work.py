"""Long work in the window without threads: steps between timer ticks, stopped by Esc, written only at the end."""

from __future__ import annotations

import time
from typing import Any, ClassVar

import bpy

from ..core.base.errors import PadwrightError
from ..core.base.progress import Progress, Steps, drain
from . import refusals, reporting, state
from .button import Button

_TICK_S = 0.05
_SLICE_S = 0.15  # so long the steps may run before the window is drawn again
_LOOKING = {"MIDDLEMOUSE", "WHEELUPMOUSE", "WHEELDOWNMOUSE", "WHEELINMOUSE", "WHEELOUTMOUSE", "TRACKPADPAN",
            "TRACKPADZOOM", "MOUSEMOVE", "INBETWEEN_MOUSEMOVE"}  # fmt: skip


class LongWork(Button):
    """An operator whose work is a generator of `Progress`.

    A subclass gives `steps`, which reads the scene at once and then works on arrays alone, and `finish`, which writes
    the result. Until `finish` nothing in the scene changes, so stopping leaves it as it was.
    """

    stage: ClassVar[str] = ""  # whose panel shows the progress
    is_running: ClassVar[bool] = False
    keeps_refusals: ClassVar[bool] = False  # the panels go on saying why it was refused

    def steps(self, context: bpy.types.Context) -> Steps[Any]:
        """Read the scene and return the work."""
        raise NotImplementedError

    def finish(self, context: bpy.types.Context, result: Any) -> None:
        """Write the result into the scene and tell the person."""
        raise NotImplementedError

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Do all the work at once: from a script, or where there is no window."""
        try:
            self.finish(context, drain(self.steps(context)))
        except PadwrightError as error:
            return self.refuse(context, error)
        return {"FINISHED"}

    def at_fault(self) -> str:
        """Return the stage that raised the error, where it is known."""
        return ""

    def refuse(self, context: bpy.types.Context, error: PadwrightError) -> set[str]:
        """Tell an error, and let the panels keep it where this is the button of a stage."""
        if self.keeps_refusals:
            refusals.note(context.scene.padwright, self.stage, error, self.at_fault())
        return reporting.fail(self, error)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        """Start the work in the window."""
        if bpy.app.background or context.window is None:
            return self.execute(context)
        if LongWork.is_running:
            self.report({"WARNING"}, "Other work is still running; press Esc to stop it")
            return {"CANCELLED"}
        try:
            self._work = self.steps(context)
        except PadwrightError as error:
            return self.refuse(context, error)
        LongWork.is_running = True
        manager = context.window_manager
        self._timer = manager.event_timer_add(_TICK_S, window=context.window)
        manager.progress_begin(0, 100)
        manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Do some steps at each tick."""
        if event.type == "ESC" and event.value == "PRESS":
            self.cancel(context)
            self.report({"INFO"}, "Stopped; the scene is as it was")
            return {"CANCELLED"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"} if event.type in _LOOKING else {"RUNNING_MODAL"}
        until = time.monotonic() + _SLICE_S
        goes_on = False
        try:
            while time.monotonic() < until:
                self._show(context, next(self._work))
            goes_on = True
        except StopIteration as end:
            result = end.value
        except PadwrightError as error:
            return self.refuse(context, error)
        finally:
            if not goes_on:
                self._end(context)
        if goes_on:
            return {"RUNNING_MODAL"}
        try:
            self.finish(context, result)
        except PadwrightError as error:
            return self.refuse(context, error)
        return {"FINISHED"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Stop the work; called by Esc, and by the modeller when the window goes."""
        self._work.close()
        self._end(context)

    def _show(self, context: bpy.types.Context, step: Progress) -> None:
        from .view import viewports  # not on enabling: it needs numpy

        context.window_manager.progress_update(100.0 * step.fraction)
        text = step.text[:1].upper() + step.text[1:]
        state.running[:] = [(step.fraction, text)]
        state.at_work[:] = [self.stage]
        viewports.redraw(context)
        context.workspace.status_text_set(f"{100.0 * step.fraction:.0f} %  {text}  (Esc stops it)")

    def _end(self, context: bpy.types.Context) -> None:
        from .view import viewports

        LongWork.is_running = False
        state.running.clear()
        state.at_work.clear()
        viewports.redraw(context)
        context.window_manager.event_timer_remove(self._timer)
        context.window_manager.progress_end()
        context.workspace.status_text_set(None)
