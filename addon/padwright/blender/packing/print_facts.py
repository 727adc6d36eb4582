"""What the print takes, kept for the panel as soon as it is known: with the load, of folded walls with the shape."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from . import takes

if TYPE_CHECKING:
    from ...core.run.parts import MadePart


def write(part: Any, result: MadePart) -> None:
    """Plan the print and keep what it takes."""
    from ...core.run.laid_out import laid_out
    from ...core.run.print_words import not_counted, print_rows

    plan, found = laid_out(result)[1].plan, part.found
    found.takes.clear()
    for name, words in print_rows(plan):
        row = found.takes.add()
        row.name, row.now = name, words
    found.takes_not, found.takes_of = not_counted(plan), takes.print_of(part)
