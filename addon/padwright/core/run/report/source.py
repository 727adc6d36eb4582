"""What the chapters of a report are made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..packing import Packed
from ..parts import MadePart


@dataclass(frozen=True, eq=False)
class ReportSource:
    """A whole part, how it was packed, and its files by name; a selection of regions has no report."""

    part: MadePart
    packed: Packed
    files: Mapping[str, bytes]  # of the run, all but the evidence and what is written for people to read
