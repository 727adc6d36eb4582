"""Files changed by a seed: cut, overwritten, their numbers and words replaced by what nobody should write."""

from __future__ import annotations

import copy
import json
import re
import struct
from typing import Any

import numpy as np

NUMBERS = (
    b"0", b"-0", b"-1", b"1", b"2.5", b"3", b"255", b"65536", b"2147483648", b"4294967295", b"99999999999999999999",
    b"1e9", b"-1e9", b"1e-9", b"1e30", b"1e300", b"-1e300", b"1e999", b"nan", b"inf", b"-inf", b"1,5", b"0x10", b"",
    b"9" * 400, b"9" * 5000, b"true", b'"a"', b"[]", b"{}", b"[1e300, 0, 0]", b"[[0, 0]]", b"1979-05-27", b"''",
)  # fmt: skip
VALUES: tuple[Any, ...] = (
    None, True, "", "0", "abc", [], {}, [0], [[]], {"a": 1}, 0, -1, 1, 2, 3, 7, 0.5, 2.0, -2.5, 255, 5120, 5126, 2**31,
    2**53, 10**18, 10**30, 1e30, 1e300, 1e999, -1e999, [1e999, 1, 1], [0, 0, 0], [1e300] * 3, [0] * 16, "SCALAR",
    "MAT4",
)  # fmt: skip
"""Numbers and values in place of others; 1e999 reads as infinite."""
_NUMBER = re.compile(rb"(?<![A-Za-z_])[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
_WORD = re.compile(rb"[A-Za-z_]{2,}")


def changed(data: bytes, dice: np.random.Generator) -> bytes:
    """Return a file with one to four changes, or, one in twelve times, as it is."""
    if dice.random() < 1 / 12:
        return data
    if data[:4] == b"glTF" and dice.random() < 0.7:
        return _changed_scene(data, dice)
    for _ in range(min(int(dice.geometric(0.6)), 4)):
        data = _CHANGES[int(dice.integers(len(_CHANGES)))](data, dice)
    return data


def _places(data: bytes, dice: np.random.Generator) -> tuple[int, int]:
    begin = int(dice.integers(0, len(data) + 1))
    return begin, min(len(data), begin + int(dice.integers(0, 40)))


def _cut(data: bytes, dice: np.random.Generator) -> bytes:
    return data[: int(dice.integers(0, len(data) + 1))]


def _out(data: bytes, dice: np.random.Generator) -> bytes:
    begin, end = _places(data, dice)
    return data[:begin] + data[end:]


def _again(data: bytes, dice: np.random.Generator) -> bytes:
    begin, end = _places(data, dice)
    return data[:end] + data[begin:end] * int(dice.choice([1, 3, 200])) + data[end:]


def _flip(data: bytes, dice: np.random.Generator) -> bytes:
    if not data:
        return data
    found = bytearray(data)
    for at in dice.integers(0, len(found), int(dice.integers(1, 6))):
        found[at] = int(
            dice.choice([0, 255, 127, 128, int(dice.integers(256)), found[at] ^ (1 << int(dice.integers(8)))])
        )
    return bytes(found)


def _wide(data: bytes, dice: np.random.Generator) -> bytes:
    """Overwrite four bytes by a count or a float that no scan has."""
    kinds = (struct.pack("<I", 2**31), struct.pack("<I", 2**32 - 1), struct.pack("<f", 1e38), struct.pack("<f", np.nan))
    at = int(dice.integers(0, max(len(data) - 4, 1)))
    return data[:at] + kinds[int(dice.integers(len(kinds)))] + data[at + 4 :]


def _number(data: bytes, dice: np.random.Generator) -> bytes:
    return _replaced(data, _NUMBER, NUMBERS[int(dice.integers(len(NUMBERS)))], dice)


def _word(data: bytes, dice: np.random.Generator) -> bytes:
    words = [found.group() for found in _WORD.finditer(data[:20_000])] or [b"x"]
    return _replaced(data, _WORD, words[int(dice.integers(len(words)))], dice)


def _lines(data: bytes, dice: np.random.Generator) -> bytes:
    lines = data.split(b"\n")
    one, other = dice.integers(0, len(lines), 2)
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def _long(data: bytes, dice: np.random.Generator) -> bytes:
    """Put a long run of one thing somewhere: brackets, blanks, comments, what readers look for."""
    runs = (b"[", b"{", b"(", b"# ", b" ", b"\n", b"nan(", b"0 ", b'"', b"a.", b"1 2 3 ", b",", b";", b"\x00", b"v ")
    at = int(dice.integers(0, len(data) + 1))
    return data[:at] + runs[int(dice.integers(len(runs)))] * int(dice.choice([50, 5000, 50_000])) + data[at:]


def _replaced(data: bytes, pattern: re.Pattern[bytes], by: bytes, dice: np.random.Generator) -> bytes:
    found = list(pattern.finditer(data))
    if not found:
        return data
    chosen = found[int(dice.integers(len(found)))]
    return data[: chosen.start()] + by + data[chosen.end() :]


_CHANGES = (_cut, _out, _again, _flip, _flip, _wide, _number, _number, _number, _word, _lines, _long)


def _changed_scene(data: bytes, dice: np.random.Generator) -> bytes:
    """Return a GLB of which one to three values of the scene description are others."""
    size = int.from_bytes(data[12:16], "little")
    scene = json.loads(data[20 : 20 + size])
    for _ in range(min(int(dice.geometric(0.6)), 3)):
        place, key = _some_place(scene, dice)
        if place is not None:
            place[key] = copy.deepcopy(VALUES[int(dice.integers(len(VALUES)))])
    text = json.dumps(scene).encode()
    text += b" " * (-len(text) % 4)
    body = struct.pack("<II", len(text), 0x4E4F534A) + text + data[20 + size :]
    return struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body


def _some_place(scene: Any, dice: np.random.Generator) -> tuple[Any, Any]:
    """Return a random table or list of a description and one of its keys."""
    places: list[tuple[Any, Any]] = []
    todo = [scene]
    while todo:
        here = todo.pop()
        keys = list(here) if isinstance(here, dict) else list(range(len(here))) if isinstance(here, list) else []
        places += [(here, key) for key in keys]
        todo += [here[key] for key in keys]
    return places[int(dice.integers(len(places)))] if places else (None, None)
