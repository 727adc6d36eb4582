"""The colors that can be asked for by name, and the name of any color."""

from __future__ import annotations

import re
from collections.abc import Sequence

from .errors import InputError

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


def hex_name(color: Sequence[float]) -> str:
    """Return a color, (3,) 0 to 255, as "#rrggbb"."""
    return "#" + "".join(f"{round(min(max(float(each), 0.0), 255.0)):02x}" for each in color)


def color_name(color: Sequence[float], ground: Sequence[float] | None = None) -> str:
    """Return what a person would call a color, (3,) 0 to 255: one of the names, or "gray".

    On a ground of another color it is named by how it differs from that: a blue pen on brown clay is a dull violet by
    itself, and blue to the eye. What lies between the ground's tint and none is black, gray or white.
    """
    import numpy as np  # not above: the job's keys name these colors long before one is worked out

    from .perceived import lab_of

    lab, under = lab_of(np.array([color, (128, 128, 128) if ground is None else ground], dtype=np.float64))
    tint = under[1:]
    along = float(np.clip(lab[1:] @ tint / max(float(tint @ tint), 1e-9), 0.0, 1.0))
    if np.hypot(*(lab[1:] - along * tint)) < _COLORLESS:
        return "black" if lab[0] < 38.0 else "white" if lab[0] > 85.0 else "gray"
    green_red, blue_yellow = (float(each) for each in lab[1:] - tint)
    hue = float(np.degrees(np.arctan2(blue_yellow, green_red))) % 360.0
    name = next((name for end, name in _HUES if hue < end), "red")
    if name == "orange" and (lab[0] < 55.0 or np.hypot(*lab[1:]) < 40.0):
        return "brown"
    return "magenta" if name == "purple" and lab[0] > 45.0 else name


_COLORLESS = 7.0
_HUES = (
    (48.0, "red"),
    (80.0, "orange"),
    (115.0, "yellow"),
    (188.0, "green"),
    (238.0, "cyan"),
    (309.0, "blue"),
    (340.0, "purple"),
)
"""CIELAB hue, degrees, up to which a color has a name; beyond the last it is red again. Bounds of ours, between the
named colors and the inks of common pens."""
