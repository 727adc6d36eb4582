"""Walls that end under the roof without reaching it, in a stack of layers."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ...base.progress import Progress, Steps
from ...geometry.bit_rasters import Bits, at, cropped, grown
from .layer_stack import LayerStack
from .undersides import HELD_PIXELS
from .worst_places import WorstPlace


@dataclass(frozen=True)
class LooseTops:
    """Ends of walls in the void, roof above them."""

    count: int  # those that matter
    longest_mm: WorstPlace | None  # of all of them, how far the end runs


class FloorFinder:
    """Which solid is floor, layer by layer from the bed up: it goes on down to the outside, no thicker than a skin."""

    def __init__(self, stack: LayerStack, skin_mm: float) -> None:
        self._layers = 1 + math.ceil(1.3 * skin_mm / stack.layer_mm)  # a skin may lean
        self._recent: list[Bits] = []
        self.standing: list[Bits] = []  # (n,) pictures; the solid that is no floor

    def look(self, now: Bits, seen_below: Bits) -> None:
        """Take the next layer; `seen_below` has the pixels with solid in any layer below."""
        rests = now & ~seen_below
        if self._recent:
            rests |= now & self._recent[-1]
        is_thick = self._recent[0] if len(self._recent) == self._layers else np.zeros_like(now)
        self.standing.append(now & ~(rests & ~is_thick))
        self._recent = [*self._recent, rests][-self._layers :]


def loose_tops(stack: LayerStack, standing: list[Bits], *, least_mm: float, bead_mm: float) -> Steps[LooseTops]:
    """Return where walls end under the roof.

    From the roof down, solid is attached where it goes on up to the outside, or lies within about a bead of attached
    solid in the layer above. An end matters where it runs farther than `least_mm`, or where a whole island ends on
    more than a bead. Solid that is floor, `standing` leaves out, needs no roof.
    """
    attached, above, roof = (np.zeros_like(stack.bits[0]) for _ in range(3))
    loose_above = np.zeros_like(attached)
    matters, longest = 0, (0.0, 0.0, 0.0, 0.0)
    for layer in range(stack.count - 1, -1, -1):
        now = stack.bits[layer]
        roof = now & (roof | ~above)
        attached = roof | (now & grown(attached, HELD_PIXELS))
        loose = standing[layer] & ~attached
        if loose.any():
            for length, area, is_island, x, y in _ends(stack, loose, now, grown(loose_above, HELD_PIXELS)):
                matters += length > least_mm or (is_island and area > bead_mm**2)
                longest = max(longest, (length, x, y, stack.middle_mm(layer)))
        loose_above = loose
        above = above | now
        if layer % 20 == 0:
            yield Progress(1.0 - layer / stack.count, f"Looking for loose walls: layer {layer + 1}")
    length, x, y, z = longest
    worst = WorstPlace(length, (x, y, z), 1 + int(z / stack.layer_mm), z) if length else None
    return LooseTops(int(matters), worst)


def _ends(stack: LayerStack, loose: Bits, now: Bits, known: Bits) -> list[tuple[float, float, bool, float, float]]:
    """Return length, area, if it is a whole island, and place of the ends that no loose piece above reports."""
    first_row, first_column, picture = cropped(loose)
    label, count = ndimage.label(picture, np.ones((3, 3), dtype=bool))
    row, column = np.nonzero(picture)
    piece = label[row, column]
    row, column = row + first_row, column + first_column
    is_known, is_joined = np.zeros(count + 1, dtype=bool), np.zeros(count + 1, dtype=bool)
    is_known[piece[at(known, row, column)]] = True
    is_joined[piece[at(grown(now & ~loose, 2), row, column)]] = True
    pixel, found = stack.grid.pixel_mm, []
    for number in 1 + np.flatnonzero(~is_known[1:]):
        y, x = row[piece == number], column[piece == number]
        length = pixel * math.hypot(np.ptp(y) + 1, np.ptp(x) + 1)
        place = stack.grid.place(float(y.mean()), float(x.mean()))
        found.append((length, len(y) * pixel**2, not is_joined[number], *place))
    return found
