"""Counts in words: "1 hole", "2 holes"."""

from __future__ import annotations


def counted(count: int, one: str, many: str = "") -> str:
    """Return the count with its noun, in the plural unless there is one; `many` where an s is not enough."""
    return f"{count} {one if count == 1 else many or one + 's'}"
