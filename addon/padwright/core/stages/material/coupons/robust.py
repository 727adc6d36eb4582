"""What every fit of blocks does about strange readings and about prints that differ, whatever its unknowns are."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeVar

import numpy as np

from ....base.mesh import Bool, Float
from .posterior import PRINT_SPREAD

STRANGE = 3.5
"""Readings farther off than so many standard deviations are named and left out."""

MOST_STRANGE = 0.2
"""Share of the readings beyond which it is not they that are strange: none is left out then."""

_STRANGE_ROUNDS, _SPREAD_ROUNDS, _SETTLED = 3, 4, 1.03

_PRINTS_BEFORE = 4.0
"""How many prints' worth of knowledge `PRINT_SPREAD` is, against the blocks'. Assumed."""

_MOST_OWN = 3.0
"""A block counts as off by no more than so many times `PRINT_SPREAD` where it is told how much prints differ."""


class _Fit(Protocol):
    def residuals(self, point: Float) -> tuple[Float, Float]: ...
    def inverse(self, point: Float) -> Float: ...


Some = TypeVar("Some", bound=_Fit)


def without_strange(
    whole: Some, point: Float, refit: Callable[[Bool, Float], tuple[Some, Float]]
) -> tuple[Bool, Some, Float]:
    """Return which readings are used, the fit of these and its point: those far off all others are left out.

    `refit` fits the readings of a mask (n,), from the last point.
    """
    fit = whole
    used = np.ones(len(whole.residuals(point)[0]), dtype=bool)
    for _ in range(_STRANGE_ROUNDS):
        residuals, _ = whole.residuals(point)
        spread = max(1.0, 1.4826 * float(np.median(np.abs(residuals[used]))))
        now = np.abs(residuals) <= STRANGE * spread
        if (now == used).all() or np.mean(~now) > MOST_STRANGE:
            break
        used = now
        fit, point = refit(used, point)
    return used, fit, point


def prints_differ(
    fit: Some, point: Float, own: np.ndarray, refit: Callable[[Some, float, Float], tuple[Some, Float]]
) -> tuple[float, Some, Float]:
    """Return how far prints differ by what blocks say, never less than usual, and the fit with that and its point.

    `own` are the places of the blocks' own factors in a point; `refit` fits with prints that differ by so much.
    """
    own_sd, most = PRINT_SPREAD, (_MOST_OWN * PRINT_SPREAD) ** 2
    for _ in range(_SPREAD_ROUNDS):
        told = np.minimum(point[own] ** 2 + np.diag(fit.inverse(point))[own], most)
        now = float(np.sqrt((_PRINTS_BEFORE * PRINT_SPREAD**2 + told.sum()) / (_PRINTS_BEFORE + len(told))))
        if now < _SETTLED * own_sd:
            break
        own_sd = now
        fit, point = refit(fit, now, point)
    return own_sd, fit, point
