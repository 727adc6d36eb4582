"""Short captions in a picture of pixels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..scans.pictures import text_pixels

_MARGIN_PX = 3  # of the light ground beyond the letters, and of that from the picture's edge


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
