"""Numbers from text, whole files at a time, with the line told when one is wrong."""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ....base.errors import ScanError
from .draft import AGAIN, damaged

_ODD_NAN = re.compile(rb"[-+]?(?:nan\([^)(\s]{0,40}\)|1\.#[a-z]{1,9})", re.IGNORECASE)
_PRINTABLE = bytes(range(32, 127)) + b"\t\r\n\x0b\x0c"
NUMBER = re.compile(rb"[-+]?(?:(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?|nan|inf(?:inity)?)\Z", re.IGNORECASE)


@dataclass(frozen=True, eq=False)
class NumberLines:
    """The numbers of a text and where each line's begin."""

    values: NDArray[np.float64]  # (v,)
    start: NDArray[np.int64]  # (l + 1,); index of each filled line's first value, then the number of values
    line: NDArray[np.int64]  # (l,); line number in the file of each filled line, from 1

    @property
    def counts(self) -> NDArray[np.int64]:
        """How many numbers each line has, (l,)."""
        return np.diff(self.start)

    def part(self, first: int, last: int) -> NumberLines:
        """Return the filled lines from `first` up to `last`."""
        begin, end = self.start[first], self.start[last]
        return NumberLines(self.values[begin:end], self.start[first : last + 1] - begin, self.line[first:last])


def normal_line_ends(data: bytes) -> bytes:
    """Return the text with every line end as one newline character."""
    if b"\r" not in data:
        return data
    return data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")


def number_lines(text: bytes, first_line: int = 1, *, lines: NDArray[np.int64] | None = None) -> NumberLines:
    """Return all numbers of a text and the lines they stand on.

    The text holds numbers and white space only, lines ended by newline characters; comments from # on are left out. Its
    lines have the numbers from `first_line` on, or `lines`, (l,), where they do not simply follow each other.

    Raises ScanError when something is not a number; it names the line.
    """
    if b"#" in text:
        text = re.sub(rb"(?m)(?:^|(?<=[ \t]))#[^\n]*", b"", text)
    if b"#" in text or b"(" in text:
        text = _ODD_NAN.sub(b"nan", text)
    raw = np.frombuffer(text, dtype=np.uint8)
    is_filled = raw > 32
    begins = is_filled.copy()
    begins[1:] &= ~is_filled[:-1]
    token_at = np.flatnonzero(begins)
    line_of_token = np.searchsorted(np.flatnonzero(raw == 10), token_at)
    values = _parse(text, len(token_at), first_line, lines)
    is_first = np.ones(len(token_at), dtype=bool)
    is_first[1:] = line_of_token[1:] != line_of_token[:-1]
    start = np.flatnonzero(is_first)
    within = line_of_token[start]
    where = within + first_line if lines is None else lines[within]
    return NumberLines(values, np.append(start, len(token_at)).astype(np.int64), where)


def _parse(text: bytes, count: int, first_line: int, lines: NDArray[np.int64] | None) -> NDArray[np.float64]:
    """Return the numbers, or raise with the line of the first token that is none."""
    if count == 0:
        return np.zeros(0)
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)
        try:
            values = np.fromstring(text.decode("latin-1"), dtype=np.float64, sep=" ")
        except (DeprecationWarning, ValueError):
            values = np.zeros(0)
    if len(values) == count:
        return values
    for index, line in enumerate(text.split(b"\n")):
        for token in line.split():
            if NUMBER.match(token) is None:
                where = first_line + index if lines is None else int(lines[index])
                raise ScanError(
                    f"Line {where} of the scan file has {readable(token)} where a number should be.",
                    hint="If numbers have a comma, save them with a point." if b"," in token else AGAIN,
                )
    raise damaged(f"The scan file's numbers could not be read: {len(values)} of {count} are good.")


def readable(raw: bytes, limit: int = 24) -> str:
    """Return a few bytes of a file in a form that can be shown, in quotes."""
    shown = bytes(byte if byte in _PRINTABLE[:95] else 46 for byte in raw[:limit]).decode("ascii")
    return f'"{shown}"' + ("..." if len(raw) > limit else "")


def whole_lists(lines: NumberLines, start: NDArray[np.int64], counts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the vertex numbers of a list in each line, from its first value on, the lists one behind the other."""
    chosen = np.repeat(start - (np.cumsum(counts) - counts), counts) + np.arange(int(counts.sum()))
    listed = NumberLines(lines.values[chosen], np.arange(len(chosen) + 1), np.repeat(lines.line, counts))
    return whole_numbers(listed, "a vertex number")


def whole_numbers(lines: NumberLines, what: str) -> NDArray[np.int64]:
    """Return the values as whole numbers, or raise ScanError naming the line of one that is not whole."""
    values = lines.values
    bad = np.flatnonzero(~(np.abs(values) < 2.0**53) | (np.rint(np.nan_to_num(values)) != values))
    if len(bad):
        place = int(np.searchsorted(lines.start, bad[0], side="right")) - 1
        raise damaged(f"Line {int(lines.line[place])} of the scan file has {values[bad[0]]:g} where {what} should be.")
    return values.astype(np.int64)
