"""Which colors a surface has: the clay's, and those that stand out from it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from ...base.color_names import color_name, hex_name
from ...base.mesh import Float
from ...base.perceived import color_difference, lab_of
from .surface_colors import ColorSamples

_BIN = 0.03
"""Width of a bin of colors, in `color_difference`: about what is just noticed."""
_SPREAD = 1.2
"""Standard deviation, bins, over which counts are smoothed: the noise of a camera."""
_APART = 0.10
"""Two colors nearer than this are one: clay in light and in shade, one pen pressed hard and lightly. Ours."""
_BELONGS = 0.15
_LEAST_SHARE = 2e-4
"""Share of the surface that counts as a color of it: 0.25 cm2 of a seat with its table, a ring of 8 mm. Ours."""
_MOST = 12


@dataclass(frozen=True)
class FoundColor:
    """One color of a surface."""

    color: tuple[int, int, int]  # its middle
    name: str  # what a person would call it, beside the first
    share: float  # of the surface, 0 to 1

    @property
    def hex(self) -> str:
        """As "#rrggbb"."""
        return hex_name(self.color)


def find_colors(samples: ColorSamples, *, least_share: float = _LEAST_SHARE) -> tuple[FoundColor, ...]:
    """Return the colors that a surface has, that of most of it first, the others by their share.

    A color is a peak of the count of area over CIELAB, lightness counting half; what mixes two colors, as a mark's edge
    does, and what shade makes of one has no peak of its own. Empty where there are no samples.
    """
    if not len(samples.colors):
        return ()
    labs = lab_of(samples.colors)
    place = labs * np.array([0.5, 1.0, 1.0]) / 100.0 / _BIN
    low = np.floor(place.min(axis=0)).astype(np.int64) - 3
    size = np.ceil(place.max(axis=0)).astype(np.int64) + 4 - low
    bins = tuple(np.floor(place).astype(np.int64).T - low[:, None])
    count = np.zeros(tuple(size))
    np.add.at(count, bins, samples.areas)
    count = ndimage.gaussian_filter(count / count.sum(), _SPREAD, mode="constant")
    is_peak = (count == ndimage.maximum_filter(count, size=5, mode="constant")) & (count > 1e-6)
    peaks = np.argwhere(is_peak)
    peaks = peaks[np.argsort(-count[is_peak], kind="stable")]
    middles = (peaks + low + 0.5) * _BIN * 100.0 / np.array([0.5, 1.0, 1.0])
    return _told(_apart(middles), labs, samples, least_share)


def _apart(middles: Float) -> Float:
    """Return the colors without those too like a stronger one, (k, 3)."""
    kept: list[Float] = []
    for middle in middles:
        if all(color_difference(middle[None], other)[0] >= _APART for other in kept):
            kept.append(middle)
        if len(kept) == 4 * _MOST:
            break
    return np.array(kept)


def _told(middles: Float, labs: Float, samples: ColorSamples, least_share: float) -> tuple[FoundColor, ...]:
    away = np.stack([color_difference(labs, middle) for middle in middles], axis=1)
    nearest, whole = away.argmin(axis=1), float(samples.areas.sum())
    found = []
    for number in range(len(middles)):
        is_its = (nearest == number) & (away[:, number] <= _BELONGS)
        share = float(samples.areas[is_its].sum()) / whole
        core = is_its & (away[:, number] <= 2.0 * _BIN)
        if share < least_share or not core.any():
            continue
        mean = np.average(samples.colors[core].astype(np.float64), axis=0, weights=samples.areas[core])
        color = (round(float(mean[0])), round(float(mean[1])), round(float(mean[2])))
        found.append(FoundColor(color, color_name(color), share))
    if not found:
        return ()
    clay, *others = sorted(found, key=lambda each: -each.share)[:_MOST]
    return (clay, *(replace(each, name=color_name(each.color, clay.color)) for each in others))
