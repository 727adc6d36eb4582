"""Of which settings what the panel tells of mass and hours is; it only reads."""

from __future__ import annotations

from typing import Any

from .. import state


def known_from(part: Any) -> str:
    """Return the stage after which mass and hours are known."""
    return "shape" if part.fill_kind == "folds" else "load"


def print_of(part: Any) -> str:
    """Return a text that changes when anything changes on which mass and hours rest."""
    known = known_from(part)
    return known + state.all_settings(part, known)[known] + part.kept  # there shrinkage, flow and price stand


def is_of_now(part: Any) -> bool:
    """Say if what is kept is of the part as it is set now."""
    return bool(part.found.takes_of == print_of(part))
