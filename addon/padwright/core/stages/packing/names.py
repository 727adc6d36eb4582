"""How the files of a run are called."""

from __future__ import annotations


def selection_number(number: str) -> str:
    """Return what the files of a selection begin with, so that none has a name of the whole part's."""
    return f"{number}.selection"


def commit_name(number: str, *, is_selection: bool) -> str:
    """Return the name of the document that makes a run's files one: a selection's does not claim to be a run."""
    return f"{selection_number(number)}.json" if is_selection else f"{number}.run.json"
