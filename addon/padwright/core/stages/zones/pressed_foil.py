"""Zones from a foil or paper that darkens where it is pressed: how dark it is, as a grey scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.color_names import named_color
from ...base.errors import InputError
from ...base.mesh import Float
from ...base.perceived import lab_of
from .marks import FoundMarks, MarkedScan

_SPREAD_MM = 1.5
"""Such foils are grainy: lightness is averaged over a Gaussian of this standard deviation. Ours."""
_ENDS = (2.0, 98.0)
"""Percentiles of lightness that count as dark and as light where no colors are given: ours."""
_LEAST_RANGE = 8.0
"""Of CIELAB lightness: with less between dark and light it is the clay's own shade that is looked at. Ours."""


@dataclass(frozen=True)
class FoilWish:
    """How dark the places of a zone are, in percent from light to dark."""

    low_pct: float | None
    high_pct: float | None
    light: str | None  # colors of both ends; of the lightest and darkest places where None
    dark: str | None


def foil_on_scan(scan: MarkedScan, wish: FoilWish) -> FoundMarks:
    """Return where a foil that lies on the scanned clay is as dark as wished.

    Raises InputError when the scan is about as light everywhere, or nothing is so dark.
    """
    points = scan.body.mesh.vertices
    if scan.seen is not None:
        seen = scan.seen
        image = np.zeros(seen.depth.shape)
        image[seen.is_seen] = _lightness(seen.colors[seen.is_seen])
        sigma = _SPREAD_MM / seen.pixel_mm
        weight = ndimage.gaussian_filter(seen.is_seen.astype(np.float64), sigma)
        image = ndimage.gaussian_filter(image, sigma) / np.maximum(weight, 1e-9)
        lightness = seen.values_at(image, points)
        is_known = ~seen.is_beyond_reach(points, scan.edge_mm + 8.0) & (
            seen.values_at(seen.is_seen.astype(np.float64), points) > 0.5
        )
    else:
        light = _lightness(scan.samples.colors)
        near = cKDTree(scan.samples.points)
        away, found = near.query(points, k=min(32, len(light)))
        weight = np.exp(-0.5 * (away / _SPREAD_MM) ** 2) + 1e-12
        lightness = (weight * light[found]).sum(axis=1) / weight.sum(axis=1)
        is_known = away[:, 0] <= 8.0
    return _banded(lightness, is_known, wish)


def _banded(lightness: Float, is_known: NDArray[np.bool_], wish: FoilWish) -> FoundMarks:
    if not is_known.any():
        raise InputError("No colored place of the scan lies in front of the pad.", hint="Is it the scan of the foil?")
    low, high = _ends(lightness[is_known], wish.light, wish.dark)
    dark = np.clip(100.0 * (high - lightness) / (high - low), 0.0, 100.0)
    is_in = is_known & (dark >= _or(wish.low_pct, -1.0)) & (dark <= _or(wish.high_pct, 101.0))
    if not is_in.any():
        raise InputError(
            f"On the pad the foil is {dark[is_known].min():.0f} to {dark[is_known].max():.0f} % dark; the zone asks "
            f"for {_or(wish.low_pct, 0.0):g} to {_or(wish.high_pct, 100.0):g} %.",
            hint="Give from_dark_pct and to_dark_pct within that.",
        )
    told: dict[str, Any] = {"foil_light": round(high, 1), "foil_dark": round(low, 1)}
    return FoundMarks(is_in.astype(np.float64), told)


def _ends(lightness: Float, light: str | None, dark: str | None) -> tuple[float, float]:
    """Return the lightness of the dark and of the light end."""
    low, high = (float(each) for each in np.percentile(lightness, _ENDS))
    low = low if dark is None else float(_lightness(np.array([named_color(dark)]))[0])
    high = high if light is None else float(_lightness(np.array([named_color(light)]))[0])
    if high - low < _LEAST_RANGE:
        raise InputError(
            f"From its dark to its light end the foil differs by {high - low:.1f} of 100 in lightness; the least "
            f"that is read is {_LEAST_RANGE:g}.",
            hint="Is it the scan with the foil on it? Else give light and dark, the colors of both ends.",
        )
    return low, high


def _lightness(colors: NDArray[Any]) -> Float:
    return lab_of(colors)[:, 0]


def _or(value: float | None, instead: float) -> float:
    return instead if value is None else value
