"""Make the README's picture of a report: `python3 scripts/report_picture.py out/demo/DEMO-1.report.html` (Chromium)."""

from __future__ import annotations

import sys
from pathlib import Path

from browser import BrowserError, browser_page

TARGET = Path(__file__).resolve().parents[1] / "docs" / "images" / "report.png"
SIZE = (1120, 1050)  # pixels: the head and what the part is


def main(report: Path) -> int:
    """Open the report and keep what one sees of it first."""
    if not report.is_file():
        print(f"There is no report at {report}. Run scripts/demo.py first.", file=sys.stderr)
        return 2
    try:
        with browser_page() as page:
            page.open(report, *SIZE)
            page.rest(1.0)
            data = page.picture()
    except BrowserError as error:
        print(error, file=sys.stderr)
        return 1
    TARGET.write_bytes(data)
    print(f"Wrote {TARGET} ({len(data)} bytes).")
    return 0


if __name__ == "__main__":
    default = Path(__file__).resolve().parents[1] / "out" / "demo" / "DEMO-1.report.html"
    sys.exit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else default))
