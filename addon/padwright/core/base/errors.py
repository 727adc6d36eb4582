"""The errors a person may meet: what is wrong, with a number and a place, and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

if TYPE_CHECKING:  # the modeller starts faster when naming an error does not load numpy
    import numpy as np


class PadwrightError(Exception):
    """Tell the person what went wrong and what to do about it.

    The message is one sentence that says what is wrong, with a number ("The base scan has 3 holes, the largest 41 mm
    around"), the hint what to do next; `faces`, (k,) int, are those it speaks of, for a screen that can select them.
    """

    exit_code: ClassVar[int] = 4
    # Path of the job's key that is to blame, where one is; who knows it sets it on the way out.
    key: tuple[str | int, ...] = ()
    # Where below that key, for who raises the error and knows no more than what was handed to it.
    within: tuple[str | int, ...] = ()

    def __init__(self, message: str, *, hint: str = "", faces: np.ndarray | None = None) -> None:
        super().__init__(message if not hint else f"{message} {hint}")
        self.message = message
        self.hint = hint
        self.faces = faces


class InputError(PadwrightError):
    """Something the person wrote (job file, command line, argument) is wrong."""

    exit_code = 2


class ScanError(PadwrightError):
    """A scan cannot be used."""

    exit_code = 3


class SolidError(PadwrightError):
    """A closed solid could not be made."""


class SolveError(PadwrightError):
    """A computation did not reach an answer it can stand behind."""


class ExportError(PadwrightError):
    """Files could not be written; nothing was changed on disk."""
