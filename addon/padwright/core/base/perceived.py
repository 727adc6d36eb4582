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
    x, y, z = _roots(_linear(share) @ _TO_XYZ.T / _WHITE).T
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=1)


def _linear(share: Float) -> Float:
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def _roots(ratio: Float) -> Float:
    edge = 6.0 / 29.0
    return np.where(ratio > edge**3, np.cbrt(ratio), ratio / (3.0 * edge**2) + 4.0 / 29.0)


def lightness_of(light: Float) -> Float:
    """Return the CIELAB lightness, 0 to 100, of relative luminance, 0 to 1."""
    return np.asarray(116.0 * _roots(light) - 16.0)


def light_tables() -> Float:
    """Return what each value of a pixel, 0 to 255, of red, green and blue gives of relative luminance, (3, 256).

    So means of light, as the eye takes them from afar, can be had of millions of pixels.
    """
    return np.asarray(_TO_XYZ[1][:, None] * _linear(np.arange(256) / 255.0))


def color_difference(labs: Float, wanted: Float) -> Float:
    """Return how different CIELAB colors (n, 3) look from one, (3,): (n,); black and white are 0.5 apart.

    A step of 0.01 in hue is hardly seen; lightness counts half.
    """
    offset = (labs - wanted) * np.array([_LIGHTNESS_HALVES, 1.0, 1.0])
    return np.asarray(np.linalg.norm(offset, axis=1) / 100.0)
