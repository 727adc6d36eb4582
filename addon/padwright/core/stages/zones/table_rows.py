"""Rows of a table as text: cells parted by commas, or as spreadsheets in many languages write them."""

from __future__ import annotations


def cells_of(line: str) -> list[str]:
    """Return the cells of a row, each a text with a point for its decimals.

    Where a semicolon or a tab stands in the row it parts the cells, and a comma is a decimal one; else a comma does.
    """
    for sign in (";", "\t"):
        if sign in line:
            return [word.strip().replace(",", ".") for word in line.split(sign)]
    return [word.strip() for word in line.split(",")]
