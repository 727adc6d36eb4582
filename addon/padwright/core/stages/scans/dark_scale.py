"""Whether a surface goes from light to dark without a break, as a foil does that darkens where it is pressed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.perceived import lab_of
from .surface_colors import ColorSamples

_ENDS = (2.0, 98.0)
_LEAST_RANGE = 20.0
"""Of CIELAB lightness; clay in light and in shade differs by some 12 on our generated scans. Ours."""
_LEAST_LIGHT = 75.0  # of its light end: paper has 85 to 97, clay in the shade of a hollow less than clay; ours
_STEPS, _LEAST_SHARE = 5, 0.005  # parts of the range, and of the surface that each must have: ours
_ONE_HUE = 10.0
"""Standard deviation of hue and chroma, CIELAB, among places of one lightness: more is several colors. Ours."""


@dataclass(frozen=True)
class DarkScale:
    """How far a surface goes from light to dark."""

    light: float  # CIELAB lightness, of its lightest and its darkest fiftieth
    dark: float


def dark_scale(samples: ColorSamples) -> DarkScale | None:
    """Return from how light to how dark a surface goes.

    None where it has steps, several hues, no light end, or hardly differs.
    """
    whole = float(samples.areas.sum())
    if not 0.0 < whole < np.inf:  # no surface at all, or places beyond what can be counted
        return None
    labs = lab_of(samples.colors)
    order = np.argsort(labs[:, 0])
    share = np.minimum(np.cumsum(samples.areas[order]) / whole, 1.0)
    dark, light = (float(labs[order[np.searchsorted(share, each / 100.0)], 0]) for each in _ENDS)
    if light - dark < _LEAST_RANGE or light < _LEAST_LIGHT:
        return None
    step = np.floor((labs[:, 0] - dark) / (light - dark) * _STEPS)
    for number in range(_STEPS):
        here, weight = labs[step == number], samples.areas[step == number]
        if weight.sum() < _LEAST_SHARE * whole:
            return None
        middle = np.average(here[:, 1:], axis=0, weights=weight)
        if np.sqrt(np.average(((here[:, 1:] - middle) ** 2).sum(axis=1), weights=weight)) > _ONE_HUE:
            return None
    return DarkScale(light, dark)
