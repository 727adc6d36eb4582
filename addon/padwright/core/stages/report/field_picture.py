"""Values over a part as a picture seen from straight above: in bands of color, with a key that has their numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Bool, Float, Int
from ...base.ramps import hex_color, ramp_colors
from ...base.scales import in_words, round_step
from ...geometry.raster import png_bytes
from .page import escape
from .plan_view import SeenMesh

GROUND = np.array([0.985, 0.978, 0.955], dtype=np.float32)
"""Behind the part: the paper of the page, a little deeper."""

PLAIN = np.array([0.80, 0.79, 0.75])
"""Where there is no value."""

_EDGE = np.array([0.10, 0.14, 0.25], dtype=np.float32)
_BANDS = 14  # at most
_LEAST_SPAN = 0.1  # of the value: finer differences are no picture


@dataclass(frozen=True)
class Scale:
    """Bands of color between two ends."""

    low: float
    high: float
    step: float  # of a band
    ramp: str  # name in `base.ramps.RAMPS`
    unit: str
    is_open: bool = True  # what lies beyond the ends has the color of the end

    @classmethod
    def over(cls, low: float, high: float, unit: str, *, ramp: str = "one_way") -> Scale:
        """Return a scale of round bands that holds both ends; of values all alike, a few around them."""
        step = round_step(max(high - low, _LEAST_SPAN * abs(high), 1e-6), _BANDS)
        first, last = np.floor(low / step + 1e-6) * step, np.ceil(high / step - 1e-6) * step
        return cls(float(first), float(max(last, first + step)), step, ramp, unit)

    @property
    def bands(self) -> Float:
        """The middle of each band, (k,), ascending."""
        count = max(1, round((self.high - self.low) / self.step))
        return self.low + (np.arange(count) + 0.5) * self.step

    @property
    def colors(self) -> Float:
        """The color of each band, (k, 3) sRGB."""
        count = len(self.bands)
        return ramp_colors(np.linspace(0.0, 1.0, count) if count > 1 else np.array([0.5]), self.ramp)

    def color_of(self, values: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return the color of each value, (n, 3) sRGB."""
        count = len(self.bands)
        band = np.clip(np.floor((values - self.low) / self.step), 0, count - 1).astype(np.int64)
        return self.colors.astype(np.float32)[band]


def value_png(seen: SeenMesh, values: Float, scale: Scale, is_known: Bool | None = None) -> bytes:
    """Return a picture of a mesh colored by values at its vertices, (n,).

    `is_known`, (n,): where there is a value; a face without one at each of its corners is plain.
    """
    at = seen.at_pixels(np.nan_to_num(np.asarray(values, dtype=np.float64)))
    color = scale.color_of(at)
    if is_known is not None:
        color = np.where(
            np.asarray(is_known)[seen.mesh.faces].all(axis=1)[seen.face][:, None], color, PLAIN.astype(np.float32)
        )
    return _painted(seen, color)


def marked_png(seen: SeenMesh, face_colors: Float, label: Int | None = None) -> bytes:
    """Return a picture of a mesh with a color for each of its faces, (m, 3) sRGB.

    `label`, (m,): a thin line runs where it changes.
    """
    border = None
    if label is not None:
        border = np.full(seen.is_hit.shape, -1, dtype=np.int64)
        border[seen.is_hit] = label[seen.face]
    return _painted(seen, face_colors.astype(np.float32)[seen.face], border)


def _painted(seen: SeenMesh, color: NDArray[np.float32], border: NDArray[np.int64] | None = None) -> bytes:
    hit = seen.is_hit
    image = np.broadcast_to(GROUND, (*hit.shape, 3)).astype(np.float32)
    image[hit] = color * seen.light[:, None]
    line = _changes(hit.astype(np.int64))
    image[line] = 0.45 * image[line] + 0.55 * _EDGE
    if border is not None:
        inner = _changes(border) & hit
        image[inner] = 0.35 * image[inner] + 0.65 * _EDGE
    return png_bytes(np.round(255.0 * np.clip(image, 0.0, 1.0)).astype(np.uint8))


def _changes(label: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return the pixels whose label is not that of the one to the right or below, and those beside them."""
    found = np.zeros(label.shape, dtype=bool)
    across, down = label[:, 1:] != label[:, :-1], label[1:] != label[:-1]
    found[:, :-1] |= across
    found[:, 1:] |= across
    found[:-1] |= down
    found[1:] |= down
    return found


def scale_key(scale: Scale, title: str, plain: str = "") -> str:
    """Return the key of a scale as HTML: its bands with their numbers, and what is plain, in words."""
    bands, count = scale.colors, len(scale.bands)
    rows = "".join(
        f'<rect x="{number}" y="0" width="1.02" height="1" fill="{hex_color(tuple(color))}"/>'
        for number, color in enumerate(bands)
    )
    bar = f'<svg class="bar" viewBox="0 0 {count} 1" preserveAspectRatio="none" aria-hidden="true">{rows}</svg>'
    every = next(each for each in (1, 2, 4, 5, 10, 20) if count / each <= 7)
    marks = ""
    for number in range(0, count + 1, every):
        words = in_words(scale.low + number * scale.step, every * scale.step)
        marks += f'<span style="left:{100.0 * number / count:.2f}%">{escape(words)}</span>'
    said = f"{title}, {scale.unit}" if scale.unit else title
    rest = swatches([(hex_color(tuple(PLAIN)), plain)]) if plain else ""
    return f'<div class="key"><div>{escape(said)}</div>{bar}<div class="ticks">{marks}</div>{rest}</div>\n'


def swatches(rows: Sequence[tuple[str, str]]) -> str:
    """Return patches of color, "#rrggbb", with their words as HTML."""
    found = "".join(
        f'<span><svg viewBox="0 0 1 1" aria-hidden="true"><rect width="1" height="1" fill="{color}"/></svg>'
        f"{escape(words)}</span>"
        for color, words in rows
    )
    return f'<div class="swatches">{found}</div>\n'
