"""JSON of a mat: lists of numbers, each a frame, and what stands beside them."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from ...base.errors import InputError
from ...base.text import counted
from .header import header_facts
from .raw_mat import RawMat

_LEAST = 4  # numbers in a list that can be a frame


def read_mat_json(data: bytes, name: str, grid: tuple[int, int] | None = None) -> RawMat:
    """Return the frames of a JSON document: lists of rows, or lists of rows times columns numbers.

    Raises InputError when it is no JSON, holds no such list, or nothing says how many columns a list has.
    """
    try:
        document = json.loads(data.decode("utf-8-sig", "replace"))
    except (ValueError, RecursionError) as error:
        raise InputError(f'"{name}" looks like JSON and is none: {str(error)[:80]}.', hint="Export it anew.") from None
    header: list[str] = []
    lists: list[tuple[str, Any]] = []
    for place, value in _walk(document, ""):
        if isinstance(value, list):
            lists.append((place, value))
        elif value is not None and len(header) < 1000:
            header.append(f"{place}: {value}")
    facts = header_facts(header)
    shape = grid or ((facts.rows, facts.columns) if facts.rows and facts.columns else None)
    found = [(place, np.array(value, dtype=np.float64)) for place, value in lists]
    grids = [(place, each) for place, each in found if each.ndim == 2 and min(each.shape) > 1]
    if not grids and shape is not None:
        wide = shape[0] * shape[1]
        grids = [(place, each.reshape(shape)) for place, each in found if each.size == wide]
    if not grids:
        longest = max((each.size for _, each in found), default=0)
        if longest == 0:
            raise InputError(f'"{name}" holds no list of numbers.', hint="Export the mat's pressures.")
        raise InputError(
            f'"{name}" holds lists of {counted(longest, "number")} and does not say how many rows and columns they are.'
            if shape is None
            else f'"{name}": no list has {shape[0]} x {shape[1]} numbers; the longest has {longest}.',
            hint=f"Write grid = [rows, columns] with rows times columns {longest}.",
        )
    kind = grids[0][1].shape
    frames = [each for _, each in grids if each.shape == kind]
    return RawMat(np.stack(frames), tuple(header), "JSON")


def _walk(value: Any, place: str) -> Iterator[tuple[str, Any]]:
    """Yield what stands in a document, lists of numbers and lists of such lists whole, with its names."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _walk(inner, f"{place} {key}".strip())
    elif isinstance(value, list) and _is_frame(value):
        yield place, [[_cell(each) for each in row] if isinstance(row, list) else _cell(row) for row in value]
    elif isinstance(value, list):
        for inner in value:
            yield from _walk(inner, place)
    else:
        yield place, value


def _cell(value: Any) -> float:
    try:
        return math.nan if value is None else float(value)
    except OverflowError:  # a whole number of more than 308 digits is no reading
        return math.nan


def _is_number(value: Any) -> bool:
    return value is None or (isinstance(value, int | float) and not isinstance(value, bool))


def _is_frame(value: list[Any]) -> bool:
    if len(value) >= 2 and all(isinstance(row, list) and len(row) == len(value[0]) > 1 for row in value):
        return all(_is_number(each) for row in value for each in row)
    return len(value) >= _LEAST and all(_is_number(each) for each in value)
