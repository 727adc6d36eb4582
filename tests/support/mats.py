"""Files of pressure mats made from a known imprint or from formulas, with how they truly lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from padwright.core.stages.mats.mat_pose import CellMap, plane_of, rigid_map


@dataclass(frozen=True)
class TrueMat:
    """A mat that was pressed by the body of an imprint."""

    kpa: np.ndarray  # (rows, columns)
    cells: CellMap  # how it truly lies


def two_bumps(rows: int = 20, columns: int = 24) -> np.ndarray:
    """Return pressures, kPa, of two sit bones and what is around them; nothing in them is symmetric."""
    row, column = np.mgrid[0:rows, 0:columns].astype(float)
    left = 40.0 * np.exp(-((row - 10.0) ** 2 + (column - 7.0) ** 2) / 12.0)
    right = 42.0 * np.exp(-((row - 10.3) ** 2 + (column - 16.0) ** 2) / 12.0)
    around = 5.0 * (((row - 11.5) / 7.0) ** 2 + ((column - 11.5) / 10.0) ** 2 < 1.0)
    return np.where(left + right + around < 0.5, 0.0, left + right + around)


def mat_over(
    vertices: np.ndarray,
    depth: np.ndarray,
    press: np.ndarray,
    *,
    pitch: tuple[float, float] = (10.0, 10.0),
    shape: tuple[int, int] = (32, 36),
    turn_deg: float = 0.0,
    moved_mm: tuple[float, float] = (0.0, 0.0),
    flipped: bool = False,
    force_n: float = 430.0,
    noise: float = 0.0,
    seed: int = 0,
) -> TrueMat:
    """Return what a mat shows under a body that left an imprint so deep, (n,) mm at (n, 3) mm.

    Pressure rises with depth, a little faster; each cell averages over its own area; below 1 kPa a cell reads 0.
    """
    plane = plane_of(press)
    flat = vertices @ plane.T
    middle = 0.5 * np.array([shape[1] - 1.0, shape[0] - 1.0])
    at = np.average(flat, axis=0, weights=np.maximum(depth, 0.0)) + moved_mm
    cells = rigid_map(plane, pitch, np.radians(turn_deg), middle, at, flipped=flipped)
    fine = 3
    row, column = np.mgrid[0 : fine * shape[0], 0 : fine * shape[1]].reshape(2, -1) / fine - 0.5 + 0.5 / fine
    away, near = cKDTree(flat).query(cells.flat_of(np.stack([row, column], axis=1)))
    bore = np.where(away < 3.0, np.maximum(depth[near], 0.0) ** 1.3, 0.0)
    bore = bore.reshape(shape[0], fine, shape[1], fine).mean(axis=(1, 3))
    bore = ndimage.gaussian_filter(bore, 0.5)
    bore *= 1.0 + noise * np.random.default_rng(seed).standard_normal(shape)
    kpa = np.maximum(bore, 0.0) * force_n * 1000.0 / (bore.sum() * pitch[0] * pitch[1])
    return TrueMat(np.where(kpa < 1.0, 0.0, kpa), cells)


def csv_of(kpa: np.ndarray, *, sign: str = ",", decimals: int = 2, comma: bool = False, head: str = "") -> str:
    """Return a grid as the text of a table."""
    rows = [sign.join(f"{each:.{decimals}f}" for each in row) for row in kpa]
    text = "\n".join(row.replace(".", ",") if comma else row for row in rows)
    return f"{head}{text}\n"
