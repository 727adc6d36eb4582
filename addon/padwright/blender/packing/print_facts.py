"""What the print takes, kept for the panel as soon as it is known: with the load, of folded walls with the shape."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .. import state

if TYPE_CHECKING:
    from ...core.run.parts import MadePart


def known_from(part: Any) -> str:
    """Return the stage after which mass and hours are known."""
    return "shape" if part.fill_kind == "folds" else "load"


def write(part: Any, result: MadePart) -> None:
    """Plan the print and keep what it takes."""
    from ...core.run.laid_out import laid_out
    from ...core.run.print_words import not_counted, print_rows

    plan, found = laid_out(result)[1].plan, part.found
    found.takes.clear()
    for name, words in print_rows(plan):
        row = found.takes.add()
        row.name, row.now = name, words
    found.takes_not, found.takes_of = not_counted(plan), _settings(part)


def is_of_now(part: Any) -> bool:
    """Say if what is kept is of the part as it is set now."""
    return bool(part.found.takes_of == _settings(part))


def _settings(part: Any) -> str:
    """Return a text that changes when anything changes on which mass and hours rest."""
    known = known_from(part)
    return known + state.all_settings(part, known)[known]
