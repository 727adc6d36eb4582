"""Many stress curves in one table on one grid of strain: what a solver asks thousands of times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...base.cached import cached_property
from ...base.mesh import Float, Int
from ..material.curves import StressCurve


@dataclass(frozen=True, eq=False)
class CurveTable:
    """Curves of k kinds, straight between the grid's points, past the last one with a slope of their own."""

    strain: Float  # (g,); from 0, rising
    stress_kpa: Float  # (k, g)
    last_kpa: Float  # (k,); slope past the grid

    @staticmethod
    def of(curves: Sequence[StressCurve]) -> CurveTable:
        """Return the curves as they are: the grid holds every point of each."""
        first = curves[0].strain
        if all(each.strain is first or np.array_equal(each.strain, first) for each in curves):
            grid, stress = first, np.stack([each.stress_kpa for each in curves])
        else:
            grid = np.unique(np.concatenate([each.strain for each in curves]))
            stress = np.stack([each.stress(grid) for each in curves])
        return CurveTable(grid, stress, np.array([float(each.slope(grid[-1:])[0]) for each in curves]))

    def times(self, factor: Float) -> CurveTable:
        """Return the curves with every stress times a factor (k, g), none of them falling."""
        stress = self.stress_kpa * factor
        stress[:, 1:] = np.maximum.accumulate(stress[:, 1:], axis=1)
        return CurveTable(self.strain, stress, self.last_kpa * factor[:, -1])

    @cached_property
    def slope_kpa(self) -> Float:
        """Slope from each point on, (k, g)."""
        return np.column_stack([np.diff(self.stress_kpa) / np.diff(self.strain), self.last_kpa])

    @cached_property
    def energy_kpa(self) -> Float:
        """Energy for each volume up to each point, (k, g)."""
        mean = 0.5 * (self.stress_kpa[:, 1:] + self.stress_kpa[:, :-1])
        return np.pad(np.cumsum(mean * np.diff(self.strain), axis=1), ((0, 0), (1, 0)))

    def at(self, strain: Float, kind: Int) -> tuple[Float, Float, Float]:
        """Return stress, slope and energy for each volume, kPa, of strains (n,) of 0 or more by their kinds (n,)."""
        low = np.searchsorted(self.strain, strain, side="right") - 1
        step, slope, first = strain - self.strain[low], self.slope_kpa[kind, low], self.stress_kpa[kind, low]
        stress = first + slope * step
        return stress, slope, self.energy_kpa[kind, low] + 0.5 * step * (first + stress)

    def secant_kpa(self, at: float) -> Float:
        """Return stress over strain at one strain, (k,), kPa."""
        kinds = np.arange(len(self.stress_kpa))
        return np.asarray(self.at(np.full(len(kinds), at), kinds)[0] / at)
