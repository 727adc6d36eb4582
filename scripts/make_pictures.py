"""Make the pictures of the documentation from the demo's own output: `.venv/bin/python scripts/make_pictures.py`."""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

import numpy as np

from padwright.core.stages.material.coupons.fold_shapes import FoldShape, fold_block
from padwright.core.stages.packing.cutaway import CutPlane, cutaway_png

ROOT = Path(__file__).resolve().parents[1]


def opened_block() -> bytes:
    """Return a picture of a block of folded walls cut open along its middle."""
    block = fold_block(FoldShape(18.0, 1.2, 1.35, 6.0, 45.0, walls_a_half=6), 3)
    plane = CutPlane(np.array([0.0, 0.0, 10.0]), np.array([0.0, -1.0, 0.0]), np.array([0.0, 0.0, 1.0]))
    return cutaway_png(block, plane, width=960)


def main(folder: Path) -> int:
    """Copy the demo's pictures to docs/images, and make one of a block; the demo must have been run into `folder`.

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
    pictures = {
        "demo-part.png": picture, "demo-folds.png": opened[0].read_bytes(), "fold-block.png": opened_block(),
    }  # fmt: skip
    for name, data in pictures.items():
        target = ROOT / "docs" / "images" / name
        target.parent.mkdir(exist_ok=True)
        target.write_bytes(data)
        print(f"Wrote {target} ({len(data)} bytes).")
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "out" / "demo"))
