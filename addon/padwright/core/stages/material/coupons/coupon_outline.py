"""The outline of a block to press: a square with as many notches as its number."""

from __future__ import annotations

import numpy as np

from ....base.mesh import Float

_NOTCH_WIDTH_MM, _NOTCH_DEPTH_MM, _NOTCH_PITCH_MM, _NOTCHES_A_SIDE = 3.0, 2.5, 5.0, 3
MOST_BLOCKS = 4 * _NOTCHES_A_SIDE


def notched_square(edge: float, notches: int) -> Float:
    """Return a square about the origin, (n, 2) mm counter-clockwise, with V notches: up to three a side, in turn."""
    points: list[tuple[float, float]] = []
    half = 0.5 * edge
    for side in range(4):
        count = int(np.clip(notches - side * _NOTCHES_A_SIDE, 0, _NOTCHES_A_SIDE))
        places = (np.arange(count) - 0.5 * (count - 1)) * _NOTCH_PITCH_MM
        run = [(-half, -half)]
        for place in places:
            run += [
                (place - 0.5 * _NOTCH_WIDTH_MM, -half),
                (place, -half + _NOTCH_DEPTH_MM),
                (place + 0.5 * _NOTCH_WIDTH_MM, -half),
            ]
        turn = np.round(np.array([[np.cos(side * np.pi / 2), np.sin(side * np.pi / 2)]]), 0)[0]
        points += [(x * turn[0] - y * turn[1], x * turn[1] + y * turn[0]) for x, y in run]
    return np.array(points)


def area_of(outline: Float) -> float:
    """Return the area within an outline, (n, 2) mm counter-clockwise, mm2."""
    x, y = outline.T
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def perimeter_of(outline: Float) -> float:
    """Return the length of an outline, mm."""
    return float(np.linalg.norm(outline - np.roll(outline, -1, axis=0), axis=1).sum())
