"""Black and white pictures with 64 pixels to a number: filling outlines, growing, shrinking; a hundred layers at once.

A picture has shape (..., rows, words), uint64; pixel (row, column) is bit column % 64 of word column // 64. Growing and
shrinking stop at the border of the picture.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..base.mesh import Bool, Float
from .level_cuts import LevelCuts, scan_lines

Bits = NDArray[np.uint64]

_ONE, _LAST = np.uint64(1), np.uint64(63)


@dataclass(frozen=True, eq=False)
class PixelGrid:
    """Where the pixels of a picture lie."""

    origin: Float  # (2,), mm; corner of the first pixel
    pixel_mm: float
    columns: int
    rows: int

    @staticmethod
    def around(low: Float, high: Float, pixel_mm: float, margin: int) -> PixelGrid:
        """Return a grid over a rectangle, (2,) and (2,) mm, with so many pixels more on every side."""
        columns, rows = np.ceil((high - low) / pixel_mm).astype(np.int64) + 2 * margin
        return PixelGrid(low - margin * pixel_mm, pixel_mm, int(columns), int(rows))

    @property
    def words(self) -> int:
        """How many numbers hold a row."""
        return -(-self.columns // 64)

    def pixel(self, points: Float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return the row and the column, (n,) each, of places (n, 2 or 3) mm, held within the grid."""
        x, y = np.floor((points[:, :2] - self.origin) / self.pixel_mm).astype(np.int64).T
        return np.clip(y, 0, self.rows - 1), np.clip(x, 0, self.columns - 1)

    def place(self, row: float, column: float) -> tuple[float, float]:
        """Return x and y of the middle of a pixel, mm."""
        x, y = self.origin + (np.array([column, row]) + 0.5) * self.pixel_mm
        return float(x), float(y)

    def filled(self, cuts: LevelCuts) -> Bits:
        """Return the pictures (count, rows, words) of the solid at each height: pixels whose middle lies inside.

        Even-odd rule along each row: every crossing turns over all pixels from it on.
        """
        lines = scan_lines(cuts, self.origin, self.pixel_mm)
        column = np.clip(np.ceil(lines.along).astype(np.int64), 0, 64 * self.words - 1)
        key = np.sort((lines.level * self.rows + lines.line) * (64 * self.words) + column)
        result = np.zeros((cuts.count, self.rows, self.words), dtype=np.uint64)
        if len(key):
            word = key >> 6
            begin = np.flatnonzero(np.append(True, np.diff(word) > 0))
            flag = _ONE << (key & 63).astype(np.uint64)
            result.reshape(-1)[word[begin]] = np.bitwise_xor.reduceat(flag, begin)
        for step in (1, 2, 4, 8, 16, 32):
            result ^= result << np.uint64(step)
        before = np.zeros_like(result)
        before[..., 1:] = np.bitwise_xor.accumulate(result >> _LAST, axis=-1)[..., :-1]
        result ^= np.uint64(0) - before
        return result


def unpacked(bits: Bits) -> Bool:
    """Return pictures as (..., rows, 64 words) of bool."""
    return np.unpackbits(np.ascontiguousarray(bits).view(np.uint8), axis=-1, bitorder="little").view(bool)


def cropped(bits: Bits) -> tuple[int, int, Bool]:
    """Return first row, first column and (rows, columns) of bool of the part of one picture that has set pixels."""
    words = bits != 0
    row, word = np.flatnonzero(words.any(axis=1)), np.flatnonzero(words.any(axis=0))
    if len(row) == 0:
        return 0, 0, np.zeros((0, 0), dtype=bool)
    return int(row[0]), 64 * int(word[0]), unpacked(bits[row[0] : row[-1] + 1, word[0] : word[-1] + 1])


def at(bits: Bits, row: NDArray[np.int64], column: NDArray[np.int64]) -> Bool:
    """Return which of the pixels of one picture are set; rows and columns of any one shape, within the picture."""
    return ((bits[row, column >> 6] >> (column & 63).astype(np.uint64)) & _ONE).astype(bool)


def grown(bits: Bits, pixels: int) -> Bits:
    """Return pictures with all that lies within so many pixels of a set one; in the shape of an octagon."""
    for number in range(pixels):
        beside = _beside(bits)
        upright = beside if number % 2 else bits
        wide = beside.copy()
        wide[..., 1:, :] |= upright[..., :-1, :]
        wide[..., :-1, :] |= upright[..., 1:, :]
        bits = wide
    return bits


def shrunk(bits: Bits, pixels: int) -> Bits:
    """Return pictures without all that lies within so many pixels of an unset one."""
    return ~grown(~bits, pixels)


def _beside(bits: Bits) -> Bits:
    result = bits | (bits << _ONE) | (bits >> _ONE)
    result[..., 1:] |= bits[..., :-1] >> _LAST
    result[..., :-1] |= bits[..., 1:] << _LAST
    return result
