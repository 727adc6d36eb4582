"""Short captions in a picture of pixels: capital letters, digits and a few signs, five pixels by seven each."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Bool

_ROWS, _COLUMNS = 7, 5
# Each row of a letter from the top, its pixels as the bits of a number, the leftmost 16.
_LETTERS: dict[str, tuple[int, ...]] = {
    " ": (0, 0, 0, 0, 0, 0, 0),
    "+": (0, 4, 4, 31, 4, 4, 0),
    "-": (0, 0, 0, 31, 0, 0, 0),
    ".": (0, 0, 0, 0, 0, 12, 12),
    ",": (0, 0, 0, 0, 12, 4, 8),
    ":": (0, 12, 12, 0, 12, 12, 0),
    "0": (14, 17, 19, 21, 25, 17, 14),
    "1": (4, 12, 4, 4, 4, 4, 14),
    "2": (14, 17, 1, 2, 4, 8, 31),
    "3": (31, 2, 4, 2, 1, 17, 14),
    "4": (2, 6, 10, 18, 31, 2, 2),
    "5": (31, 16, 30, 1, 1, 17, 14),
    "6": (6, 8, 16, 30, 17, 17, 14),
    "7": (31, 1, 2, 4, 8, 8, 8),
    "8": (14, 17, 17, 14, 17, 17, 14),
    "9": (14, 17, 17, 15, 1, 2, 12),
    "A": (14, 17, 17, 31, 17, 17, 17),
    "B": (30, 17, 17, 30, 17, 17, 30),
    "C": (14, 17, 16, 16, 16, 17, 14),
    "D": (28, 18, 17, 17, 17, 18, 28),
    "E": (31, 16, 16, 30, 16, 16, 31),
    "F": (31, 16, 16, 30, 16, 16, 16),
    "G": (14, 17, 16, 23, 17, 17, 15),
    "H": (17, 17, 17, 31, 17, 17, 17),
    "I": (14, 4, 4, 4, 4, 4, 14),
    "J": (7, 2, 2, 2, 2, 18, 12),
    "K": (17, 18, 20, 24, 20, 18, 17),
    "L": (16, 16, 16, 16, 16, 16, 31),
    "M": (17, 27, 21, 21, 17, 17, 17),
    "N": (17, 17, 25, 21, 19, 17, 17),
    "O": (14, 17, 17, 17, 17, 17, 14),
    "P": (30, 17, 17, 30, 16, 16, 16),
    "Q": (14, 17, 17, 17, 21, 18, 13),
    "R": (30, 17, 17, 30, 20, 18, 17),
    "S": (15, 16, 16, 14, 1, 1, 30),
    "T": (31, 4, 4, 4, 4, 4, 4),
    "U": (17, 17, 17, 17, 17, 17, 14),
    "V": (17, 17, 17, 17, 17, 10, 4),
    "W": (17, 17, 17, 21, 21, 21, 10),
    "X": (17, 17, 10, 4, 10, 17, 17),
    "Y": (17, 17, 10, 4, 4, 4, 4),
    "Z": (31, 1, 2, 4, 8, 16, 31),
}


def text_pixels(text: str, size: int = 2) -> Bool:
    """Return which pixels a line of text inks, (7 * size, (6 * letters - 1) * size); small letters come as capitals."""
    bits = np.array([_LETTERS[each] for each in text.upper()], dtype=np.int64).reshape(-1, _ROWS)
    ink = (bits[:, :, None] >> np.arange(_COLUMNS - 1, -1, -1)) & 1 == 1
    line = np.concatenate([np.pad(each, ((0, 0), (0, 1))) for each in ink], axis=1)[:, :-1]
    return np.asarray(np.kron(line, np.ones((size, size), dtype=bool)))


def stamp(image: NDArray[np.uint8], text: str, middle: tuple[float, float], size: int = 2) -> None:
    """Write a line of text into a picture, (h, w, 3), dark with a light rim, about a pixel (x, y).

    It is moved to stay within the picture; what is still too long is cut off.
    """
    ink = np.pad(text_pixels(text, size), size)
    height, width = ink.shape
    left = int(np.clip(middle[0] - 0.5 * width, 0, max(image.shape[1] - width, 0)))
    top = int(np.clip(middle[1] - 0.5 * height, 0, max(image.shape[0] - height, 0)))
    where = image[top : top + height, left : left + width]
    ink = ink[: where.shape[0], : where.shape[1]]
    where[~ink] = np.round(0.3 * where[~ink] + 0.7 * 255.0)
    where[ink] = 0
