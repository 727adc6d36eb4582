"""Hands and eyes inside the modeller's window: find buttons by their names, press, type, drag, take pictures.

Runs in the modeller itself, started with event simulation. Everything that takes time is a generator that yields
seconds to wait; `window_tour.py` steps it from a timer.
"""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import bpy

Waits = Iterator[float]
_STEP_PX = 13  # a button is about 20 pixels high
_HEADER_PX = 28  # from one closed panel to the next, at interface scale 1
_EMPTY_PX = 620  # so much without a button is the end of the panels
# Shares of a region's width where something is looked for.
_ACROSS = {"UI": (0.28, 0.83, 0.6), "EXECUTE": (0.93, 0.85)}
_KEYS = {**dict(zip("0123456789", "ZERO ONE TWO THREE FOUR FIVE SIX SEVEN EIGHT NINE".split(), strict=True)),
         ".": "PERIOD", "-": "MINUS", "/": "SLASH", " ": "SPACE", "_": "MINUS", ",": "COMMA"}  # fmt: skip


class ButtonError(AssertionError):
    """A button is not there, or is not what it should be."""


@dataclass(frozen=True)
class Button:
    """A button or field that was seen: its name and its place in the region's own scrolled coordinates."""

    name: str
    x: float
    y: float


def fits(name: str, wanted: str) -> bool:
    """Say if a button's name is the wanted one: an operator with any arguments, a property of any row of a list."""
    return name == wanted or ("(" not in wanted and name.startswith(f"{wanted}(")) or name.endswith(f"].{wanted}")


