"""One wall of a field of equal walls in shell elements: straight or waved in plan, and so on after each wave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from support.fold_shells import strip
from support.shells import assemble, element_stiffness, factors

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FoldUnit:
    """A wall between a held skin and one that moves as a whole; mm, degrees. The wave is a sine of `wave_mm`."""

    height_mm: float
    width_mm: float
    pitch_mm: float
    slope_deg: float
    folds: int = 1
    wave_deg: float = 0.0  # steepest
    wave_mm: float = 30.0

    def stiffness_kpa(self, modulus_kpa: float, poisson: float, rows: int = 6, size_mm: float = 2.0) -> Array:
        """Return the core's stiffness (3, 3): shear across and along, press; `rows` elements from foot to fold."""
        count = max(12, round(self.wave_mm / size_mm))
        y = np.linspace(0.0, self.wave_mm, count + 1)
        swing = np.tan(np.radians(self.wave_deg)) * self.wave_mm / (2.0 * np.pi)
        x = swing * np.sin(2.0 * np.pi * y / self.wave_mm)
        lean = np.tan(np.radians(self.slope_deg)) * self.height_mm / (2.0 * self.folds)
        level = np.arange(2 * self.folds + 1)
        levels = np.stack(
            np.broadcast_arrays(
                x[:, None] + lean * (level % 2), y[:, None], self.height_mm * level / (2.0 * self.folds)
            ),
            axis=2,
        )
        wall = strip(levels, self.width_mm, rows, is_closed=False)
        n, k = wall.places.shape[:2]
        shell = wall.shell(modulus_kpa, poisson)
        column, row = np.divmod(np.arange(n * k), k)
        first = np.where(column == n - 1, row, np.arange(n * k))  # the last column is the first again
        free = (row > 0) & (row < k - 1) & (column < n - 1)
        number = np.where(free, np.cumsum(free) - 1, -1)
        own = np.flatnonzero(number[first] >= 0)
        head = np.flatnonzero(row == k - 1)
        total = 6 * int(free.sum())
        rows_, columns = [], []
        for axis in range(6):
            rows_.append(6 * own + axis)
            columns.append(6 * number[first[own]] + axis)
        for axis in range(3):
            rows_.append(6 * head + axis)
            columns.append(np.full(len(head), total + axis))
        at = (np.concatenate(rows_), np.concatenate(columns))
        ties = sp.csr_matrix((np.ones(len(at[0])), at), shape=(6 * n * k, total + 3))
        matrix = (ties.T @ assemble(shell, element_stiffness(shell)) @ ties).tocsc()
        inner, beside, rigid = (
            matrix[:total, :total],
            matrix[:total, total:].toarray(),
            matrix[total:, total:].toarray(),
        )
        bare = rigid - beside.T @ factors(inner.tocsc()).solve(beside)  # type: ignore[attr-defined]
        return np.asarray(bare * self.height_mm / (self.wave_mm * self.pitch_mm))

    @property
    def waver(self) -> float:
        """Mean sin^2 of the angle to the run, over the run."""
        return float(np.mean(np.sin(self._angles) ** 2))

    @property
    def bend_mm(self) -> float:
        """Radius of the wave's own bends: of the mean square of the curvature."""
        share = np.arange(2000) / 2000.0
        swing = np.tan(np.radians(self.wave_deg)) * self.wave_mm / (2.0 * np.pi)
        curve = swing * (2.0 * np.pi / self.wave_mm) ** 2 * np.sin(2.0 * np.pi * share) * np.cos(self._angles) ** 3
        return float(1.0 / np.sqrt(np.mean(curve**2))) if self.wave_deg else float(np.inf)

    @property
    def _angles(self) -> Array:
        share = np.arange(2000) / 2000.0
        return np.asarray(np.arctan(np.tan(np.radians(self.wave_deg)) * np.cos(2.0 * np.pi * share)))
