"""A mat that lies on the body side: what it shows at any place of the part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.estimate import Estimate
from ...base.mesh import Bool, Float
from .find_pose import FoundPose
from .mat_pose import CellMap, at_cells, is_over
from .mat_reading import MatReading


@dataclass(frozen=True, eq=False)
class LaidMat:
    """A mat's pressures where they bore on the body side."""

    mat: MatReading
    cells: CellMap
    laid: str  # "places", "load_centers" or "outline"
    pose: int  # which of `poses`, from 1; 1 where it was laid by places
    poses: tuple[FoundPose, ...]  # the ways it fits, best first; none where it was laid by places
    agreement: float | None  # with where the body pressed the clay, 1 at most; None without an impression
    notes: tuple[str, ...]
    measured_on: str = "base"  # or "clay", "pad": what lay under it
    accuracy: float = 0.0  # by what share a pressure of it may be off, nine times in ten; 0: taken as exact
    is_load: bool = True  # the body bears on the pad as it bore on the mat

    @property
    def cell_mm(self) -> tuple[float, float]:
        """How far apart its cells are, mm, row to row and column to column: as stated, else as laid on the part."""
        return self.mat.pitch_mm or self.cells.cell_mm

    @property
    def force_n(self) -> float | None:
        """The sum of its pressures times area; None where its numbers have no unit."""
        if not self.mat.is_kpa:
            return None
        down, across = self.cell_mm
        return float(self.mat.pressure.sum()) * down * across / 1000.0

    @property
    def sum_n(self) -> Estimate | None:
        """The force with what the mat's error makes of it; None where its numbers have no unit."""
        return None if self.force_n is None else self.as_good_as(self.force_n)

    def as_good_as(self, value: float) -> Estimate:
        """Return a pressure or a force as the mat gives it with the mat's own error."""
        return Estimate(
            value, value / (1.0 + self.accuracy), value * (1.0 + self.accuracy), "measured", self.error_words
        )

    @property
    def error_words(self) -> str:
        """What the low and high of a number that is taken from the mat rest on."""
        return f"the mat's own error, {100.0 * self.accuracy:g} %"

    def turned_words(self, number: int) -> str:
        """Return how way `number`, from 1, lies against the one that was taken."""
        if number == self.pose:
            return "as taken"
        off = (self.poses[number - 1].cells.turn_deg - self.poses[self.pose - 1].cells.turn_deg) % 360.0
        return f"turned by {min(off, 360.0 - off):.0f} degrees"

    def at(self, places: Float) -> Float:
        """Return what the mat shows at places of the part frame, (n, 3) mm; 0 beyond it."""
        return at_cells(self.mat.pressure, self.cells.row_column(places))

    def covers(self, places: Float) -> Bool:
        """Return which places of the part frame, (n, 3) mm, lie on a cell that has a sensor."""
        return is_over(self.mat.is_sensor, self.cells.row_column(places))

    @property
    def cell_places(self) -> Float:
        """The middle of each cell on the plane across the press direction, (rows * columns, 2) mm right and down."""
        cells = np.indices(self.mat.shape).reshape(2, -1).T.astype(np.float64)
        return self.cells.flat_of(cells)
