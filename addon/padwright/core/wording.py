"""Counts and articles in words: "1 hole", "2 holes", "an insole"."""

from __future__ import annotations

from collections.abc import Iterable


def counted(count: int, one: str, many: str = "") -> str:
    """Return the count with its noun, in the plural unless there is one; `many` where an s is not enough."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def with_article(noun: str) -> str:
    """Return "a seat pad", "an insole"."""
    return f"an {noun}" if noun[:1].lower() in "aeiou" else f"a {noun}"


def direction_words(vector: Iterable[float]) -> str:
    """Return a unit vector as "(0, 0.71, -0.71)": to half a degree, without a zero that has a sign."""
    return f"({', '.join(f'{round(float(each), 2) + 0.0:g}' for each in vector)})"
