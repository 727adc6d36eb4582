"""Find equal rows among millions without sorting: for welding, edges and duplicate faces."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..base.mesh import Float, Int

_ROUNDS_BEFORE_SORT = 40
_MULTIPLIERS = (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9)
"""Odd numbers with well spread bits; the answer is the same with any, only the speed is not (common practice)."""


def first_equal(columns: Sequence[NDArray[np.generic]]) -> Int:
    """Return for each row, given by its integer columns, (n,) each, the first row that equals it, (n,) int32.

    Notes
    -----
    A hash table filled with whole arrays at a time: every open row writes its index into its slot (the first row
    wins), rows that equal their slot's winner are done, the others try again with another hash. Equal rows always
    share their slot, so they are settled in the same round. Expected work is linear in n.
    """
    count = len(columns[0])
    first = np.arange(count, dtype=np.int32)
    if count < 2:
        return first
    bits = max(int(np.ceil(np.log2(count))), 4)
    table = np.zeros(1 << bits, dtype=np.int32)
    open_rows: Int | None = None
    for attempt in range(_ROUNDS_BEFORE_SORT):
        part = columns if open_rows is None else [column[open_rows] for column in columns]
        slot = _slots(part, bits, attempt)
        rows = first if open_rows is None else open_rows
        table[slot[::-1]] = rows[::-1]
        winner = table[slot]
        equal = np.ones(len(winner), dtype=bool)
        for column, own in zip(columns, part, strict=True):
            equal &= column[winner] == own
        if open_rows is None:
            open_rows = np.flatnonzero(~equal).astype(np.int32)
            first = np.where(equal, winner, first)
        else:
            first[open_rows[equal]] = winner[equal]
            open_rows = open_rows[~equal]
        if len(open_rows) == 0:
            return first
    assert open_rows is not None  # for the type checker: there is always a round
    rest = np.stack([column[open_rows] for column in columns], axis=1)
    _, index, inverse = np.unique(rest, axis=0, return_index=True, return_inverse=True)
    first[open_rows] = open_rows[index[inverse.reshape(-1)]]
    return first


def _slots(columns: Sequence[NDArray[np.generic]], bits: int, attempt: int) -> NDArray[np.int64]:
    """Return a table slot for each row; a different one with each attempt."""
    mixed = np.full(len(columns[0]), 0x5851F42D4C957F2D + 2 * attempt, dtype=np.uint64)
    for position, column in enumerate(columns):
        mixed ^= column.astype(np.uint64)
        mixed *= np.uint64(_MULTIPLIERS[position % 3] + 2 * attempt)
        mixed ^= mixed >> np.uint64(29)
    mixed *= np.uint64(_MULTIPLIERS[attempt % 3])
    mixed >>= np.uint64(64 - bits)
    return mixed.view(np.int64)


def row_numbers(rows: NDArray[np.integer]) -> NDArray[np.int64]:
    """Return the number of each row of integers, (n, k), among the different ones in ascending order, (n,).

    As `np.unique` with `axis=0` numbers them, which compares rows byte by byte: packed into one number each they sort
    ten times as fast.
    """
    if len(rows) == 0:
        return np.zeros(0, dtype=np.int64)
    low = [int(column.min()) for column in rows.T]
    span = [int(column.max()) - least + 1 for column, least in zip(rows.T, low, strict=True)]
    if math.prod(span) >= 2**62:
        return np.unique(rows, axis=0, return_inverse=True)[1].reshape(-1)
    key = np.zeros(len(rows), dtype=np.int64)
    for column, least, wide in zip(rows.T, low, span, strict=True):
        key = key * wide + (column - least)
    return np.unique(key, return_inverse=True)[1].reshape(-1)


def bit_columns(points: NDArray[np.floating]) -> list[NDArray[np.generic]]:
    """Return the coordinates as integers that are equal exactly when the numbers are (0.0 and -0.0 alike)."""
    kind = np.uint32 if points.dtype == np.float32 else np.uint64
    with np.errstate(invalid="ignore"):  # a file may hold a "signaling" not-a-number, which warns when added to
        columns = [points[:, axis] + points.dtype.type(0) for axis in range(points.shape[1])]
    return [np.ascontiguousarray(column).view(kind) for column in columns]


def renumber(first: Int) -> tuple[Int, Int]:
    """Return which rows are kept, (k,), and each row's new number, (n,), in the order of first appearance."""
    is_first = first == np.arange(len(first), dtype=np.int32)
    number = np.cumsum(is_first, dtype=np.int32) - np.int32(1)
    return np.flatnonzero(is_first).astype(np.int32), number[first]


def weld_exactly(points: NDArray[np.floating]) -> tuple[Int, Int]:
    """Return which points are kept, (k,), and the kept number of each point, (n,), joining points that are equal."""
    return renumber(first_equal(bit_columns(points)))


def typical_edge(points: Float, faces: Int, sample: int = 20000) -> float:
    """Return the median edge length over an evenly spread sample of faces; 0.0 without faces."""
    if len(faces) == 0:
        return 0.0
    corner = points[faces[:: max(len(faces) // sample, 1)]].astype(np.float64)
    length = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2)
    length = length[np.isfinite(length)]
    return float(np.median(length)) if len(length) else 0.0
