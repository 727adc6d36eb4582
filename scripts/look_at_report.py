"""Open pages that a run wrote in a browser, use what can be used, and leave pictures to look at.

    python3.11 scripts/look_at_report.py out/demo/DEMO-1.report.html out/demo/DEMO-1.sheet.html
    python3.11 scripts/look_at_report.py PAGES --out FOLDER --conformance vnu.jar

Each page is opened on a wide screen, on a phone and on paper (PDF, and its pages as PNG where pdftoppm is there). A
view to turn is dragged, pinched, keyed, cut and asked for values; its pixels must follow. It ends with 1 when a page
complains, asks for anything outside itself, is wider than the phone, or does not follow. `--conformance` also has the
pages read by the Nu Html Checker (vnu.jar of npm's vnu-jar, run by java). Nothing but Python and Chromium is needed.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from browser import BrowserError, Page, browser_page

WIDE, PHONE = (1280, 900), (390, 844)
NO_WEBGL = ("--disable-gpu", "--disable-3d-apis")
CHOOSE = """(() => {{
  const found = document.querySelector(".turn-{name}");
  found.{what} = {value};
  found.dispatchEvent(new Event("{event}", {{ bubbles: true }}));
}})()"""

CHOOSE_BY_ID = """(() => {{
  const found = document.getElementById("{id}");
  found.value = {value};
  found.dispatchEvent(new Event("{event}", {{ bubbles: true }}));
}})()"""


class Looking:
    """What was wrong with a page."""

    def __init__(self, page: Page, path: Path, out: Path) -> None:
        self.page, self.path, self.out = page, path, out
        self.faults: list[str] = []

    def need(self, holds: object, fault: str) -> None:
        """Note a fault unless something holds."""
        if not holds:
            self.faults.append(fault)

    def keep(self, name: str, data: bytes) -> None:
        """Leave a file to look at."""
        target = self.out / f"{self.path.name.removesuffix('.html')}.{name}"
        target.write_bytes(data)
        print(f"  {target}")

    def screen(self, name: str, size: tuple[int, int], *, is_phone: bool) -> None:
        """Open the page on a screen and use it there."""
        self.page.open(self.path, *size, ratio=2.0 if is_phone else 1.0, is_phone=is_phone)
        self.page.rest(0.6)
        for number, strip in enumerate(self.page.strips()):
            self.keep(f"{name}-{number + 1}.png", strip)
        wide = self.page.ask("document.documentElement.scrollWidth")
        self.need(wide <= size[0], f"{name}: {wide} pixels wide on a screen of {size[0]}")
        if self.page.ask('document.querySelector("#sort-by") !== null'):
            self.sort(name)
        if self.page.ask('document.querySelector(".turn-view") !== null'):
            live = self.page.ask('document.querySelector(".turn-view").classList.contains("is-live")')
            self.need(live, f"{name}: the view to turn does not run")
            if live:
                self.turn(name, is_phone=is_phone)

    def sort(self, name: str) -> None:
        """Sort a batch's table by each column, find in it, and leave it as it was."""
        page = self.page
        rows = "[...document.querySelectorAll('#parts tbody tr')]"
        first = "document.querySelector('#parts tbody tr:not([hidden])')"
        for key in page.ask("[...document.querySelectorAll('#sort-by option')].map((each) => each.value)"):
            page.ask(CHOOSE_BY_ID.format(id="sort-by", value=f'"{key}"', event="change"))
            dashed = key.lower().replace("_", "-")
            values = page.ask(f"{rows}.map((row) => row.getAttribute('data-{dashed}'))")
            known = [each for each in values if each != ""]
            self.need(values[: len(known)] == known, f"{name}: by {key} what is not known does not come last")
            if key not in ("name", "look"):
                numbers = [float(each) for each in known]
                self.need(numbers == sorted(numbers, reverse=True), f"{name}: not sorted by {key}")
        page.ask(CHOOSE_BY_ID.format(id="sort-by", value='"look"', event="change"))
        word = page.ask(f"{first}.querySelector('th').innerText.split('\\n')[0]")
        for text, is_there in ((word, True), ("no such words", False), ("", True)):
            page.ask(CHOOSE_BY_ID.format(id="find", value=f'"{text}"', event="input"))
            self.need(page.ask(f"{first} !== null") == is_there, f'{name}: finding "{text}" does not work')

    def turn(self, name: str, *, is_phone: bool) -> None:
        """Use the view to turn as a person would."""
        page = self.page
        page.ask('document.querySelector(".turn-view").scrollIntoView()')
        box = page.ask('(({x, y, width, height}) => [x, y, width, height])(canvas.getBoundingClientRect())'
                       .replace("canvas", 'document.querySelector(".turn-canvas")'))  # fmt: skip
        middle = (box[0] + box[2] / 2, box[1] + box[3] / 2)
        aside = (middle[0] + box[2] / 4, middle[1] + 10.0)
        if is_phone:
            far, near = 20.0, 80.0
            self.follows(f"{name}: a finger", lambda: page.touch([(middle[0] + 8 * n, middle[1]) for n in range(8)]))
            pinch = [[(middle[0] + way * (far + (near - far) * n / 6), middle[1]) for n in range(7)] for way in (-1, 1)]
            self.follows(f"{name}: a pinch", lambda: page.touch(*pinch))
            before = page.ask("scrollY")
            page.touch([(middle[0], middle[1] - 12 * n) for n in range(14)])
            page.rest(0.5)
            self.need(page.ask("scrollY") > before, f"{name}: swiping over the part does not scroll the page")
            page.ask('document.querySelector(".turn-view").scrollIntoView()')
        else:
            self.follows(f"{name}: the mouse", lambda: page.drag(middle, aside))
            self.follows(f"{name}: the wheel with Ctrl", lambda: page.wheel(middle, -240.0, with_ctrl=True))
            before = page.ask("scrollY")
            page.wheel(middle, 200.0)
            page.rest(0.4)
            self.need(page.ask("scrollY") > before, f"{name}: the wheel does not scroll the page")
            page.ask('document.querySelector(".turn-view").scrollIntoView()')
        page.ask('document.querySelector(".turn-canvas").focus()')
        self.follows(f"{name}: an arrow key", lambda: page.key("ArrowLeft"))
        page.key("Home")
        page.rest(0.6)
        fields = page.ask('document.querySelector(".turn-colors").length')
        for number in range(fields):
            choose = CHOOSE.format(name="colors", what="selectedIndex", value=number, event="change")
            if number:
                self.follows(f"{name}: the colors {number}", lambda script=choose: page.ask(script))
            keys = page.ask('[...document.querySelectorAll(".turn-key")].map((key) => key.hidden)')
            self.need(keys == [each != number for each in range(fields)], f"{name}: not the key of the colors {number}")
            self.keep(f"{name}.colors-{number}.png", page.picture())
        for way in ("length", "width", "height"):
            cut = CHOOSE.format(name="cut", what="value", value=f'"{way}"', event="change")
            self.follows(f"{name}: a cut along its {way}", lambda script=cut: page.ask(script))
            page.rest(0.6)
            slide = CHOOSE.format(name="where", what="value", value=350, event="input")
            self.follows(f"{name}: the slider along its {way}", lambda script=slide: page.ask(script))
            self.keep(f"{name}.cut-{way}.png", page.picture())
            page.ask(slide.replace("350", "500"))
        page.ask(CHOOSE.format(name="cut", what="value", value='""', event="change"))
        page.ask('document.querySelector("[data-look=base]").click()')
        page.rest(0.6)
        page.key("ArrowUp")
        said = page.ask('document.querySelector(".turn-value").textContent')
        self.need("place in the base scan: " in said, f'{name}: asked for values in the middle it says "{said}"')
        print(f"  {name}: {said}")

    def follows(self, what: str, act: Callable[[], object]) -> None:
        """Note a fault when the drawn part looks the same after an act."""
        look = 'document.querySelector(".turn-canvas").toDataURL()'
        before = self.page.ask(look)
        act()
        self.page.rest(0.4)
        self.need(self.page.ask(look) != before, f"{what} changes nothing")

    def paper(self) -> None:
        """Print the page."""
        self.page.open(self.path, *WIDE)
        self.page.rest(1.2)
        self.keep("pdf", self.page.pdf())
        pdf = self.out / f"{self.path.name.removesuffix('.html')}.pdf"
        if shutil.which("pdftoppm"):
            subprocess.run(["pdftoppm", "-r", "60", "-png", str(pdf), str(pdf.with_suffix(".page"))], check=True)

    def complaints(self) -> None:
        """Note what the page complained of and asked for."""
        self.faults += [f"the page says: {each}" for each in dict.fromkeys(self.page.complaints)]
        own = (self.path.resolve().as_uri(), "data:", "about:", "blob:")
        self.faults += [
            f"the page asks for {each}" for each in dict.fromkeys(self.page.asked_for) if not each.startswith(own)
        ]


