"""Do the whole demo job in the modeller's real window by its buttons, and take a picture of each step.

    python3.11 scripts/gui_tour.py                          # in the window of 4.3 (Debian trixie)
    python3.11 scripts/gui_tour.py --suite sid --out DIR    # in the newest that Debian has
    python3.11 scripts/gui_tour.py --pictures               # and renew the guide's pictures in docs/images

Needs Linux, root and mmdebstrap. The first run makes a tree with the modeller (about 1 minute, 1.2 GB, kept under
~/.cache/padwright) and fetches the wheels of the extension. It ends with 0 only when every step of the tour held and
the modeller's log shows no fault.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path

import build_extension
from window_pictures import renew_guide
from window_run import run_tour
from window_tree import SUITES, WindowError, have_tree, tree_folder

ROOT = Path(__file__).resolve().parents[1]
SCANS = ROOT / "shared" / "demo"
TREE = "PADWRIGHT_WINDOW_TREE"  # environment: a finished tree to use


def main(arguments: list[str]) -> int:
    """Make what is missing, do the tour, say how it went; return 0 when all held."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--suite", choices=SUITES, default=SUITES[0], help="Debian suite the modeller comes from")
    parser.add_argument("--tree", type=Path, help=f"a finished tree to use instead (or set {TREE})")
    parser.add_argument("--zip", type=Path, help="an extension zip to use instead of building it")
    parser.add_argument("--out", type=Path, default=ROOT / "out" / "tour", help="folder for pictures and logs")
    parser.add_argument("--until", default="", metavar="STEP", help="stop after this step")
    parser.add_argument("--limit", type=int, default=1500, metavar="SECONDS", help="stop the tour after so long")
    parser.add_argument("--pictures", action="store_true", help="renew the pictures of docs/guide.md")
    chosen = parser.parse_args(arguments)
    tree = chosen.tree or Path(os.environ.get(TREE) or tree_folder(chosen.suite))
    out = (chosen.out / chosen.suite).resolve()
    try:
        made = have_tree(chosen.suite, tree)
        began = time.monotonic()
        archive = chosen.zip or build_extension.build("linux-x64")
        built = time.monotonic() - began
        for old in [*out.glob("*.png"), *out.glob("*.log")]:
            old.unlink()
        began = time.monotonic()
        outcome = run_tour(tree, archive.resolve(), SCANS, out, limit_s=chosen.limit, arguments=[chosen.until])
    except (WindowError, build_extension.BuildError) as error:
        print(f"No tour: {error}", file=sys.stderr)
        return 1
    print(outcome.log if outcome.code else _steps_of(outcome.log))
    print(f"tree {made:.0f} s, zip {built:.0f} s, tour {time.monotonic() - began:.0f} s; pictures in {out}")
    if outcome.code:
        print(f"The tour did not hold: {outcome.reason}.", file=sys.stderr)
    elif chosen.pictures:
        for path in renew_guide(tree, out, ROOT / "docs" / "images"):
            print(f"{path.relative_to(ROOT)}: {path.stat().st_size / 1024:.0f} KiB")
    return outcome.code


def _steps_of(log: str) -> str:
    return "\n".join(line for line in log.splitlines() if line.startswith(("[", "    held")))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
