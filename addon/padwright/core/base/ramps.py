"""Our own colors, the one place for them: of firmness levels, and of values between two ends.

Light to dark, so that they read in print and without color sight too; `tests/outside/test_ramps.py` measures how far
their steps lie apart for the common kinds of color sight and in gray.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .mesh import Float

FIRMNESS = ("#d6ebf5", "#9ccab2", "#cc8630", "#7f3428")
"""Levels 1, softest, to 4, firmest; the families' cards have the same."""

CREAM, SEA, INK = (0.96, 0.94, 0.86), (0.35, 0.66, 0.62), (0.10, 0.14, 0.36)
BRICK, EMBER = (0.80, 0.42, 0.22), (0.45, 0.13, 0.10)

_MARKED = 0.04  # share of the scale that stands for "at the least"

RAMPS = {
    "one_way": ((0.0, CREAM), (0.5, SEA), (1.0, INK)),
    "two_way": ((0.0, EMBER), (0.25, BRICK), (0.5, CREAM), (0.75, SEA), (1.0, INK)),
    "least": ((0.0, BRICK), (_MARKED, BRICK), (_MARKED, CREAM), (0.5, SEA), (1.0, INK)),
}
"""Share of the scale -> color, sRGB. "two_way" has cream in the middle: its scale must run as far below zero as above.
"""


def ramp_colors(share: Float, ramp: str) -> Float:
    """Return a color (n, 3), sRGB 0 to 1, for each share (n,) between 0 and 1; straight between the ramp's stops."""
    import numpy as np  # not above: the modeller reads the ramps' names long before it colors anything

    stops = [stop for stop, _ in RAMPS[ramp]]
    channels = [np.interp(share, stops, [color[channel] for _, color in RAMPS[ramp]]) for channel in range(3)]
    return np.stack(channels, axis=-1)


def hex_color(color: tuple[float, float, float]) -> str:
    """Return sRGB, 0 to 1, as "#rrggbb"."""
    return "#" + "".join(f"{round(255.0 * each):02x}" for each in color)
