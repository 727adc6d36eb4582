"""A browser without a window, told what to do through the DevTools protocol over two pipes: nothing to install but it.

https://chromedevtools.github.io/devtools-protocol/ names the commands and the events.
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome", "chrome")
# Drawn by the processor: no graphics card is needed.
FLAGS = (
    "--headless=new", "--remote-debugging-pipe", "--use-gl=angle", "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader", "--no-first-run", "--disable-extensions", "--disable-background-networking",
    "--hide-scrollbars", "--mute-audio", "--disable-dev-shm-usage", "--force-color-profile=srgb",
)  # fmt: skip
PATIENCE_S = 60.0
STRIP = 2400  # pixels of the page's height in one picture


class BrowserError(Exception):
    """The browser is not there, does not answer, or says no; the text says which."""


class Page:
    """One page: what it shows and what it complains of."""

    def __init__(self, commands: int, answers: int) -> None:
        self._commands, self._answers = commands, answers
        self._number = 0
        self._rest = b""
        self._session: str | None = None
        self._loaded = False
        self.complaints: list[str] = []
        self.asked_for: list[str] = []

    def attach(self) -> None:
        """Open an empty page and listen to it."""
        target = self.do("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.do("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.do(f"{domain}.enable")

    def do(self, method: str, **params: Any) -> dict[str, Any]:
        """Give a command and return its answer.

        Raises
        ------
        BrowserError
            When it is refused or not answered in time.
        """
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": params}
        if self._session is not None:
            message["sessionId"] = self._session
        os.write(self._commands, json.dumps(message).encode() + b"\0")
        end = time.monotonic() + PATIENCE_S
        while True:
            answer = self._next(end, method)
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise BrowserError(f"{method}: {answer['error']['message']}")
                return answer["result"]

    def open(self, path: Path, width: int, height: int, *, ratio: float = 1.0, is_phone: bool = False) -> None:
        """Open a file in a window of a size and wait until all of it is there."""
        self.do(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=ratio, mobile=is_phone
        )
        self.do("Emulation.setTouchEmulationEnabled", enabled=is_phone)
        self._loaded = False
        self.do("Page.navigate", url=path.resolve().as_uri())
        end = time.monotonic() + PATIENCE_S
        while not self._loaded:
            self._next(end, "loading the page")

    def ask(self, script: str) -> Any:
        """Return what JavaScript gives, awaited.

        Raises
        ------
        BrowserError
            When it throws.
        """
        told = self.do("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in told:
            raise BrowserError(f"{script[:80]}: {_thrown(told['exceptionDetails'])}")
        return told["result"].get("value")

    def rest(self, seconds: float) -> None:
        """Let the page do what it has begun."""
        self.ask(f"new Promise((done) => setTimeout(done, {1000 * seconds:.0f}))")

    def drag(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Drag with the mouse from one place of the window to another."""
        mouse = {"button": "left", "clickCount": 1}
        self.do("Input.dispatchMouseEvent", type="mousePressed", x=start[0], y=start[1], **mouse)
        for step in range(1, 6):
            x, y = (a + (b - a) * step / 5 for a, b in zip(start, end, strict=True))
            self.do("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y, button="left", buttons=1)
        self.do("Input.dispatchMouseEvent", type="mouseReleased", x=end[0], y=end[1], **mouse)

    def touch(self, *ways: list[tuple[float, float]]) -> None:
        """Move fingers, each along places of the window."""
        for step in range(len(ways[0])):
            points = [{"x": way[step][0], "y": way[step][1], "id": number} for number, way in enumerate(ways)]
            self.do("Input.dispatchTouchEvent", type="touchMove" if step else "touchStart", touchPoints=points)
        self.do("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    def wheel(self, place: tuple[float, float], down: float, *, with_ctrl: bool = False) -> None:
        """Turn the wheel at a place of the window."""
        self.do(
            "Input.dispatchMouseEvent", type="mouseWheel", x=place[0], y=place[1], deltaX=0, deltaY=down,
            modifiers=2 if with_ctrl else 0,
        )  # fmt: skip

    def key(self, key: str) -> None:
        """Press and let go of a key, by its name in the DOM."""
        for kind in ("rawKeyDown", "keyUp"):
            self.do("Input.dispatchKeyEvent", type=kind, key=key)

    def picture(self) -> bytes:
        """Return a PNG of the window."""
        return base64.b64decode(self.do("Page.captureScreenshot", format="png")["data"])

    def strips(self) -> list[bytes]:
        """Return PNGs of the whole page from top to bottom: one alone may be too tall for what draws it."""
        size = self.do("Page.getLayoutMetrics")["cssContentSize"]
        found = []
        for top in range(0, int(size["height"]), STRIP):
            clip = {"x": 0, "y": top, "width": size["width"], "height": min(STRIP, size["height"] - top), "scale": 1}
            told = self.do("Page.captureScreenshot", format="png", captureBeyondViewport=True, clip=clip)
            found.append(base64.b64decode(told["data"]))
        return found

    def pdf(self, paper: tuple[float, float] | None = None) -> bytes:
        """Return the page as it is printed on a paper, inches; without one on that it asks for itself, else A4."""
        width, height = paper or (8.27, 11.69)
        told = self.do(
            "Page.printToPDF",
            preferCSSPageSize=paper is None,
            paperWidth=width,
            paperHeight=height,
            printBackground=True,
        )
        return base64.b64decode(told["data"])

    def _next(self, end: float, what: str) -> dict[str, Any]:
        while b"\0" not in self._rest:
            if not select.select([self._answers], [], [], max(0.0, end - time.monotonic()))[0]:
                raise BrowserError(f"The browser did not answer within {PATIENCE_S:.0f} s: {what}.")
            read = os.read(self._answers, 1 << 20)
            if not read:
                raise BrowserError(f"The browser ended: {what}.")
            self._rest += read
        message, _, self._rest = self._rest.partition(b"\0")
        told = json.loads(message)
        self._heard(told.get("method", ""), told.get("params", {}))
        return told

    def _heard(self, method: str, params: dict[str, Any]) -> None:
        if method == "Page.loadEventFired":
            self._loaded = True
        elif method == "Runtime.exceptionThrown":
            self.complaints.append(_thrown(params["exceptionDetails"]))
        elif method == "Runtime.consoleAPICalled" and params["type"] in ("error", "warning", "assert"):
            self.complaints.append(" ".join(str(each.get("value", each.get("description"))) for each in params["args"]))
        elif method == "Log.entryAdded" and params["entry"]["level"] in ("error", "warning"):
            self.complaints.append(params["entry"]["text"])
        elif method == "Network.requestWillBeSent":
            self.asked_for.append(params["request"]["url"][:100])


@contextlib.contextmanager
def browser_page(program: str | None = None, more_flags: tuple[str, ...] = ()) -> Iterator[Page]:
    """Start a browser and give a page of it; it ends with the block.

    Raises
    ------
    BrowserError
        When there is none.
    """
    found = program or next((name for name in NAMES if shutil.which(name)), None)
    if found is None:
        raise BrowserError("There is no Chromium here; on Debian: apt-get install chromium.")
    read_commands, commands = os.pipe()
    answers, write_answers = os.pipe()
    # Its sandbox wants rights that root in a container lacks.
    flags = [*FLAGS, *more_flags, *(["--no-sandbox"] if os.geteuid() == 0 else [])]

    def as_three_and_four() -> None:  # where the protocol's pipes are looked for
        os.dup2(os.dup(read_commands), 3)
        os.dup2(os.dup(write_answers), 4)

    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        process = subprocess.Popen(
            [found, *flags, f"--user-data-dir={profile}", "about:blank"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            close_fds=False,
            preexec_fn=as_three_and_four,
        )
        os.close(read_commands)
        os.close(write_answers)
        try:
            page = Page(commands, answers)
            page.attach()
            yield page
        finally:
            os.close(commands)
            os.close(answers)
            process.terminate()
            try:
                process.wait(10.0)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _thrown(details: dict[str, Any]) -> str:
    return str(details.get("exception", {}).get("description") or details["text"])
