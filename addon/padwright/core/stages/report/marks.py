"""What is drawn over a picture: rings around places, names, how long something is. Lines and letters stay sharp."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float
from .page import escape
from .plan_view import PlanView

_DRAWN_FOR = 800  # units of a picture's width in which sizes are given: letters stay legible where a phone halves it
_LETTER, _RING, _FOOT = 26, 12, 48
_WIDE = 0.7
"""A sign's width beside its height: bold figures are narrower, few letters wider (common practice, no source)."""
_LONGEST_BAR = 0.3  # of the picture's width
_ROUND_MM = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)


@dataclass(frozen=True, eq=False)
class PlaceMark:
    """A place in a picture."""

    place: Float  # (3,), mm
    words: str  # a sign or two: the caption says what it is
    is_ringed: bool = True


def marked_picture(
    png: bytes, view: PlanView, words: str, marks: Sequence[PlaceMark] = (), *, is_mirrored: bool = False
) -> str:
    """Return a picture with its marks and a scale bar as HTML.

    Parameters
    ----------
    png : bytes
        Of the view's width and height.
    words : str
        Tell the picture to who does not see it.
    is_mirrored : bool
        Left and right change sides: the part is made for the other side.
    """
    data = base64.b64encode(png).decode("ascii")
    unit = _DRAWN_FOR / view.width
    tall = unit * view.height
    flip = f' transform="matrix(-1 0 0 1 {_DRAWN_FOR} 0)"' if is_mirrored else ""
    rows = [
        f'<svg viewBox="0 0 {_DRAWN_FOR} {tall + _FOOT:.0f}" role="img" aria-label="{escape(words)}">',
        f'<image href="data:image/png;base64,{data}" width="{_DRAWN_FOR}" height="{tall:g}"{flip}/>',
    ]
    for mark in marks:
        x, y = unit * view.on_picture(np.asarray(mark.place)[None])[0]
        rows += _mark(_DRAWN_FOR - x if is_mirrored else x, y, mark)
    rows += [*_bar(unit * view.scale, tall), "</svg>"]
    return "".join(rows)


def _mark(x: float, y: float, mark: PlaceMark) -> list[str]:
    at = f'cx="{x:.1f}" cy="{y:.1f}" r="{_RING}" fill="none"'
    ring = [f'<circle {at} stroke="#fff" stroke-width="5"/>', f'<circle {at} stroke="#1a2340" stroke-width="2"/>']
    place = f'x="{x:.1f}" y="{y + 9:.1f}" text-anchor="middle"'
    if mark.is_ringed:
        aside = _RING + 6
        # What would reach beyond the picture's right edge is cut off there, so it stands to the left of its ring.
        is_left = x + aside + _WIDE * _LETTER * len(mark.words) > _DRAWN_FOR
        place = f'x="{x - aside if is_left else x + aside:.1f}" y="{y + 9:.1f}"'
        place += ' text-anchor="end"' if is_left else ""
    style = (
        f'font-size="{_LETTER}" font-weight="600" paint-order="stroke" stroke="#fff" stroke-width="4" fill="#1a2340"'
    )
    words = f'<text {place} {style} stroke-linejoin="round">{escape(mark.words)}</text>' if mark.words else ""
    return [*(ring if mark.is_ringed else []), words]


def _bar(scale: float, tall: float) -> list[str]:
    """Return a round length; `scale`: units a mm."""
    fitting = [each for each in _ROUND_MM if each * scale <= _LONGEST_BAR * _DRAWN_FOR]
    length = fitting[-1] if fitting else _ROUND_MM[0]
    left, line = 0.03 * _DRAWN_FOR, tall + 18.0
    right = left + length * scale
    ends = f"M{left:.1f} {line - 5:.1f}v10M{right:.1f} {line - 5:.1f}v10"
    return [
        f'<path d="M{left:.1f} {line:.1f}H{right:.1f}{ends}" stroke="#1a2340" stroke-width="2" fill="none"/>',
        f'<text x="{right + 11:.1f}" y="{line + 9:.1f}" font-size="{_LETTER}" fill="#1a2340">{length} mm</text>',
    ]