class Hands:
    """One pair of hands on the first window."""

    def __init__(self, out: Path) -> None:
        self.out = out
        self.at = (0, 0)
        self.seen: list[Button] = []
        self.opened: list[str] | None = None  # titles of panels

    # What is where

    @property
    def window(self) -> Any:
        """Return the window."""
        return bpy.context.window_manager.windows[0]

    def area(self, kind: str = "VIEW_3D") -> Any:
        """Return the area of a kind."""
        return next(area for area in self.window.screen.areas if area.type == kind)

    def region(self, kind: str = "UI", area: str = "VIEW_3D") -> Any:
        """Return a region of an area."""
        return next(region for region in self.area(area).regions if region.type == kind)

    def _name_here(self, area: Any, region: Any) -> str | None:
        """Return the name of what is under the mouse: a property's path, or an operator with its arguments."""
        with bpy.context.temp_override(window=self.window, area=area, region=region):
            found = bpy.context.property
            if found:
                return found[1].removeprefix("padwright.")
            if not bpy.ops.ui.copy_python_command_button.poll():
                return None
            manager = bpy.context.window_manager
            manager.clipboard = ""
            bpy.ops.ui.copy_python_command_button()
            text = manager.clipboard
        if not text.startswith("bpy.ops."):
            return None
        return text.removeprefix("bpy.ops.").replace("()", "")

    def look(self, region: str, area: str, columns: tuple[float, ...]) -> Waits:
        """Move the mouse over what a region shows, in columns at shares of its width, and remember every button."""
        where, here = self.area(area), self.region(region, area)
        found: dict[str, Button] = {}
        for share in columns:  # column by column: a name that comes a moment late is then off by one row only
            x, last = int(here.width * share), None
            yield from self.move(here.x + x, here.y + here.height - 4)
            yield 0.1  # until what was under the mouse before is left
            for y in range(here.height - 4, 4, -_STEP_PX):
                yield from self.move(here.x + x, here.y + y)
                name = self._name_here(where, here)
                if name is not None:
                    found.setdefault(name, Button(name, *here.view2d.region_to_view(x, y)))
                    last = y
                elif last is not None and last - y > _EMPTY_PX:
                    break
        self.seen += [button for name, button in found.items() if all(each.name != name for each in self.seen)]

    def find(self, wanted: str, region: str = "UI", area: str = "VIEW_3D") -> Iterator[float]:
        """Put the mouse on a button, scrolling to it where needed.

        Raises
        ------
        ButtonError
            When there is none of the name.
        """
        for attempt in range(7):
            for button in self.seen:
                if fits(button.name, wanted) and (yield from self._hover(button, region, area)):
                    return
            columns = _ACROSS[region]
            if attempt == 0:
                self.seen = []
                yield from self.look(region, area, columns[:2])
            elif attempt == 1 and len(columns) > 2:  # a narrow field between a label and a button
                yield from self.look(region, area, columns[2:])
            else:
                yield from self.scroll(-60 if attempt == 2 else 12, region, area)
                yield from self.look(region, area, columns)
        raise ButtonError(f"no button {wanted} among {[button.name for button in self.seen]}")

    def _hover(self, button: Button, region: str, area: str) -> Iterator[float]:
        """Put the mouse where a button was seen; return True when it is still there."""
        where, here = self.area(area), self.region(region, area)
        x, y = here.view2d.view_to_region(button.x, button.y, clip=False)
        if not 4 < y < here.height - 4:
            return False
        for nudge in (0, -4, 5, *(step * _STEP_PX * sign for step in range(1, 16) for sign in (-1, 1))):
            if not 4 < y + nudge < here.height - 4:
                continue
            yield from self.move(here.x + x, here.y + y + nudge)
            yield 0.02
            if self._name_here(where, here) == button.name:
                return True
        return False

    # Input

    def move(self, x: float, y: float) -> Waits:
        """Move the mouse to a place in the window."""
        self.at = (int(x), int(y))
        self.window.event_simulate(type="MOUSEMOVE", value="NOTHING", x=self.at[0], y=self.at[1])
        yield 0.0

    def tap(self, key: str, text: str = "", wait: float = 0.05, **held: bool) -> Waits:
        """Press and release a key or mouse button where the mouse is."""
        x, y = self.at
        more: dict[str, Any] = {"unicode": text} if text else {}
        self.window.event_simulate(type=key, value="PRESS", x=x, y=y, **more, **held)
        yield 0.02
        self.window.event_simulate(type=key, value="RELEASE", x=x, y=y, **held)
        yield wait

    def press(self, wanted: str, region: str = "UI", area: str = "VIEW_3D", wait: float = 0.3) -> Waits:
        """Click a button by its name."""
        yield from self.find(wanted, region, area)
        print(f"    press {wanted}", flush=True)
        yield from self.tap("LEFTMOUSE", wait=wait)

    def type_text(self, text: str) -> Waits:
        """Type a text and Return."""
        for letter in text:
            yield from self.tap(_KEYS.get(letter, letter.upper()), letter, wait=0.01)
        yield from self.tap("RET", wait=0.2)

    def fill(self, wanted: str, text: str) -> Waits:
        """Type into a field: what stood there goes."""
        yield from self.find(wanted)
        print(f"    fill {wanted} with {text}", flush=True)
        yield from self.fill_here(text)

    def fill_here(self, text: str) -> Waits:
        """Type into the field under the mouse."""
        yield from self.tap("LEFTMOUSE", ctrl=True, wait=0.15)
        yield from self.tap("A", ctrl=True)
        yield from self.tap("DEL")  # so that an empty text empties it
        yield from self.type_text(text)

    def choose(self, wanted: str, number: int) -> Waits:
        """Take an entry of a menu field or menu button, counted from 1."""
        yield from self.find(wanted)
        print(f"    choose entry {number} of {wanted}", flush=True)
        yield from self.choose_here(number)

    def choose_here(self, number: int) -> Waits:
        """Open the menu under the mouse and take an entry by its number key."""
        yield from self.tap("LEFTMOUSE", wait=0.4)
        yield from self.tap(_KEYS[str(number)], wait=0.4)

    def drag(self, path: list[tuple[float, float]], wait: float = 0.02, button: str = "LEFTMOUSE") -> Waits:
        """Press at the first place, go through the others, release at the last."""
        yield from self.move(*path[0])
        yield 0.1
        self.window.event_simulate(type=button, value="PRESS", x=self.at[0], y=self.at[1])
        for (x0, y0), (x1, y1) in pairwise(path):
            for part in range(1, 7):
                yield from self.move(x0 + (x1 - x0) * part / 6, y0 + (y1 - y0) * part / 6)
                yield wait
        self.window.event_simulate(type=button, value="RELEASE", x=self.at[0], y=self.at[1])
        yield 0.3

    def scroll(self, clicks: int, region: str = "UI", area: str = "VIEW_3D") -> Waits:
        """Scroll a region; more than 0 shows what is further down."""
        here = self.region(region, area)
        yield from self.move(here.x + here.width // 2, here.y + here.height // 2)
        for _ in range(abs(clicks)):
            yield from self.tap("WHEELDOWNMOUSE" if clicks > 0 else "WHEELUPMOUSE", wait=0.0)
        yield 0.15

    def open_panel(self, title: str) -> Waits:
        """Close the panels that are open and open the one with a title, by clicks on their headers."""
        tab = self.region().active_panel_category
        panels = [
            panel
            for panel in bpy.types.Panel.__subclasses__()
            if getattr(panel, "bl_category", "") == tab
            and not getattr(panel, "bl_parent_id", "")
            and (not hasattr(panel, "poll") or panel.poll(bpy.context))
        ]
        panels.sort(key=lambda panel: panel.bl_order)
        if self.opened is None:
            self.opened = [each.bl_label for each in panels if "DEFAULT_CLOSED" not in getattr(each, "bl_options", ())]
        titles = [panel.bl_label for panel in panels]
        assert title in titles, titles
        yield from self.scroll(-60)
        for each in [each for each in titles if each in self.opened]:  # from above: all before it are closed by then
            yield from self._click_header(titles.index(each))
        yield from self._click_header(titles.index(title))
        self.opened = [title]
        print(f"    open panel {title}", flush=True)
        self.seen = []

    def _click_header(self, number: int) -> Waits:
        here = self.region()
        yield from self.move(here.x + 100, here.y + here.height - 16 - _HEADER_PX * number)
        yield 0.1
        yield from self.tap("LEFTMOUSE", wait=0.6)

    # Pictures

    def picture(self, name: str, most_looks: int = 12) -> Waits:
        """Take a picture of the whole screen once it stands still, or after the most looks.

        Panels slide, and a busy machine draws late.
        """
        last = b""
        for _ in range(most_looks):
            bpy.ops.wm.redraw_timer(type="DRAW_WIN_SWAP", iterations=1)
            now = _screen()
            if now == last:
                break
            last = now
            yield 0.4
        (self.out / f"{name}.png").write_bytes(last)

    def picture_at_once(self, name: str) -> None:
        """Take a picture of the whole screen as it is."""
        (self.out / f"{name}.png").write_bytes(_screen())


def _screen() -> bytes:
    """Return what the screen shows as a PNG without the time in it, so that two can be compared."""
    shown = subprocess.run(["import", "-window", "root", "-strip", "png:-"], check=True, capture_output=True)
    return shown.stdout
