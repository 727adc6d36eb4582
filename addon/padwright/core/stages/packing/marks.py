"""What stands below a picture: the scale bar, and what its colors say."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.mesh import Float
from ...base.scales import round_step
from .shading import linear
from .strokes import drawn, label

_INK = "#45474C"
_HIGH = 0.0125
"""Of a digit, as a share of the picture's width: read at a third of its size."""

_PEN = 0.13  # of a digit's height
_LONG = 0.12  # of the picture's width, at the least, is the bar


def with_scale_bar(picture: Float, pixels_a_mm: float, left: float, line: float) -> Float:
    """Return the picture, (h, w, 3) linear light, and a bar of a round length from `left` on along a line, pixels."""
    height, width, _ = picture.shape
    length = round_step(_LONG * width / pixels_a_mm, 1)
    size = _HIGH * width
    right, tick = left + length * pixels_a_mm, 0.4 * size
    bar = np.array([[(left, line), (right, line)], *([(x, line - tick), (x, line + tick)] for x in (left, right))])
    text, _ = label(f"{length:g} mm", size)
    text = text * [1.0, -1.0] + [right + size, line + 0.5 * size]
    ink = np.maximum(drawn(bar, _PEN * size, width, height), drawn(text, _PEN * size, width, height))
    return _over(picture, ink, _INK)


def with_key(picture: Float, key: Sequence[tuple[str, str]], right: float, line: float) -> Float:
    """Return the picture, (h, w, 3) linear light, with dots of colors and their words that end at `right` on a line."""
    height, width, _ = picture.shape
    size = _HIGH * width
    for color, words in reversed(key):
        text, wide = label(words, size)
        at = right - wide
        text = text * [1.0, -1.0] + [at, line + 0.5 * size]
        dot = np.array([[(at - 1.1 * size, line), (at - 1.1 * size, line)]])
        picture = _over(picture, drawn(text, _PEN * size, width, height), _INK)
        picture = _over(picture, drawn(dot, 1.1 * size, width, height), color)
        right = at - 3.0 * size
    return picture


def _over(picture: Float, share: Float, color: str) -> Float:
    """Lay a color over the picture, by its share of each pixel."""
    found, part = picture.copy(), share > 0.0
    found[part] += share[part][:, None] * (linear(color) - found[part])
    return found
