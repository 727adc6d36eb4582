"""Records and arrays as what JSON knows."""

from __future__ import annotations

import json
from dataclasses import dataclass

import numpy as np

from padwright.core.base.plain import plain


@dataclass(frozen=True)
class _Record:
    name: str
    values: np.ndarray
    pair: tuple[object, ...]


def test_a_record_becomes_what_json_takes() -> None:
    record = _Record(
        "a", np.array([1.5, np.nan, -np.inf], dtype=np.float32), (np.int64(2), np.bool_(True), None, {3: 4})
    )
    told = plain(record)
    assert told == {"name": "a", "values": [1.5, None, None], "pair": [2, True, None, {"3": 4}]}
    assert json.dumps(told, allow_nan=False)
    assert [type(each) for each in told["pair"][:2]] == [int, bool]


def test_numbers_are_rounded_as_asked_but_a_motion_stays_rigid() -> None:
    motion = np.eye(4)
    motion[0, 3] = 1.0 / 3.0
    told = plain({"a": 2.0 / 3.0, "count": 7, "motion": motion}, lambda number: round(number, 1))
    assert told["a"] == 0.7
    assert told["count"] == 7
    assert told["motion"][0] == [1.0, 0.0, 0.0, round(1.0 / 3.0, 12)]
