"""Numbers for people's eyes: round steps for a scale of colors, and values as places on it."""

from __future__ import annotations

import math

import numpy as np

from .errors import InputError
from .mesh import Float

_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


def round_step(span: float, most: int = 6) -> float:
    """Return the least round step (1, 2, 2.5 or 5 times a power of ten) that cuts a span into at most so many parts.

    Raises InputError when the span is not a positive number.
    """
    if not (math.isfinite(span) and span > 0.0):
        raise InputError(f"A scale cannot span {span:g}.")
    power = 10.0 ** math.floor(math.log10(span / most))
    return next(step * power for step in _STEPS if span / (step * power) <= most * (1.0 + 1e-9))


def round_ticks(low: float, high: float, most: int = 6) -> tuple[float, ...]:
    """Return the round numbers on a scale from `low` to `high`, both counted when they are round, ascending."""
    step = round_step(high - low, most)
    first, last = math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6)
    return tuple(float(f"{number * step:.12g}") for number in range(first, last + 1))


def round_up(value: float) -> float:
    """Return the least of 1, 2, 2.5, 5 or 10 times a power of ten that is not below a positive value."""
    return round_step(value, 1)


def in_words(value: float, step: float) -> str:
    """Return a tick's number with as many decimals as its step needs, never "-0"."""
    decimals = next((count for count in range(7) if abs(round(step, count) - step) < 1e-9 * step), 7)
    return f"{value + 0.0:.{decimals}f}" if round(value, decimals) else "0"


def shares_between(values: Float, low: float, high: float) -> Float:
    """Return where each value lies between `low` (0) and `high` (1), (n,); beyond them it stays at the end."""
    if not high > low:
        raise InputError(f"A scale cannot run from {low:g} to {high:g}.")
    return np.clip((np.asarray(values, dtype=np.float64) - low) / (high - low), 0.0, 1.0)


def scale_top(values: Float, percent: float = 99.5) -> float:
    """Return where a scale of colors from 0 should end: the percentile of the values, (n,), that are above 0.

    Single places that stand out would leave all others in the palest color; they get the color of the end.
    """
    above = np.asarray(values, dtype=np.float64)
    above = above[above > 0.0]
    return float(np.percentile(above, percent)) if len(above) else 0.0
