"""Lines and short labels drawn into a picture with a round pen."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.mesh import Float

_ADVANCE = {"m": 0.95, ".": 0.3, " ": 0.4, "1": 0.5}
_WIDE = 0.72  # of a letter with its room, in heights of a digit
_ROUND = 10  # pieces of an arc


def _arc(x: float, y: float, across: float, up: float, start: float, end: float) -> list[tuple[float, float]]:
    angle = np.radians(np.linspace(start, end, _ROUND + 1))
    return [(x + across * float(c), y + up * float(s)) for c, s in zip(np.cos(angle), np.sin(angle), strict=True)]


_RING = _arc(0.25, 0.5, 0.25, 0.5, 0, 360)
_SIX_BOWL = _arc(0.25, 0.3, 0.25, 0.3, 0, 360)
_GLYPHS: dict[str, Sequence[Sequence[tuple[float, float]]]] = {
    "0": [_RING],
    "1": [[(0.05, 0.8), (0.25, 1.0), (0.25, 0.0)]],
    "2": [[*_arc(0.25, 0.74, 0.24, 0.26, 170, -30), (0.0, 0.0), (0.5, 0.0)]],
    "3": [[*_arc(0.24, 0.76, 0.22, 0.24, 160, -90), *_arc(0.24, 0.26, 0.26, 0.26, 90, -160)]],
    "4": [[(0.38, 0.0), (0.38, 1.0), (0.0, 0.3), (0.52, 0.3)]],
    "5": [[(0.46, 1.0), (0.08, 1.0), (0.04, 0.56), *_arc(0.24, 0.32, 0.26, 0.32, 120, -150)]],
    "6": [_SIX_BOWL, [(0.0, 0.3), (0.04, 0.56), (0.36, 1.0)]],
    "7": [[(0.0, 1.0), (0.5, 1.0), (0.16, 0.0)]],
    "8": [_arc(0.25, 0.76, 0.21, 0.24, 0, 360), _arc(0.25, 0.26, 0.26, 0.26, 0, 360)],
    "9": [_arc(0.25, 0.7, 0.25, 0.3, 0, 360), [(0.5, 0.7), (0.46, 0.44), (0.14, 0.0)]],
    ".": [[(0.05, 0.0), (0.05, 0.02)]],
    "m": [
        [(0.0, 0.0), (0.0, 0.66)],
        [*_arc(0.19, 0.44, 0.19, 0.22, 180, 0), (0.38, 0.0)],
        [*_arc(0.57, 0.44, 0.19, 0.22, 180, 0), (0.76, 0.0)],
    ],
    "k": [[(0.0, 0.0), (0.0, 1.0)], [(0.36, 0.66), (0.0, 0.26)], [(0.14, 0.4), (0.4, 0.0)]],
    "P": [[(0.0, 0.0), (0.0, 1.0), (0.22, 1.0), *_arc(0.22, 0.74, 0.26, 0.26, 90, -90), (0.0, 0.48)]],
    "a": [_arc(0.21, 0.31, 0.21, 0.33, 0, 360), [(0.42, 0.66), (0.42, 0.0)]],
    " ": [],
}  # lines of each sign, x to the right and y up, in heights of a digit


def label(text: str, height: float) -> tuple[Float, float]:
    """Return the pieces of a label, (k, 2, 2) pixels, x right and y up from its lower left, and its width.

    It may hold digits, a point, blanks and the letters of mm and kPa.
    """
    pieces: list[Float] = []
    at = 0.0
    for sign in text:
        for line in _GLYPHS[sign]:
            place = np.array(line) + np.array([at, 0.0])
            pieces.append(np.stack([place[:-1], place[1:]], axis=1))
        at += _ADVANCE.get(sign, _WIDE)
    width = at - 0.2  # the room behind the last sign
    return (np.concatenate(pieces) if pieces else np.zeros((0, 2, 2))) * height, width * height


def drawn(pieces: Float, pen: float, width: int, height: int) -> Float:
    """Return how much of each pixel a round pen covers along straight pieces, (height, width), 0 to 1.

    Pieces, (k, 2, 2), have x to the right and y down in pixels, pixel centers at .5; `pen` is the line's width.
    """
    covered = np.zeros((height, width))
    reach = 0.5 * pen + 1.0
    lows = np.clip(np.floor(pieces.min(axis=1) - reach), 0, [width, height]).astype(int).tolist()
    highs = np.clip(np.ceil(pieces.max(axis=1) + reach), 0, [width, height]).astype(int).tolist()
    across, down = np.arange(width) + 0.5, np.arange(height)[:, None] + 0.5
    for ((from_x, from_y), (to_x, to_y)), (left, top), (right, bottom) in zip(
        pieces.tolist(), lows, highs, strict=True
    ):
        x, y = across[left:right] - from_x, down[top:bottom] - from_y
        along_x, along_y = to_x - from_x, to_y - from_y
        share = (x * along_x + y * along_y) / max(along_x**2 + along_y**2, 1e-12)
        share = np.minimum(np.maximum(share, 0.0), 1.0)
        away = np.hypot(x - share * along_x, y - share * along_y)
        box = covered[top:bottom, left:right]
        np.maximum(box, 0.5 * pen + 0.5 - away, out=box)
    return np.asarray(np.minimum(covered, 1.0))
