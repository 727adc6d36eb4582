"""The greatest least thickness that a clay allows: what to write where the one asked leaves no pad."""

from __future__ import annotations

from collections.abc import Callable

from ...base.errors import SolveError
from .footprint_contact import NEARLY_ALL, greatest_taken
from .pad_settings import PadSettings

_STEP_MM = 0.5
"""What is named is a whole number of these: rounder than the grid it was found on. A choice of ours."""


def with_what_works(error: SolveError, settings: PadSettings, share_at: Callable[[float], float]) -> SolveError:
    """Return an error of a pad that is nowhere as thick as asked, with the key to blame and the value to write.

    `share_at` says for a least thickness, mm, how much of what the body pressed lies on the pad with it, 0 to 1; it
    raises a SolveError where there is no pad.
    """
    greatest = greatest_taken(settings)
    if greatest != "least_thickness_mm":
        error.key = error.key or ("pad", greatest)
        return error
    error.key = error.key or ("pad", "least_thickness_mm")

    def works(steps: int) -> bool:
        try:
            return share_at(steps * _STEP_MM) >= NEARLY_ALL
        except SolveError:
            return False

    low, high = 1, int(settings.least_thickness_mm / _STEP_MM) + 1
    if not works(low):
        return error
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if works(middle) else (low, middle)
    told = SolveError(
        error.message,
        hint=f"Write least_thickness_mm = {low * _STEP_MM:g}: with it nearly all of what the body pressed lies on the "
        "pad, with more it does not. Usual are 2 to 6 mm.",
    )
    told.key = error.key
    return told
