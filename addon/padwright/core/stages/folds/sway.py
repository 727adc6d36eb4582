"""Whether a pad of folded walls stands under its load: the body skin as a sheet on springs that the load weakens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.linalg import LinearOperator, eigsh, splu

from ...base.errors import InputError
from ...base.frozen import hold
from ...base.mesh import Bool, Float

LEAST_MARGIN = 2.0
"""How many times its load a pad must bear before it slides off its walls. A choice of ours: moduli from a hardness
alone are known to a factor of about two."""

SIDE_SHARE = 0.1
"""Share of the load that pushes sideways where we tell how far a pad gives: a body that leans or shuffles. Assumed."""

ACROSS_WEAKENED = 1.2
"""How much of a pressure counts against the stiffness across walls: a column that keeps its ends' angle and moves
aside as x^2 (3 - 2 x) loses 6 P / (5 H) (Przemieniecki 1968, cited, not read); at its own limit 12 / pi^2, 1.216."""

_CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=float)


@dataclass(frozen=True, eq=False)
class Sheet:
    """A body skin on a core, in rasters (nx, ny) of square cells; the base skin is held.

    Where `is_pad` is False nothing else counts. Raises InputError where there is no pad, nothing that holds it, or a
    core without height.
    """

    step_mm: float
    is_pad: Bool
    height_mm: Float  # of the core: what the skin stands on
    stiffness_kpa: Float  # (3, nx, ny): xx, xy, yy of the core's shear stiffness, unpressed; see `turned`
    pressure_kpa: Float  # on the skin
    skin_mm: float
    skin_kpa: float
    poisson: float

    def __post_init__(self) -> None:
        is_pad = np.array(self.is_pad, dtype=bool)
        height, pressure = (np.array(values, dtype=np.float64) for values in (self.height_mm, self.pressure_kpa))
        hold(
            self, is_pad=is_pad, height_mm=height, pressure_kpa=pressure,
            stiffness_kpa=np.array(self.stiffness_kpa, dtype=np.float64),
        )  # fmt: skip
        if not is_pad.any():
            raise InputError("There is no pad to stand on walls.")
        if not height[is_pad].min() > 0.0:
            raise InputError(f"The core is {height[is_pad].min():g} mm high somewhere; it must be above 0.")
        xx, xy, yy = self.stiffness_kpa[:, is_pad].sum(axis=1)
        if not xx * yy - xy * xy > 1e-12 * (xx + yy) ** 2:
            raise InputError("Nothing holds the pad's body side against sliding.")


@dataclass(frozen=True)
class Sway:
    """How a pad stands sideways under its load."""

    margin: float  # times the load at which it would slide off; inf without a load
    most_cell: tuple[int, int]  # of the sheet, where it would move most
    way_deg: float  # which way it moves there, an axis, from the first to the second
    creep_mm: float  # mean way of what is pressed under a push of SIDE_SHARE of the load; inf where it does not stand
    creep_way_deg: float


def sway(sheet: Sheet) -> Sway:
    """Find the load at which the body skin slides off, and how far it gives to a push.

    Notes
    -----
    A sheet in plane stress (bilinear squares) stands on springs S/H per area, S the core's shear stiffness with its
    axes along and across the walls; a pressure p takes p/H from them (1.2 p/H across, where walls bend). The sheet
    keeps its level: a body holds it. Margin: the lowest eigenvalue of springs and sheet against what the pressure
    takes.
    """
    numbers, corners = _corners(sheet.is_pad)
    cells = np.argwhere(sheet.is_pad)
    area = sheet.step_mm**2
    push = np.where(sheet.is_pad, sheet.pressure_kpa, 0.0)
    xx, xy, yy = sheet.stiffness_kpa
    run = 0.5 * np.arctan2(2.0 * xy, xx - yy)
    holds = _springs(sheet, sheet.stiffness_kpa)
    takes = _springs(sheet, turned(push, ACROSS_WEAKENED * push, run))
    stiff = _assemble(corners, holds + _squares(sheet)[None], len(numbers))
    weak = _assemble(corners, takes, len(numbers))
    if not push.any():
        return Sway(float("inf"), (int(cells[0][0]), int(cells[0][1])), 0.0, 0.0, 0.0)
    factors = symmetric_factors(stiff)
    inverse = LinearOperator(stiff.shape, matvec=factors.solve, dtype=np.float64)
    first = np.tile([1.0, 0.7], len(numbers))  # not square to any mode by its symmetry
    value, shape = eigsh(weak, k=1, M=stiff, Minv=inverse, which="LA", tol=1e-6, v0=first)
    margin = 1.0 / float(value[0])
    moved = shape[:, 0].reshape(-1, 2)[corners].mean(axis=1)  # of each cell
    most = int(np.argmax(np.hypot(*moved.T)))
    creep, way = float("inf"), float(np.degrees(np.arctan2(moved[most, 1], moved[most, 0])) % 180.0)
    creep_way = way
    if margin > 1.0:
        creep, creep_way = _creep(stiff - weak, corners, push[sheet.is_pad] * area, len(numbers))
    return Sway(margin, (int(cells[most][0]), int(cells[most][1])), way, creep, creep_way)


def _creep(loaded: sparse.csc_matrix, corners: NDArray[np.int64], load: Float, count: int) -> tuple[float, float]:
    """Return how far the pressed places give to a push the softest way (mm, degrees); load (m,) is each cell's."""
    each = np.bincount(corners.ravel(), np.repeat(load / 4.0, 4), count)
    pushed = np.zeros((2 * count, 2))
    pushed[0::2, 0] = pushed[1::2, 1] = each
    gives = pushed.T @ symmetric_factors(loaded).solve(SIDE_SHARE * pushed) / each.sum()
    values, ways = np.linalg.eigh(0.5 * (gives + gives.T))
    return float(values[-1]), float(np.degrees(np.arctan2(ways[1, -1], ways[0, -1])) % 180.0)


