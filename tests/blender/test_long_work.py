"""Long work in a window, played without one: steps, Esc, faults."""

from __future__ import annotations

from types import SimpleNamespace

import pytest


class Window:
    """Counts what the modeller's window manager is asked for."""

    def __init__(self):
        self.timers, self.progress, self.handlers, self.texts = 0, [], 0, []
        self.window_manager = self.workspace = self.window = self.screen = self
        self.areas = [SimpleNamespace(type="VIEW_3D", tag_redraw=lambda: None)]

    def event_timer_add(self, _step, window):
        self.timers += 1
        return "timer"

    def event_timer_remove(self, timer):
        assert timer == "timer"
        self.timers -= 1

    def modal_handler_add(self, _operator):
        self.handlers += 1

    def progress_begin(self, low, high):
        self.progress.append((low, high))

    def progress_update(self, value):
        self.progress.append(value)

    def progress_end(self):
        self.progress.append("end")

    def status_text_set(self, text):
        self.texts.append(text)


@pytest.fixture
def work(inside, monkeypatch):
    jobs, progress = inside("blender.long_work"), inside("core.base.progress")
    errors = inside("core.base.errors")
    monkeypatch.setattr(jobs, "_SLICE_S", 0.0)
    monkeypatch.setattr(jobs.bpy, "app", SimpleNamespace(background=False))

    class Work(jobs.LongWork):
        def __init__(self):
            self.told, self.result, self.closed, self.fault = [], None, False, None

        def report(self, kind, text):
            self.told.append((kind, text))

        def steps(self, _context):
            try:
                for number in range(3):
                    yield progress.Progress(number / 3, f"step {number}")
                    if self.fault is not None:
                        raise self.fault
                return "made"
            finally:
                self.closed = True

        def finish(self, _context, result):
            self.result = result

    one = Work()
    one.errors = errors
    # Without time for a second step in a tick each timer event does at most one.
    monkeypatch.setattr(
        jobs.time, "monotonic", iter([value for n in range(50) for value in (n, n - 0.5, n + 0.5)]).__next__
    )
    yield one
    jobs.LongWork.is_running = False


TICK = SimpleNamespace(type="TIMER", value="NOTHING")
ESC = SimpleNamespace(type="ESC", value="PRESS")


def test_it_goes_on_tick_by_tick_and_writes_at_the_end(work):
    window = Window()
    assert work.invoke(window, None) == {"RUNNING_MODAL"}
    seen = [work.modal(window, TICK) for _ in range(4)]
    assert seen == [{"RUNNING_MODAL"}] * 3 + [{"FINISHED"}]
    assert work.result == "made"
    assert (window.timers, window.progress[-1], window.texts[-1]) == (0, "end", None)
    assert "Esc stops it" in window.texts[0] and "Step 0" in window.texts[0]
    assert not type(work).is_running


def test_esc_stops_it_with_nothing_written(work):
    window = Window()
    work.invoke(window, None)
    work.modal(window, TICK)
    assert work.modal(window, ESC) == {"CANCELLED"}
    assert work.closed and work.result is None
    assert (window.timers, window.progress[-1], window.texts[-1]) == (0, "end", None)
    assert work.told == [({"INFO"}, "Stopped; the scene is as it was")]


def test_only_looking_around_is_let_through(work):
    window = Window()
    work.invoke(window, None)
    assert work.modal(window, SimpleNamespace(type="MIDDLEMOUSE", value="PRESS")) == {"PASS_THROUGH"}
    assert work.modal(window, SimpleNamespace(type="X", value="PRESS")) == {"RUNNING_MODAL"}


def test_a_second_work_waits(work):
    window = Window()
    work.invoke(window, None)
    assert type(work)().invoke(window, None) == {"CANCELLED"}
    assert window.handlers == 1


def test_a_fault_in_the_work_is_told_and_ends_it(work):
    window = Window()
    work.fault = work.errors.ScanError("The base scan has 3 holes.", hint="Scan again.")
    work.invoke(window, None)
    work.modal(window, TICK)
    assert work.modal(window, TICK) == {"CANCELLED"}
    assert work.told == [({"ERROR"}, "The base scan has 3 holes. Scan again.")]
    assert window.timers == 0 and not type(work).is_running


def test_a_bug_shows_itself_and_still_frees_the_window(work):
    window = Window()
    work.fault = KeyError("bug")
    work.invoke(window, None)
    work.modal(window, TICK)
    with pytest.raises(KeyError):
        work.modal(window, TICK)
    assert window.timers == 0 and not type(work).is_running
