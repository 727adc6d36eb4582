"""A scan with its colors: triangles, and for each the place on a picture or the colors of its corners."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import PurePosixPath

import numpy as np
from numpy.typing import NDArray

from ....base.mesh import Float, Int
from .draft import Draft

Beside = Callable[[str], bytes]
"""Gives the bytes of a file that lies beside the scan, by the name the scan calls it; raises InputError where there is
none."""


@dataclass(frozen=True)
class PictureFile:
    """A picture as its file has it."""

    name: str  # for messages
    data: bytes  # not unpacked yet


@dataclass(frozen=True, eq=False)
class PaintedScan:
    """A scan's triangles with what colors them; the surface is as the file has it, nothing cleaned."""

    points: Float  # (n, 3), the file's own numbers
    faces: Int  # (m, 3)
    colors: NDArray[np.uint8] | None = None  # (n, 4); vertex colors
    # (m, 3, 2): right and down, of each corner on its picture, 0 to 1; not a number where a face lies on none
    on_picture: Float | None = None
    picture_of: Int | None = None  # (m,); number of the picture, -1 where a face lies on none
    pictures: tuple[PictureFile, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def is_colored(self) -> bool:
        """Whether it has colors: of a picture, or of its vertices."""
        return self.colors is not None or self.has_picture

    @property
    def has_picture(self) -> bool:
        """Whether a face lies on a picture."""
        return self.picture_of is not None and bool((self.picture_of >= 0).any())


@dataclass(frozen=True)
class PaintFormat:
    """How scans of one format are colored: each file of formats that knows it lists it in `PAINTS`."""

    ending: str  # of the format, as `ScanFormat.ending`
    # of the file's bytes, what gives files beside it, and what its reader made of it where that is at hand
    paint: Callable[[bytes, Beside, Draft | None], PaintedScan]
    companions: Callable[[bytes, Beside], Iterable[str]]  # names of the files that the colors come from


def beside_name(text: str) -> str:
    """Return the name of a file beside a scan as a scan program wrote it: of a whole path the last step alone."""
    steps = text.strip().strip('"').replace("\\", "/")
    is_whole = steps.startswith("/") or steps[1:2] == ":"
    return PurePosixPath(steps).name if is_whole else steps