def symmetric_factors(matrix: sparse.csc_matrix) -> Any:
    """Return the factors of a symmetric, positive matrix: half the work of any other."""
    return splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


def turned(along: Float, across: Float, run: Float) -> Float:
    """Return xx, xy, yy (3, ...) of a tensor with its axes along a run and across it; run in radians from the first."""
    cosine, sine = np.cos(run), np.sin(run)
    return np.stack(
        [
            along * cosine**2 + across * sine**2,
            (along - across) * sine * cosine,
            along * sine**2 + across * cosine**2,
        ]
    )


def _corners(is_pad: Bool) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the corners that cells have, as flat numbers, and each cell's four as their places in it (m, 4)."""
    across = is_pad.shape[1] + 1
    i, j = np.nonzero(is_pad)
    flat = np.stack([i * across + j, (i + 1) * across + j, (i + 1) * across + j + 1, i * across + j + 1], axis=1)
    numbers, places = np.unique(flat, return_inverse=True)
    return numbers, places.reshape(-1, 4)


def _springs(sheet: Sheet, tensor: Float) -> Float:
    """Return the matrices (m, 8, 8) of springs under each cell, mN/mm, by the shear stiffness (3, nx, ny) in kPa."""
    xx, xy, yy = tensor[:, sheet.is_pad] / sheet.height_mm[sheet.is_pad]
    pair = np.stack([np.stack([xx, xy], axis=1), np.stack([xy, yy], axis=1)], axis=2)
    shared = np.array([[4, 2, 1, 2], [2, 4, 2, 1], [1, 2, 4, 2], [2, 1, 2, 4]]) * sheet.step_mm**2 / 36.0
    return np.einsum("ab,mxy->maxby", shared, pair).reshape(-1, 8, 8)


def _squares(sheet: Sheet) -> Float:
    """Return the stiffness (8, 8) of one square of the skin in plane stress, mN/mm."""
    v = sheet.poisson
    plane = np.array([[1.0, v, 0.0], [v, 1.0, 0.0], [0.0, 0.0, 0.5 * (1.0 - v)]])
    result = np.zeros((8, 8))
    for r, s in _CORNERS / np.sqrt(3.0):
        slope = np.stack([_CORNERS[:, 0] * (1 + s * _CORNERS[:, 1]), _CORNERS[:, 1] * (1 + r * _CORNERS[:, 0])]) / 4.0
        strain = np.zeros((3, 8))
        strain[0, 0::2] = strain[2, 1::2] = slope[0]
        strain[1, 1::2] = strain[2, 0::2] = slope[1]
        result += strain.T @ plane @ strain
    return result * sheet.skin_kpa * sheet.skin_mm / (1.0 - v * v)


def _assemble(corners: NDArray[np.int64], blocks: Float, count: int) -> sparse.csc_matrix:
    """Return the matrix (2 count, 2 count) put together from the cells' blocks (m, 8, 8)."""
    places = (2 * corners[:, :, None] + np.arange(2)).reshape(-1, 8)
    rows, columns = np.repeat(places, 8, axis=1), np.tile(places, (1, 8))
    return sparse.coo_matrix((blocks.ravel(), (rows.ravel(), columns.ravel())), shape=2 * (2 * count,)).tocsc()