def looked_at(path: Path, out: Path, program: str | None) -> list[str]:
    """Open a page everywhere and return what is wrong with it."""
    with browser_page(program) as page:
        looking = Looking(page, path, out)
        looking.screen("wide", WIDE, is_phone=False)
        looking.screen("phone", PHONE, is_phone=True)
        looking.paper()
        looking.complaints()
    with browser_page(program, NO_WEBGL) as page:
        page.open(path, *WIDE)
        page.rest(0.4)
        there = '[...document.querySelectorAll(".turn-still")].every((each) => each.offsetHeight > 100)'
        looking.need(page.ask(there), "without WebGL there is no still picture")
    return looking.faults


def conformance(path: Path, jar: Path) -> list[str]:
    """Return what the Nu Html Checker says of a page."""
    command = ["java", "-jar", str(jar), "--format", "gnu", str(path)]
    told = subprocess.run(command, capture_output=True, text=True, check=False)
    return [line[-300:] for line in (told.stdout + told.stderr).splitlines() if line.strip()]


def main(arguments: list[str]) -> int:
    """Look at the pages and say what is wrong."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("pages", nargs="+", type=Path, metavar="PAGE")
    parser.add_argument("--out", type=Path, default=Path("out/looked-at"), help="folder for pictures (%(default)s)")
    parser.add_argument("--browser", help="the program (default: a Chromium on the path)")
    parser.add_argument("--conformance", type=Path, metavar="VNU_JAR", help="also have the Nu Html Checker read them")
    chosen = parser.parse_args(arguments)
    chosen.out.mkdir(parents=True, exist_ok=True)
    count = 0
    for path in chosen.pages:
        print(f"{path} ({path.stat().st_size / 1e6:.2f} MB)")
        try:
            faults = looked_at(path, chosen.out, chosen.browser)
        except BrowserError as error:
            faults = [str(error)]
        if chosen.conformance is not None:
            faults += conformance(path, chosen.conformance)
        for fault in faults:
            print(f"  WRONG: {fault}")
        count += len(faults)
    print("Nothing is wrong; look at the pictures." if count == 0 else f"{count} faults.")
    return 1 if count else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
