"""Make the pictures of the documentation from the demo's own output: `.venv/bin/python scripts/make_pictures.py`."""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def main(folder: Path) -> int:
    """Copy the demo's pictures to docs/images; it must have been run into `folder`.

    One lies inside the 3MF, the other, of the part cut open, in the folder of the part of folded walls.
    """
    packages = sorted(folder.glob("*.project.3mf"))
    if not packages:
        print(f"There is no part in {folder}. Run scripts/demo.py first.", file=sys.stderr)
        return 2
    with zipfile.ZipFile(packages[0]) as package:
        picture = package.read("Metadata/thumbnail.png")
    opened = sorted(folder.with_name(f"{folder.name}-folds").glob("*.cutaway.png"))
    if not opened:
        print(f"There is no picture of a part cut open beside {folder}. Run scripts/demo.py first.", file=sys.stderr)
        return 2
    for name, data in (("demo-part.png", picture), ("demo-folds.png", opened[0].read_bytes())):
        target = ROOT / "docs" / "images" / name
        target.parent.mkdir(exist_ok=True)
        target.write_bytes(data)
        print(f"Wrote {target} ({len(data)} bytes).")
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "out" / "demo"))
