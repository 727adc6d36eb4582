"""Numbers on the command line: each finite, within its limits, and told when it is not."""

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Callable

_BETWEEN = re.compile(r"\s*[,;x\s]\s*")
"""Between numbers: people write "10,15", "10 15" and "300x300"."""


def number(low: float, high: float) -> Callable[[str], float]:
    """Return what turns an argument's text into a number from `low` to `high`."""

    def read(text: str) -> float:
        return _number(text, low, high)

    return read


def numbers(
    low: float, high: float, *, count: int | None = None, whole: bool = False, percent: bool = False
) -> Callable[[str], list[float]]:
    """Return what turns "10,15,25" or "300x300" into numbers from `low` to `high`, `count` of them where it is given.

    Where they are `percent`, one below 1 is asked about.
    """

    def read(text: str) -> list[float]:
        found = [_number(each, low, high, percent=percent) for each in _BETWEEN.split(text.strip())]
        if count is not None and len(found) != count:
            raise argparse.ArgumentTypeError(f'"{text[:60]}" has {len(found)} values; it takes {count}')
        if whole and any(each % 1 for each in found):
            raise argparse.ArgumentTypeError(f'"{text[:60]}" are not all whole numbers')
        return found

    return read


def _number(text: str, low: float, high: float, *, percent: bool = False) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not low <= value <= high:  # also what is not a number
        meant = f"; in percent it is {100.0 * value:g}" if percent and low <= 100.0 * value <= high else ""
        raise argparse.ArgumentTypeError(f'"{text[:40]}" is no number from {low:g} to {high:g}{meant}')
    return value
