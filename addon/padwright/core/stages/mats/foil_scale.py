"""How large the pixels of a foil's picture are, and what is known of the picture as a whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float
from ...job.mat_table import Mat
from ..scans.pictures import FlatPicture

_MM_PER_INCH = 25.4
_NOT_KNOWN = (72, 96)
"""Pixels in an inch that programs and cameras write when they know of none; common practice, no source."""


@dataclass(frozen=True)
class PixelScale:
    """How large a pixel is."""

    mm: tuple[float, float] | None  # across, down; None where nothing says it, or the sheet does
    basis: str  # "file", "job", "sheet" or "unknown"
    doubt: str = ""  # why what the file states was not believed, a clause


@dataclass(frozen=True, eq=False)
class FoilFacts:
    """What is known of the picture of a foil."""

    pixels: tuple[int, int]  # across, down
    scale: PixelScale
    to_cells: Float  # (3, 3); from pixels right and down, their middles at whole numbers, to columns and rows
    paper: float  # CIELAB lightness of what bore nothing
    darkest: float  # steps of lightness from there to the darkest cell
    noise: float  # steps below which nothing counts as pressed

    @property
    def words(self) -> str:
        """What it is, with how large its pixels are."""
        size = f"a picture of {self.pixels[0]} x {self.pixels[1]} pixels"
        if self.scale.basis == "sheet":
            return f"{size}, laid out by its sheet"
        if self.scale.mm is None:
            return size
        return f"{size}, {_MM_PER_INCH / self.scale.mm[0]:.0f} in an inch"

    def cell_of(self, pixel: tuple[float, float]) -> tuple[float, float]:
        """Return row and column of the cell that shows a pixel, right and down; between cells a fraction."""
        column, row, share = self.to_cells @ np.array([*pixel, 1.0])
        return float(row / share), float(column / share)

    def pixel_of(self, cell: tuple[float, float]) -> tuple[float, float]:
        """Return the pixel, right and down, that shows a cell, row and column."""
        right, down, share = np.linalg.solve(self.to_cells, np.array([cell[1], cell[0], 1.0]))
        return float(right / share), float(down / share)


def pixel_scale(picture: FlatPicture, asked: Mat) -> PixelScale:
    """Return how large a pixel is: as the job says, else as the file does where that can be believed."""
    if asked.sheet_mm is not None:
        return PixelScale(None, "sheet")
    if asked.dpi is not None:
        return PixelScale((_MM_PER_INCH / asked.dpi, _MM_PER_INCH / asked.dpi), "job")
    if picture.dpi is None:
        return PixelScale(None, "unknown", "its file states no resolution")
    stated = f"its file states {picture.dpi[0]:.0f} pixels in an inch"
    if picture.is_photo:
        return PixelScale(None, "unknown", f"{stated}, but a camera took it, which knows of none")
    if all(round(each) in _NOT_KNOWN for each in picture.dpi):
        return PixelScale(None, "unknown", f"{stated}, which programs write that know of none")
    return PixelScale((_MM_PER_INCH / picture.dpi[0], _MM_PER_INCH / picture.dpi[1]), "file")
