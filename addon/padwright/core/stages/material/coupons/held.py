"""How much stiffer a block looks between plates that keep its ends from spreading."""

from __future__ import annotations

from ..curves import WALL_POISSON, StressCurve, constrained_ratio

MIDDLE_HOLD = 0.5
"""Between slippery plates (0) and plates the block sticks to (1), where nothing is known of them. Assumed."""


def held_excess(curve: StressCurve, width_over_height: float) -> float:
    """Return by what share of itself a printed block looks stiffer between plates it sticks to.

    Fill and contours by what each carries; a contour, held along its length, tends to the plate's 1/(1 - nu^2) instead
    of M/E, as in `curves.layered_ratio`.
    """
    return held_share(curve.poisson, curve.wall_share, width_over_height)


def held_share(poisson: float, wall_share: float, width_over_height: float) -> float:
    """Return `held_excess` of a curve with that Poisson's ratio and share of walls."""
    fill = _excess(float(constrained_ratio(poisson)) - 1.0, width_over_height)
    wall = _excess(1.0 / (1.0 - WALL_POISSON**2) - 1.0, width_over_height)
    return (1.0 - wall_share) * fill + wall_share * wall


def middle_grip(curve: StressCurve, width_over_height: float) -> float:
    """Return how much stiffer a block looks half way between slippery and sticking plates."""
    return 1.0 + MIDDLE_HOLD * held_excess(curve, width_over_height)


def _excess(limit: float, x: float) -> float:
    return limit * x * x / (x * x + 2.04 * x + 6.11 * limit)
