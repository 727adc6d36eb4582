"""Make the pictures of the documentation from the demo's own output: `.venv/bin/python scripts/make_pictures.py`."""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def main(folder: Path) -> int:
    """Copy the picture inside the demo's 3MF to docs/images; the demo must have been run into `folder`."""
    packages = sorted(folder.glob("*.project.3mf"))
    if not packages:
        print(f"There is no part in {folder}. Run scripts/demo.py first.", file=sys.stderr)
        return 2
    with zipfile.ZipFile(packages[0]) as package:
        picture = package.read("Metadata/thumbnail.png")
    target = ROOT / "docs" / "images" / "demo-part.png"
    target.parent.mkdir(exist_ok=True)
    target.write_bytes(picture)
    print(f"Wrote {target} ({len(picture)} bytes).")
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "out" / "demo"))
