"""Cells of a mat that do not say what pressed them: none there, no reading, or at the end of what they can read."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from ...base.mesh import Bool, Float

_FULL = (255.0, 1023.0, 4095.0, 16383.0, 65535.0)
"""The greatest numbers of 8, 10, 12, 14 and 16 bits."""
_LEAST_PLATEAU = 3  # cells at the top before it counts as one; our choice
_STANDS_OUT = 2.5  # times as many cells as levels below it have; our choice
_AROUND = np.array([[1, 1, 1], [1, 0, 1], [1, 1, 1]])
_ENCLOSED = 6  # of 8 neighbors with a reading: a cell amid others, not beyond a corner of the mat; our choice


def saturated_cells(values: Float, stated: float | None, greatest: float) -> Bool:
    """Return the cells of a frame, (rows, columns), that read the most a cell can.

    The most is what is stated; else the greatest of all numbers of the file, where that is the last number of so many
    bits, or where more cells have it than there would be by chance: a top that is flat.
    """
    if stated is not None:
        return np.asarray(values >= stated * (1.0 - 1e-6))
    at_top = np.asarray(values >= greatest * (1.0 - 1e-9)) & (values > 0.0)
    if greatest in _FULL:
        return at_top
    levels, counts = np.unique(values[values > 0.5 * greatest], return_counts=True)
    if len(levels) < 4 or at_top.sum() < _LEAST_PLATEAU or levels[-1] < greatest * (1.0 - 1e-9):
        return np.zeros(values.shape, dtype=bool)
    usual = max(float(counts[:-1].mean()), float(np.median(counts[:-1])))
    # Numbers with decimals hardly ever meet by chance; of whole ones the levels below tell how often.
    if at_top.sum() >= max(_LEAST_PLATEAU, _STANDS_OUT * usual):
        return at_top
    return np.zeros(values.shape, dtype=bool)


def dead_lines(pressure: Float, is_sensor: Bool) -> list[tuple[str, int]]:
    """Return rows and columns that read nothing between two that are pressed: "row" or "column", and its number."""
    found = []
    top = float(pressure.max())
    for name, table, sensors in (("row", pressure, is_sensor), ("column", pressure.T, is_sensor.T)):
        for line in range(1, len(table) - 1):
            before, after = table[line - 1], table[line + 1]
            is_pressed = (before > 0.1 * top) & (after > 0.1 * top)
            if is_pressed.sum() >= 3 and not table[line].any() and sensors[line].any():
                found.append((name, line))
    return found


def holes(is_read: Bool, pressure: Float) -> Bool:
    """Return cells without a reading amid cells that have one, and single cells that read 0 amid pressed ones."""
    around = ndimage.convolve(is_read.astype(np.int64), _AROUND, mode="constant")
    is_missing = ~is_read & (around >= _ENCLOSED)
    mean = ndimage.convolve(pressure, _AROUND / 8.0, mode="constant")
    lowest = ndimage.minimum_filter(np.where(pressure > 0.0, pressure, np.inf), footprint=_AROUND, mode="nearest")
    pressed = ndimage.convolve((pressure > 0.0).astype(np.int64), _AROUND, mode="constant")
    is_dead = is_read & (pressure <= 0.0) & (pressed == 8) & (lowest > 0.5 * mean)
    return np.asarray(is_missing | is_dead)


def filled_in(pressure: Float, is_hole: Bool) -> Float:
    """Return pressures with holes as even between their neighbors: each the mean of the four beside it (Laplace)."""
    if not is_hole.any():
        return pressure
    result = pressure.copy()
    result[is_hole] = float(pressure[~is_hole].mean())
    beside = np.array([[0, 1, 0], [1, 0, 1], [0, 1, 0]]) / 4.0
    for _ in range(200):  # holes are a few cells or a line wide
        result[is_hole] = ndimage.convolve(result, beside, mode="nearest")[is_hole]
    return result
