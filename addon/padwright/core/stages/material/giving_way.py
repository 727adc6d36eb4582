"""How cells and walls carry on past the strain at which they give way: they bend, level off, or carry by their edges.

Every function takes r, strain over the strain at which it gives way, and returns stress over modulus times that strain;
all begin with slope 1 and never fall.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float

WINTER = 0.22
"""Winter's share for walls that are not flat to begin with (Winter 1947, cited, not read)."""


def bends(ratio: Float) -> Float:
    """Return 1 - exp(-r): a bent sheet gives way little by little (form: Avalle 2007, cited, not read)."""
    return np.asarray(-np.expm1(-ratio))


def levels_off(ratio: Float) -> Float:
    """Return the smaller of r and 1: a wall that wrinkles and carries no more."""
    return np.minimum(ratio, 1.0)


def wavy_wall(ratio: Float) -> Float:
    """Return Winter's effective width times r: sqrt(r) - 0.22, and r as long as that is less.

    Notes
    -----
    Width b_e of b still carries the stress at the edges, E strain: b_e / b = sqrt(1/r) (1 - 0.22 sqrt(1/r)). Without
    the bracket it is von Karman's (1932); the bracket is Winter's (1947), from tests on plates that were
    not quite flat (both cited, not read). It begins at r = 0.453, where line and curve touch to 2e-4.
    """
    ratio = np.asarray(ratio, dtype=np.float64)
    start = (0.5 * (1.0 + np.sqrt(1.0 - 4.0 * WINTER))) ** 2
    # r = sqrt(r) - 0.22 at sqrt(r) = 0.327 and 0.673; from the second on Winter's curve lies under the line.
    return np.where(ratio < start, ratio, np.sqrt(np.maximum(ratio, start)) - WINTER)


def flat_wall(ratio: Float) -> Float:
    """Return Koiter's effective width times r, for a flat elastic wall whose edges stay straight.

    Notes
    -----
    b_e / b = 1.2 r^-0.4 - 0.65 r^-0.8 + 0.45 r^-1.2 (Koiter 1943, cited, not read): slope 1/2 just past buckling, and
    1 to 4 % over our own Ritz computation up to r = 20 (tests/support/plate_strip.py).
    """
    past = np.maximum(np.asarray(ratio, dtype=np.float64), 1.0)
    return np.where(ratio < 1.0, ratio, 1.2 * past**0.6 - 0.65 * past**0.2 + 0.45 * past**-0.2)


def buckled_wall(ratio: Float) -> Float:
    """Return the geometric mean of `wavy_wall` and `flat_wall`.

    From r = 4 to 20 it lies within 2 % of our own Ritz computation of a flat wall whose edges are free to pull in.
    """
    return np.sqrt(wavy_wall(ratio) * flat_wall(ratio))


@dataclass(frozen=True)
class GivesWay:
    """A way to give way: what is expected, and the two it lies between nine times in ten."""

    middle: Callable[[Float], Float]
    low: Callable[[Float], Float]
    high: Callable[[Float], Float]

    def spread_at(self, ratio: float) -> float:
        """Return the logarithm of the factor from the middle to low or high at one r: half that of high over low."""
        at = np.array(ratio)
        return 0.5 * float(np.log(self.high(at) / self.low(at)))


BENDS = GivesWay(bends, bends, bends)
CARRIES_BY_EDGES = GivesWay(buckled_wall, wavy_wall, flat_wall)
