"""Small pictures for the guide out of the tour's screenshots, made by the image tools of the tree."""

from __future__ import annotations

import subprocess
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from window_tree import WindowError

LARGEST_BYTES = 120 * 1024
_QUALITIES = (84, 76, 68, 60)


@dataclass(frozen=True)
class Crop:
    """What of a screenshot goes into the guide, pixels from its top left corner, and how wide it is shown."""

    left: int
    top: int
    width: int
    height: int
    shown_width: int

    @property
    def geometry(self) -> str:
        """Return it as the image tools want it."""
        return f"{self.width}x{self.height}+{self.left}+{self.top}"


VIEW = Crop(0, 28, 1324, 874, 1000)  # the viewport with its sidebar, without the editors beside and below it
SIDEBAR = Crop(1030, 84, 294, 592, 294)
DIALOG = Crop(820, 84, 504, 330, 504)
BROWSER = Crop(0, 0, 1600, 1000, 900)
GUIDE = {  # screenshot of the tour -> what of it
    "start-part": DIALOG,
    "scans": VIEW,
    "pick-length": VIEW,
    "progress": VIEW,
    "distances": VIEW,
    "read-impression": VIEW,
    "thickness": VIEW,
    "paint-zone": VIEW,
    "cut-regions": VIEW,
    "pressure": VIEW,
    "export": SIDEBAR,
    "mat-pick-places": VIEW,
    "marks-found": VIEW,
    "folds-cutaway": VIEW,
}


def convert_command(shot: str, crop: Crop, quality: int, target: str) -> list[str]:
    """Return the command of the image tools that makes one picture."""
    return ["convert", shot, "-crop", crop.geometry, "+repage", "-resize", f"{crop.shown_width}x",
            "-strip", "-define", "webp:method=6", "-quality", str(quality), target]  # fmt: skip


def renew_guide(tree: Path, shots: Path, folder: Path, names: Iterable[str] = tuple(GUIDE)) -> list[Path]:
    """Write the guide's pictures, each as good as its size allows, and return them.

    Raises
    ------
    WindowError
        When a screenshot is not there, or a picture does not get small enough.
    """
    made = []
    for name in names:
        shot = shots / f"{name}.png"
        if not shot.exists():
            raise WindowError(f"The tour left no {shot.name}.")
        target = folder / f"guide-{name}.webp"
        for quality in _QUALITIES:
            data = subprocess.run(
                ["chroot", str(tree), *convert_command("png:-", GUIDE[name], quality, "webp:-")],
                input=shot.read_bytes(),
                capture_output=True,
                check=True,
            ).stdout
            if len(data) <= LARGEST_BYTES:
                break
        else:
            raise WindowError(f"{target.name} has {len(data) / 1024:.0f} KiB at quality {_QUALITIES[-1]}.")
        target.write_bytes(data)
        made.append(target)
    return made
