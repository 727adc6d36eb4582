"""What a mat's file says: pressures cell by cell, in kPa where its unit is known."""

from __future__ import annotations

from dataclasses import dataclass

from ...base.mesh import Bool, Float
from ...base.text import counted
from .foil_scale import FoilFacts

MN_PER_N = 1000.0
"""kPa x mm2 are mN."""


@dataclass(frozen=True, eq=False)
class MatReading:
    """The pressures of a mat, one frame, with what was found on the way."""

    pressure: Float  # (rows, columns); kPa, or numbers of no known unit; 0 where there is no sensor
    is_sensor: Bool  # (rows, columns)
    is_kpa: bool
    unit: str  # as stated: one of the job's units, or "" where only `kpa_per_unit` is
    unit_basis: str  # "file", "job", "picture" or "unknown"
    kpa_per_unit: float | None
    pitch_mm: tuple[float, float] | None  # row to row, column to column
    pitch_basis: str  # "file", "job", "sheet" (of a picture, by the size of its sheet), or "unknown"
    offset_mm: tuple[float, float]  # from the mat's first corner to the middle of its first cell: down, right
    frame_count: int
    frame_rule: str  # what was made of them, in words: "mean of 20 frames"
    frame_sums: Float  # (f,); the sum of each frame's cells, in the file's numbers less what unloaded cells read
    saturated: tuple[tuple[int, int], ...]  # row, column of cells that read the most a cell can
    filled: tuple[tuple[int, int], ...]  # cells without a reading amid others that have one, filled in
    written: str  # how the file is written, in words
    header: tuple[str, ...]
    notes: tuple[str, ...]
    foil: FoilFacts | None = None  # where it is the picture of a foil

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.pressure.shape[0], self.pressure.shape[1]

    @property
    def force_n(self) -> float | None:
        """Pressure times area, summed over all cells; None where unit or pitch is not known."""
        return self.force_if(1.0) if self.is_kpa else None

    def force_if(self, kpa: float) -> float | None:
        """Return the force, N, if one of its numbers were so many kPa; None where the pitch is not known."""
        if self.pitch_mm is None:
            return None
        return float(self.pressure.sum()) * kpa * self.pitch_mm[0] * self.pitch_mm[1] / MN_PER_N

    @property
    def peak(self) -> float:
        """The greatest pressure of a cell."""
        return float(self.pressure.max())

    @property
    def unit_words(self) -> str:
        """What its pressures are in."""
        if self.is_kpa:
            return "kPa"
        return "of its own numbers" if self.foil is None else "of 100 in lightness below the paper"

    @property
    def peak_cells(self) -> float:
        """Over how many cells it is averaged where its peaks are looked for: those of a picture are finer."""
        return 1.0 if self.foil is None else 3.0

    @property
    def size_words(self) -> str:
        """Rows, columns and distance of cells."""
        words = f"{counted(self.shape[0], 'row')} of {counted(self.shape[1], 'cell')}"
        if self.pitch_mm is None:
            return words
        down, across = self.pitch_mm
        apart = f"{down:.4g}" if down == across else f"{down:.4g} and {across:.4g}"
        return f"{words}, {apart} mm apart ({self.shape[0] * down:.0f} x {self.shape[1] * across:.0f} mm)"
