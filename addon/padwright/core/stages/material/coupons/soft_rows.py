"""Least squares whose first rows are readings, taken softly, and whose others are what was known before."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import cast

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import least_squares
from scipy.special import chdtri

from ....base.errors import SolveError
from ....base.mesh import Float

SOFT = 2.0
"""Residuals up to two standard deviations count nearly as plain least squares, larger ones by their size only
(soft-l1 loss of scipy's least_squares)."""

Rows = Callable[[Float], tuple[Float, Float]]
"""From a point (size,) to residuals (m,), each over its error, and their Jacobian (m, size)."""


def soft_loss(squared: Float, count: int) -> Float:
    """Return rho, rho', rho'' (3, m) of the squared residuals: soft l1 for the first `count`, plain for the others."""
    rho = np.stack([squared, np.ones_like(squared), np.zeros_like(squared)])
    z = 1.0 + squared[:count] / SOFT**2
    rho[0, :count] = 2.0 * SOFT**2 * (np.sqrt(z) - 1.0)
    rho[1, :count] = 1.0 / np.sqrt(z)
    rho[2, :count] = -0.5 / SOFT**2 * z**-1.5
    return rho


def least_point(rows: Rows, start: Float, count: int, ends: Sequence[float], close: float) -> Float:
    """Return the point of the least loss; each end (share of the loss) is tried in turn, `close` is of point and slope.

    At a kink the search may step to and fro by next to nothing: then a coarser end is taken. Raises SolveError when
    the fit does not end.
    """
    kept: dict[bytes, tuple[Float, Float]] = {}

    def known(point: Float) -> tuple[Float, Float]:
        mark = point.tobytes()
        if mark not in kept:
            kept.clear()
            kept[mark] = rows(point)
        return kept[mark]

    for end in ends:
        found = least_squares(
            lambda point: known(point)[0], start, jac=lambda point: known(point)[1],
            loss=lambda squared: soft_loss(squared, count), ftol=end, xtol=close, gtol=close, max_nfev=100,
        )  # fmt: skip
        if found.status > 0:
            return np.asarray(found.x)
        start = cast(Float, found.x)
    raise SolveError(
        "The fit of the readings does not settle.", hint="Look for readings that cannot be, block by block."
    )


def left_open(residuals: Float, jacobian: Float, count: int) -> Float:
    """Return the covariance of a point by its rows, (size, size)."""
    weight = soft_loss(residuals**2, count)[1]
    return np.asarray(cho_solve(cho_factor((jacobian * weight[:, None]).T @ jacobian), np.eye(jacobian.shape[1])))


def scatter(residuals: Float, jacobian: Float, count: int, some: int) -> float:
    """Return how much more the first `some` rows scatter than their errors say; 1 where chance explains it (95 %)."""
    weight = soft_loss(residuals**2, count)[1][:some]
    inverse = left_open(residuals, jacobian, count)
    spent = float(np.einsum("ij,jk,ik,i->", jacobian[:some], inverse, jacobian[:some], weight))
    free = max(some - spent, 1.0)
    total = float((weight * residuals[:some] ** 2).sum())
    return float(np.sqrt(total / free)) if total > chdtri(free, 0.05) else 1.0
