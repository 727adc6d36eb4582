"""Runs the tour inside the modeller: `blender ... --python window_tour.py -- SECONDS [STEP ...]`.

Exit codes: 0 every step held; 1 one did not (a picture `failed.png` shows the window); 3 it took too long.
"""

from __future__ import annotations

import os
import sys
import time
import traceback
from pathlib import Path
from typing import NoReturn

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parent))

from window_hands import Hands, Waits
from window_steps import STEPS, prepare, settle

OUT = Path("/tmp/out")
STARTED = time.monotonic()
MOST_FAILED = 4
FAULTS = (AssertionError, ArithmeticError, AttributeError, LookupError, OSError, RuntimeError, TypeError, ValueError)


def walk(hands: Hands, until: str, failed: list[str]) -> Waits:
    """Do every step in turn, up to the one named if any; go on after one that does not hold, to see what else does."""
    yield from prepare(hands)
    for name, step in STEPS:
        began = time.monotonic()
        print(f"[{began - STARTED:6.1f}] {name}", flush=True)
        try:
            yield from step(hands)
        except FAULTS:
            traceback.print_exc()
            failed.append(name)
            hands.picture_at_once("failed" if len(failed) == 1 else f"failed-{len(failed)}")
            yield from settle(hands)
        else:
            print(f"    held, {time.monotonic() - began:.1f} s", flush=True)
        if name == until or len(failed) == MOST_FAILED:
            return


def end(code: int) -> NoReturn:
    """Leave at once with the code: the modeller's own quitting always gives 0."""
    print(f"[{time.monotonic() - STARTED:6.1f}] the tour ends with {code}", flush=True)
    sys.stdout.flush()
    os._exit(code)


def start(limit_s: float, until: str) -> None:
    """Walk from a timer, so that the window lives between the waits."""
    preferences = bpy.context.preferences
    preferences.use_preferences_save = False
    preferences.view.show_splash = False
    preferences.view.show_tooltips = False  # they would lie over what is pictured
    preferences.view.filebrowser_display_type = "SCREEN"  # no second window
    hands = Hands(OUT)
    failed: list[str] = []
    going = walk(hands, until, failed)

    def tick() -> float:
        if time.monotonic() - STARTED > limit_s:
            hands.picture_at_once("failed")
            end(3)
        try:
            return next(going) or 0.0
        except StopIteration:
            print(f"did not hold: {', '.join(failed) or 'none'}", flush=True)
            end(1 if failed else 0)
        except FAULTS:  # a timer that raises would only fall silent
            traceback.print_exc()
            end(1)

    bpy.app.timers.register(tick, first_interval=0.5, persistent=True)  # also after a scene is opened


_ARGUMENTS = sys.argv[sys.argv.index("--") + 1 :]
start(float(_ARGUMENTS[0]), _ARGUMENTS[1] if len(_ARGUMENTS) > 1 else "")
