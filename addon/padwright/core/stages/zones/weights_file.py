"""Weights that a person or the modeller left in a file: a place and a weight a row, as NPZ or CSV."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from typing import Any, NoReturn

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Float

_MOST_ROWS = 5_000_000
_MOST_BYTES = 32 * _MOST_ROWS + 4096
"""Unpacked size of one array: three coordinates a row as 64-bit numbers, with room; a packed file of some kilobytes may
state thousands of times as much."""
_NAMES = ("positions", "weights")
_AGAIN = "Save it again as two plain arrays, positions (n, 3) and weights (n,)."


def read_weights(data: bytes, name: str) -> tuple[Float, Float]:
    """Return positions (n, 3), part frame, mm, and weights (n,).

    Raises InputError when it is damaged, holds Python objects, unpacks to more than 5 million rows, or its numbers are
    of the wrong shape or not finite.

    Parameters
    ----------
    data : bytes
        NPZ with the arrays `positions` and `weights`, or CSV with the head x,y,z,weight.
    name : str
        The file's name for messages.
    """
    positions, weights = _from_npz(data, name) if data[:2] == b"PK" else _from_csv(data, name)
    if positions.ndim != 2 or positions.shape[1:] != (3,) or weights.shape != (len(positions),):
        raise InputError(
            f'"{name}" has positions of shape {positions.shape} and weights of shape {weights.shape}.', hint=_AGAIN
        )
    if len(positions) == 0:
        raise InputError(f'"{name}" has no weights.', hint=_AGAIN)
    bad = np.flatnonzero(~(np.isfinite(weights) & np.isfinite(positions).all(axis=1)))
    if len(bad):
        have = "1 row is" if len(bad) == 1 else f"{len(bad)} rows are"
        raise InputError(
            f'"{name}": {have} not finite, the first row {int(bad[0]) + 1}.', hint="Save it again without them."
        )
    return positions, weights


def _from_npz(data: bytes, name: str) -> tuple[Float, Float]:
    # zlib.error, struct.error and what zipfile and numpy raise on damaged bytes; each is bad input here, not a bug.
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            there = {info.filename: info for info in archive.infolist()}
            arrays = []
            for wanted in _NAMES:
                info = there.get(f"{wanted}.npy")
                if info is None:
                    raise InputError(f'"{name}" has no array "{wanted}".', hint="Save positions and weights.")
                if info.file_size > _MOST_BYTES:
                    _refuse_size(name, wanted, info.file_size)
                with archive.open(info) as member:
                    arrays.append(_array(member.read(_MOST_BYTES + 1), name, wanted))
    except (
        zipfile.BadZipFile, zlib.error, struct.error, ValueError, EOFError, KeyError, NotImplementedError, RuntimeError,
        OSError,
    ) as error:  # fmt: skip
        raise InputError(f'"{name}" is a damaged archive of arrays ({type(error).__name__}).', hint=_AGAIN) from None
    return arrays[0], arrays[1]


def _array(content: bytes, name: str, wanted: str) -> Float:
    """Return the numbers of one array; its head is checked before anything is made of it."""
    if len(content) > _MOST_BYTES:
        _refuse_size(name, wanted, len(content))
    file = io.BytesIO(content)
    npy: Any = np.lib.format
    read_head = {(1, 0): npy.read_array_header_1_0, (2, 0): npy.read_array_header_2_0}.get(npy.read_magic(file))
    if read_head is None:
        raise ValueError
    shape, is_columns_first, kind = read_head(file)
    if kind.kind not in "fiub":
        raise InputError(f'The array "{wanted}" of "{name}" holds no plain numbers but {kind}.', hint=_AGAIN)
    count = 1
    for side in shape:
        count *= int(side)
    begin = file.tell()
    if count * kind.itemsize != len(content) - begin:
        raise InputError(
            f'The array "{wanted}" of "{name}" states {count} numbers and has {len(content) - begin} bytes.',
            hint=_AGAIN,
        )
    values = np.frombuffer(content, dtype=kind, count=count, offset=begin)
    return values.reshape(shape, order="F" if is_columns_first else "C").astype(np.float64)


def _refuse_size(name: str, wanted: str, size: int) -> NoReturn:
    raise InputError(
        f'The array "{wanted}" of "{name}" unpacks to {size / 1e6:.4g} MB or more; {_MOST_BYTES / 1e6:.0f} MB, '
        f"{_MOST_ROWS} rows, are the most.",
        hint=_AGAIN,
    )


def _from_csv(data: bytes, name: str) -> tuple[Float, Float]:
    lines = data.decode("utf-8-sig", "replace").splitlines()
    if not lines or _cells(lines[0]) != ["x", "y", "z", "weight"]:
        found = f'got "{lines[0].strip()[:40]}"' if lines else "the file is empty"
        raise InputError(
            f'"{name}", line 1: expected the head x,y,z,weight; {found}.', hint="Put it above the first row of numbers."
        )
    rows = []
    for number, line in enumerate(lines[1:], 2):
        if not line.strip():
            continue
        try:
            row = [float(word) for word in _cells(line)]
        except ValueError:
            row = []
        if len(row) != 4:
            raise InputError(f'"{name}", line {number}: expected four numbers, got "{line.strip()[:40]}".')
        rows.append(row)
    table = np.array(rows, dtype=np.float64).reshape(-1, 4)
    return table[:, :3], table[:, 3]


def _cells(line: str) -> list[str]:
    """Return the cells of a row, each a text with a point for its decimals.

    Where a semicolon or a tab stands in the row it parts the cells, and a comma is a decimal one; else a comma does.
    """
    for sign in (";", "\t"):
        if sign in line:
            return [word.strip().replace(",", ".") for word in line.split(sign)]
    return [word.strip() for word in line.split(",")]
