"""How much stiffer a block looks between plates that keep its ends from spreading."""

from __future__ import annotations

from .curves import constrained_ratio

MIDDLE_HOLD = 0.5
"""Between slippery plates (0) and plates the block sticks to (1), where nothing is known of them. Assumed."""


def held_ratio(poisson: float, width_over_height: float) -> float:
    """Return apparent over Young's modulus of a square block whose ends cannot spread.

    Notes
    -----
    1 + r x^2 / (x^2 + 2.04 x + 6.11 r), x = width / height, r = M/E - 1: our own fit to our own finite elements
    (bricks, an eighth of the block, x from 0.8 to 4). Within 1.3 % for Poisson's ratio 0.3 and 0.37, within 5.5 % for
    0.48. Wide blocks tend to the constrained modulus M; with nu = 0 nothing spreads and nothing changes.
    """
    excess = float(constrained_ratio(poisson)) - 1.0
    x = width_over_height
    return 1.0 + excess * x * x / (x * x + 2.04 * x + 6.11 * excess)


def middle_grip(poisson: float, width_over_height: float) -> float:
    """Return the ratio half way between slippery and sticking plates."""
    return 1.0 + MIDDLE_HOLD * (held_ratio(poisson, width_over_height) - 1.0)
