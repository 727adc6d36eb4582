"""Colors as the eye tells them apart."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .mesh import Float

_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_WHITE = np.array([0.95047, 1.0, 1.08883])
"""sRGB to tristimulus values and its white, D65: IEC 61966-2-1:1999."""
_LIGHTNESS_HALVES = 0.5
"""Lightness counts half beside hue and chroma, as k_L = 2 of CIE 116-1995 for textiles: in a hollow of the clay a pen
line is darker, and is still of its color."""


def lab_of(colors: NDArray[Any]) -> Float:
    """Return sRGB colors, (n, 3), 0 to 255, as CIELAB (n, 3): lightness 0 to 100, green-red, blue-yellow.

    Notes
    -----
    ISO/CIE 11664-4:2019; 100 lies between black and white.
    """
    share = np.asarray(colors, dtype=np.float64)[:, :3] / 255.0
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    ratio = linear @ _TO_XYZ.T / _WHITE
    edge = 6.0 / 29.0
    root = np.where(ratio > edge**3, np.cbrt(ratio), ratio / (3.0 * edge**2) + 4.0 / 29.0)
    x, y, z = root.T
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=1)


def color_difference(labs: Float, wanted: Float) -> Float:
    """Return how different CIELAB colors (n, 3) look from one, (3,): (n,); black and white are 0.5 apart.

    A step of 0.01 in hue is hardly seen; lightness counts half.
    """
    offset = (labs - wanted) * np.array([_LIGHTNESS_HALVES, 1.0, 1.0])
    return np.asarray(np.linalg.norm(offset, axis=1) / 100.0)
