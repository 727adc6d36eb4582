"""Make the pictures of docs/pressed-foils.md: a foil as the demo's sculler presses it, scanned and photographed.

`python scripts/foil_pictures.py [FOLDER]` lays a sheet on the demo's own imprint, darkens it as docs/pressed-foils.md
says, and has the command line read it; all pictures go to docs/images, or into another folder.
"""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / folder) for folder in ("addon", "scripts", "tests", ".")]

DPI, PHOTO, CORNERS = 100, (1100, 1400), [[150, 190], [1240, 130], [1330, 960], [60, 900]]


def main(folder: Path) -> None:
    """Write the pictures into a folder."""
    from padwright.cli.main import main as cli
    from padwright.core.base.progress import drain
    from padwright.core.job.read import read_job
    from padwright.core.run.memory import StageMemory
    from padwright.core.stages.mats.mat_pose import plane_of
    from padwright.core.stages.mats.pressed_plan import pressed_plan
    from support.foils import Imprint, foil_over, photographed, picture_file

    demo = ROOT / "shared" / "demo"
    part = drain(StageMemory().reach(read_job(demo / "job.toml"), demo, "reading"))
    reading, mesh = part.reading, part.aligned
    assert reading is not None and mesh is not None and reading.press_direction is not None
    plan = pressed_plan(reading, mesh.vertices, plane_of(reading.press_direction))
    assert plan is not None
    depth = np.where(reading.is_clay & ~reading.is_wall, np.nan_to_num(reading.imprint_depth), 0.0)
    imprint = Imprint(mesh.vertices, np.maximum(depth, 0.0), reading.press_direction, plan, reading)
    foil = foil_over(imprint, size_mm=(297.0, 210.0), dpi=DPI, turn_deg=160.0, grain=8.0)
    scan = picture_file(foil.pixels, "JPEG", dpi=(DPI, DPI), quality=80)
    photo = photographed(foil.pixels, np.array(CORNERS, dtype=float), PHOTO)
    (folder / "foil-scan.jpg").write_bytes(scan)
    (folder / "foil-photo.jpg").write_bytes(picture_file(photo, "JPEG", quality=75))
    with tempfile.TemporaryDirectory() as work:
        here = Path(work)
        for name in ("base.ply", "impression.ply"):
            shutil.copy(demo / name, here / name)
        (here / "foil.jpg").write_bytes(scan)
        job = (demo / "job.toml").read_text("utf-8") + '\n[mat]\nfile = "foil.jpg"\nmeasured_on = "clay"\n'
        (here / "job.toml").write_text(job, "utf-8")
        cli(["mat", str(here / "foil.jpg"), "--picture", str(here / "read.png")])
        cli(["mat", str(here / "foil.jpg"), "--on", str(here / "job.toml"), "--picture", str(here / "laid.png")])
        for name, wide in (("read", 480), ("laid", 720)):
            with Image.open(here / f"{name}.png") as found:
                small = found.convert("RGB")
                small.thumbnail((wide, wide))
            file = io.BytesIO()
            small.quantize(64).save(file, "PNG", optimize=True)
            (folder / f"foil-{name}.png").write_bytes(file.getvalue())


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "images")
