"""Short captions in a picture of pixels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Bool

_SIZE_PX = 15
_MARGIN_PX = 3  # of the light ground beyond the letters, and of that from the picture's edge


def text_pixels(text: str) -> Bool:
    """Return which pixels a line of text inks, (h, w), in the font that pillow brings."""
    from PIL import Image, ImageDraw, ImageFont

    font = ImageFont.load_default(_SIZE_PX)
    # Without smoothing letters run wider than the font says they do.
    room = (2 * _SIZE_PX + round(1.5 * font.getlength(text)), 3 * _SIZE_PX)
    image = Image.new("1", room)
    ImageDraw.Draw(image).text((_SIZE_PX, _SIZE_PX), text, fill=1, font=font)
    return np.array(image.crop(image.getbbox()), dtype=bool)


def stamp(image: NDArray[np.uint8], text: str, middle: tuple[float, float]) -> None:
    """Write a line of text into a picture, (h, w, 3), black on a lightened ground, about a pixel (x, y).

    It is moved to stay within the picture; what is still too long is cut off.
    """
    ink = np.pad(text_pixels(text), _MARGIN_PX)
    room = np.array(image.shape[:2]) - ink.shape
    wished = np.array(middle[::-1]) - 0.5 * np.array(ink.shape)
    top, left = (
        int(each)
        for each in np.clip(wished, np.minimum(_MARGIN_PX, np.maximum(room, 0)), np.maximum(room - _MARGIN_PX, 0))
    )
    where = image[top : top + ink.shape[0], left : left + ink.shape[1]]
    ink = ink[: where.shape[0], : where.shape[1]]
    where[~ink] = np.round(0.3 * where[~ink] + 0.7 * 255.0)
    where[ink] = 0
