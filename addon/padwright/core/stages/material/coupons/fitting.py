"""A fit that looks at what it leaves: strange readings, scatter beyond reading, blocks unlike each other."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ....base.mesh import Bool, Float
from ..material_model import MaterialModel
from .coupons import Coupon
from .posterior import BENT, COUNT, HOLD_AT, LAW_SD, Assumed, Posterior, Pressed
from .robust import prints_differ, without_strange
from .suspicions import Suspicion, likeliest

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

    def refit(used: Bool, point: Float) -> tuple[Posterior, Float]:
        fit = Posterior(coupons, pressed.only(used), prior, assumed)
        return fit, fit.solve(fit.with_strains(point[: fit.strain_at]))

    whole = Posterior(coupons, pressed, prior, assumed)
    return without_strange(whole, whole.solve(None if head is None else whole.with_strains(head)), refit)


def _prints_differ(fit: Posterior, point: Float) -> tuple[float, Posterior, Float]:
    """Return how far prints differ by what the blocks say, never less than usual, and the fit with that."""
    assumed = fit.assumed

    def refit(fit: Posterior, own_sd: float, point: Float) -> tuple[Posterior, Float]:
        wider = replace(assumed, own_sd=np.maximum(assumed.own_sd, own_sd))
        fit = Posterior(fit.coupons, fit.pressed, fit.prior, wider)
        return fit, fit.solve(point)

    return prints_differ(fit, point, np.arange(fit.own_at, fit.height_at), refit)
