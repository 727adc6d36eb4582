"""Many numbers written as text at once: lookup tables of four digits instead of one format call a number."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Template = tuple[bytes, bytes, bytes, bytes]
_ROWS = 65_536
"""Rows turned into text at a time: about 5 MB of work space."""


def _tables() -> tuple[Bytes, Bytes, Bytes]:
    """Text of 0 to 9999 in four bytes: padded, without leading zeros, without trailing zeros (0 bytes are dropped)."""
    numbers = np.arange(10_000)
    padded = np.stack([numbers // 10**place % 10 for place in (3, 2, 1, 0)], axis=1).astype(np.uint8) + ord("0")
    leading = padded.copy()
    trailing = padded.copy()
    for place in range(3):
        leading[numbers < 10 ** (3 - place), place] = 0
    for place in range(4):
        trailing[numbers % 10 ** (4 - place) == 0, place] = 0
    return padded, leading, trailing


_PADDED, _LEADING, _TRAILING = _tables()
_HIGH = np.where(np.arange(10_000)[:, None] > 0, _LEADING, 0).astype(np.uint8)
_LOW = np.concatenate([_LEADING, _PADDED])


def _whole(values: NDArray[np.int32] | NDArray[np.int64], out: Bytes) -> None:
    """Write whole numbers under 1e8 into the eight columns of `out`."""
    high, low = np.divmod(values, 10_000)
    out[:, :4] = _HIGH[high]
    out[:, 4:] = _LOW[low + 10_000 * (high > 0)]


def _decimals(counts: NDArray[np.int64], out: Bytes) -> None:
    """Write counts of 1e-4 into the fourteen columns of `out`: sign, eight digits, point, four decimals."""
    whole, decimals = np.divmod(np.abs(counts), 10_000)
    out[:, 0] = np.where(counts < 0, ord("-"), 0)
    _whole(whole, out[:, 1:9])
    out[:, 9] = np.where(decimals > 0, ord("."), 0)
    out[:, 10:14] = _TRAILING[decimals]


def coordinate_rows(counts: NDArray[np.int64], template: Template) -> Iterator[bytes]:
    """Yield the rows of text for (n, 3) counts of 1e-4, each number between two pieces of the template.

    -123456 becomes -12.3456, 20000 becomes 2: at most four decimals, no trailing zeros, never "-0".
    """
    return _rows(counts, template, 14, _decimals)


def index_rows(faces: NDArray[np.int32], template: Template) -> Iterator[bytes]:
    """Yield the rows of text for (m, 3) indices under 1e8, each between two pieces of the template."""
    return _rows(faces, template, 8, _whole)


def _rows(values: Any, template: Template, width: int, write: Callable[[Any, Bytes], None]) -> Iterator[bytes]:
    """Yield the text of (n, 3) numbers, each in a field `width` wide between two pieces of the template."""
    blank = np.frombuffer(bytes(width).join(template), dtype=np.uint8)[None, :]
    starts = [sum(len(piece) for piece in template[: place + 1]) + place * width for place in range(3)]
    for begin in range(0, len(values), _ROWS):
        part = values[begin : begin + _ROWS]
        block = np.repeat(blank, len(part), axis=0)
        for column, start in enumerate(starts):
            write(part[:, column], block[:, start : start + width])
        yield block.tobytes().translate(None, b"\0")
