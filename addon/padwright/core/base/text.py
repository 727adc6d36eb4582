"""Counts, articles and numbers in words: "1 hole", "2 holes", "an insole", "(0, -1, 2)"."""

from __future__ import annotations

import math
from collections.abc import Iterable


def counted(count: int, one: str, many: str = "") -> str:
    """Return the count with its noun, in the plural unless there is one; `many` where an s is not enough."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def figure(value: float, decimals: int = 0) -> str:
    """Return a number with so many decimals, and where that leaves less than two figures, with two."""
    if 0.0 < abs(value) < 9.5:
        decimals = max(decimals, 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}"


def with_article(noun: str) -> str:
    """Return "a seat pad", "an insole"."""
    return f"an {noun}" if noun[:1].lower() in "aeiou" else f"a {noun}"


def direction_words(vector: Iterable[float]) -> str:
    """Return a unit vector as "(0, 0.71, -0.71)": to half a degree, without a zero that has a sign."""
    return f"({', '.join(f'{round(float(each), 2) + 0.0:g}' for each in vector)})"


def fixed(value: float, digits: int) -> str:
    """Return a number with so many decimals; what rounds to nothing has no minus."""
    text = f"{value:.{digits}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def placed(values: Iterable[float], digits: int = 0) -> str:
    """Return a place or a direction, "(1, 0, -2)"; what rounds to nothing has no minus."""
    return f"({', '.join(fixed(value, digits) for value in values)})"
