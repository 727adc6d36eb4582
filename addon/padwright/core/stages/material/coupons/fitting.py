"""A fit that looks at what it leaves: strange readings, scatter beyond reading, blocks unlike each other."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ....base.mesh import Float
from ..material_model import MaterialModel
from .coupons import Coupon
from .posterior import BENT, COUNT, HOLD_AT, LAW_SD, PRINT_SPREAD, Assumed, Posterior, Pressed
from .suspicions import Suspicion, likeliest

STRANGE = 3.5
"""Readings farther off than so many standard deviations are named and left out."""

MOST_STRANGE = 0.2
"""Share of the readings beyond which it is not they that are strange: none is left out then."""

_PRINTS_BEFORE = 4.0
"""How many prints' worth of knowledge `PRINT_SPREAD` is, against the blocks'. Assumed."""

_MOST_OWN = 3.0
"""A block counts as off by no more than so many times `PRINT_SPREAD` where it is told how much prints differ."""

_MOST_SUSPICIONS = 4
_LAW_REACH = 0.35
"""Logarithm of a usual solid share over the middle one: 10 and 21 % of 15 %."""


@dataclass(frozen=True, eq=False)
class Fitted:
    """The likeliest material, and what was seen on the way."""

    posterior: Posterior  # of the readings that were used
    point: Float  # (size,); its best
    covariance: Float  # (4, 4); of the unknowns, of a new print of another solid share
    used: np.ndarray  # (n,)
    residuals: Float  # (n,); of all readings, in units of their error
    expected_n: Float  # (n,)
    scale: float  # times the usual error that readings scatter
    own_sd: float  # how far prints differ, standard deviation of the logarithm
    suspicions: tuple[Suspicion, ...]


def fitted(
    coupons: Sequence[Coupon],
    pressed: Pressed,
    prior: MaterialModel,
    *,
    is_trusted: bool = False,
    sized: Collection[int] = (),
) -> Fitted:
    """Fit the readings; what they contradict is let go, the most likely first.

    The prior is the card's. `is_trusted`: the person says that the readings are right as they stand; no block is left
    aside. `sized` are the numbers of the blocks whose weight says that they have their size.
    """
    assumed = Assumed.usual(len(coupons))
    used, fit, point = _without_strange(coupons, pressed, prior, assumed)
    suspicions: list[Suspicion] = []
    while len(suspicions) < _MOST_SUSPICIONS:
        found = likeliest(fit, point, is_trusted=is_trusted, sized=sized)
        if found is None:
            break
        suspicions.append(found)
        assumed = found.lets_go(assumed)
        used, fit, point = _without_strange(coupons, pressed, prior, assumed, point[: fit.strain_at])
    scale = fit.noise_scale(point)
    if scale > 1.0:
        fit = Posterior(coupons, pressed.only(used).scattering(scale), prior, assumed)
        point = fit.solve(point)
    own_sd, fit, point = _prints_differ(fit, point)
    whole = Posterior(coupons, pressed, prior, assumed)
    residuals, expected = whole.residuals(point)
    covariance = fit.covariance(point)
    covariance[0, 0] += own_sd**2
    bent = point[COUNT:HOLD_AT] ** 2 + np.diag(fit.inverse(point))[COUNT:HOLD_AT]
    # What laws usually bend by is part of how prints differ.
    covariance[BENT, BENT] += _LAW_REACH**2 * np.maximum(bent - np.square(LAW_SD), 0.0)
    return Fitted(fit, point, covariance, used, residuals, expected, scale, own_sd, tuple(suspicions))


def _without_strange(
    coupons: Sequence[Coupon], pressed: Pressed, prior: MaterialModel, assumed: Assumed, head: Float | None = None
) -> tuple[np.ndarray, Posterior, Float]:
    """Return which readings are used, and the fit of these: those far off all others are left out."""
    whole = Posterior(coupons, pressed, prior, assumed)
    used = np.ones(len(pressed.load_n), dtype=bool)
    fit, point = whole, whole.solve(None if head is None else whole.with_strains(head))
    for _ in range(3):
        residuals, _ = whole.residuals(point)
        spread = max(1.0, 1.4826 * float(np.median(np.abs(residuals[used]))))
        now = np.abs(residuals) <= STRANGE * spread
        if (now == used).all() or np.mean(~now) > MOST_STRANGE:
            break
        used = now
        fit = Posterior(coupons, pressed.only(used), prior, assumed)
        point = fit.solve(fit.with_strains(point[: fit.strain_at]))
    return used, fit, point


def _prints_differ(fit: Posterior, point: Float) -> tuple[float, Posterior, Float]:
    """Return how far prints differ by what the blocks say, never less than usual, and the fit with that."""
    own = slice(fit.own_at, fit.height_at)
    own_sd, most = PRINT_SPREAD, (_MOST_OWN * PRINT_SPREAD) ** 2
    assumed = fit.assumed
    for _ in range(4):
        told = np.minimum(point[own] ** 2 + np.diag(fit.inverse(point))[own], most)
        now = float(np.sqrt((_PRINTS_BEFORE * PRINT_SPREAD**2 + told.sum()) / (_PRINTS_BEFORE + len(told))))
        if now < 1.03 * own_sd:
            break
        own_sd = now
        fit = Posterior(fit.coupons, fit.pressed, fit.prior, replace(assumed, own_sd=np.maximum(assumed.own_sd, now)))
        point = fit.solve(point)
    return own_sd, fit, point
