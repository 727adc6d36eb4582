"""Where text and the color bar go in a viewport, pixels: nothing lies over the sidebar, the gizmos, or other text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

Box = tuple[float, float, float, float]  # left, bottom, right, top

_MARGIN = 14.0  # all at interface scale 1
_BAR = (16.0, 190.0)
_LEAST_BAR = 60.0
_GAP = 6.0
_TRIES = 24


@dataclass(frozen=True)
class BarPlaces:
    """Where the parts of a color bar go."""

    # The plate behind all, and the colors.
    plate: Box
    bar: Box
    title: tuple[float, float]  # where the title begins; a second line for the unit is below it
    ticks_x: float  # where the text of the ticks begins


def overlap(one: Box, other: Box) -> bool:
    """Return whether two boxes share more than an edge."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def arrange(wished: Sequence[Box], free: Box, taken: Sequence[Box] = ()) -> list[Box | None]:
    """Return a place for each wished box: within what is free, beside what is taken, and near its wish.

    A box that is wished for outside of what is free, or for which there is no room near its wish, gets none.
    """
    placed: list[Box] = list(taken)
    found: list[Box | None] = []
    for box in wished:
        width, height = box[2] - box[0], box[3] - box[1]
        is_near = free[0] - width <= box[0] <= free[2] and free[1] - height <= box[1] <= free[3]
        x = min(max(box[0], free[0]), free[2] - width)
        best = None
        for number in range(_TRIES if is_near and width <= free[2] - free[0] else 0):
            up = (number + 1) // 2 * (1 if number % 2 else -1)  # on the spot, above, below, further above ...
            y = min(max(box[1], free[1]), free[3] - height) + up * (height + 1.0)
            here = (x, y, x + width, y + height)
            if y >= free[1] and y + height <= free[3] and not any(overlap(here, each) for each in placed):
                best = here
                break
        found.append(best)
        if best is not None:
            placed.append(best)
    return found


def bar_places(
    free: Box, gizmos: Box | None, scale: float, title_width: float, tick_width: float, line: float
) -> BarPlaces | None:
    """Return where a color bar goes: at the right, below the gizmos, or left of them where it is low; None: no room.

    Parameters
    ----------
    free : Box
        What no other region covers.
    gizmos : Box, optional
        The modeller's navigation buttons.
    scale : float
        Of the interface.
    title_width, tick_width : float
        Of the widest line of each.
    line : float
        Height of a line of text.
    """
    margin, gap = _MARGIN * scale, _GAP * scale
    inner = max(title_width, _BAR[0] * scale + gap + tick_width)
    width = inner + 2 * gap
    frame = 2 * line + 4 * gap + line  # title, unit, and half a line of text beyond each end of the bar
    right, bottom, top = free[2] - margin, free[1] + margin, free[3] - margin
    if gizmos is not None:
        if gizmos[1] - margin - bottom - frame >= _LEAST_BAR * scale:
            top = min(top, gizmos[1] - margin)
        else:
            right = gizmos[0] - margin
    height = min(_BAR[1] * scale, top - bottom - frame)
    left = right - width
    if height < _LEAST_BAR * scale or left < free[0] + margin:
        return None
    plate = (left, bottom, right, bottom + height + frame)
    low = bottom + gap + line / 2
    bar = (left + gap, low, left + gap + _BAR[0] * scale, low + height)
    return BarPlaces(plate, bar, (left + gap, plate[3] - gap - line), bar[2] + gap)
