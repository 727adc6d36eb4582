"""The ramps of values as the modeller's lists and meshes take them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...core.base.ramps import RAMPS, ramp_colors

if TYPE_CHECKING:
    import numpy as np

RAMP_ITEMS = [
    ("one_way", "One Way", "Light for little, dark for much"),
    ("two_way", "Two Ways", "Light at zero, dark to both sides"),
    ("least", "Least Marked", "Brick at the least, then light to dark"),
]
__all__ = ["RAMPS", "RAMP_ITEMS", "colors"]


def colors(share: np.ndarray, ramp: str) -> np.ndarray:
    """Return a color (n, 4) sRGB for each share (n,) between 0 and 1."""
    import numpy as np

    return np.column_stack([ramp_colors(share, ramp), np.ones_like(share)])
