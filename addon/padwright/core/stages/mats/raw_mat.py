"""A mat's numbers as they stand in its file, before anybody says what they mean."""

from __future__ import annotations

from dataclasses import dataclass

from ...base.mesh import Float


@dataclass(frozen=True, eq=False)
class RawMat:
    """The numbers of a mat's file."""

    frames: Float  # (f, rows, columns); nan where a cell is empty or no number
    header: tuple[str, ...]  # what is no row of cells, line by line
    written: str  # how, in words: "cells parted by semicolons, decimal commas"
    notes: tuple[str, ...] = ()
