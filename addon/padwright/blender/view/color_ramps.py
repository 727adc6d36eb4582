"""Our own colors for values: cream, sea and ink, with brick for what asks for care."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

CREAM, SEA, INK = (0.96, 0.94, 0.86), (0.35, 0.66, 0.62), (0.10, 0.14, 0.36)
BRICK, EMBER = (0.80, 0.42, 0.22), (0.45, 0.13, 0.10)
# Light to dark, so that they read in print and without color sight too.
_MARKED = 0.04  # share of the bar that stands for "at the least"

# Share of the scale -> color, sRGB. "two_way" has cream in the middle: its scale must run as far below zero as above.
RAMPS = {
    "one_way": ((0.0, CREAM), (0.5, SEA), (1.0, INK)),
    "two_way": ((0.0, EMBER), (0.25, BRICK), (0.5, CREAM), (0.75, SEA), (1.0, INK)),
    "least": ((0.0, BRICK), (_MARKED, BRICK), (_MARKED, CREAM), (0.5, SEA), (1.0, INK)),
}
RAMP_ITEMS = [
    ("one_way", "One Way", "Light for little, dark for much"),
    ("two_way", "Two Ways", "Light at zero, dark to both sides"),
    ("least", "Least Marked", "Brick at the least, then light to dark"),
]


def colors(share: np.ndarray, ramp: str) -> np.ndarray:
    """Return a color (n, 4) sRGB for each share (n,) between 0 and 1."""
    import numpy as np

    stops = [stop for stop, _ in RAMPS[ramp]]
    channels = [np.interp(share, stops, [color[channel] for _, color in RAMPS[ramp]]) for channel in range(3)]
    return np.stack([*channels, np.ones_like(share)], axis=1)
