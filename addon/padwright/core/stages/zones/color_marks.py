"""How far a scan's colors are from one color, and the colors that can be asked for by name."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from ...base.errors import InputError
from ...base.mesh import Float

NAMED_COLORS: dict[str, tuple[int, int, int]] = {
    "red": (255, 0, 0),
    "orange": (255, 165, 0),
    "yellow": (255, 255, 0),
    "green": (0, 128, 0),
    "cyan": (0, 255, 255),
    "blue": (0, 0, 255),
    "purple": (128, 0, 128),
    "magenta": (255, 0, 255),
    "brown": (165, 42, 42),
    "black": (0, 0, 0),
    "white": (255, 255, 255),
}
"""Red, green, blue 0-255 of the named colors of CSS Color Module Level 4 (W3C), section 6.1."""


def named_color(name: str) -> tuple[int, int, int]:
    """Return the red, green and blue (0-255) of a name or of "#rrggbb".

    Raises InputError when the name is not known.
    """
    key = name.strip().lower()
    if re.fullmatch(r"#[0-9a-f]{6}", key):
        return int(key[1:3], 16), int(key[3:5], 16), int(key[5:7], 16)
    if key not in NAMED_COLORS:
        raise InputError(f'Color "{name}" is not known.', hint=f"Use #rrggbb or one of {', '.join(NAMED_COLORS)}.")
    return NAMED_COLORS[key]


def color_distance(colors: NDArray[np.uint8], wanted: tuple[int, int, int]) -> Float:
    """Return how far colors (n, 3), 0-255, are from one, as a share of the color cube's diagonal, (n,), 0 to 1."""
    offset = (np.asarray(colors, dtype=np.float64) - np.asarray(wanted, dtype=np.float64)) / 255.0
    return np.asarray(np.linalg.norm(offset, axis=1) / np.sqrt(3.0))
