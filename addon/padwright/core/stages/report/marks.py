"""What is drawn over a picture: rings around places, names, how long something is. Lines and letters stay sharp."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float
from .page import escape
from .plan_view import PlanView

_LETTER = 21  # pixels: legible too where a phone halves the picture
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
    flip = f' transform="matrix(-1 0 0 1 {view.width} 0)"' if is_mirrored else ""
    rows = [
        f'<svg viewBox="0 0 {view.width} {view.height + 42}" role="img" aria-label="{escape(words)}">',
        f'<image href="data:image/png;base64,{data}" width="{view.width}" height="{view.height}"{flip}/>',
    ]
    for mark in marks:
        x, y = view.on_picture(np.asarray(mark.place)[None])[0]
        rows += _mark(view.width - x if is_mirrored else x, y, mark)
    rows += [*_bar(view), "</svg>"]
    return "".join(rows)


def _mark(x: float, y: float, mark: PlaceMark) -> list[str]:
    at = f'cx="{x:.1f}" cy="{y:.1f}" fill="none"'
    ring = [
        f'<circle {at} r="11" stroke="#fff" stroke-width="5"/>',
        f'<circle {at} r="11" stroke="#1a2340" stroke-width="2"/>',
    ]
    place = (
        f'x="{x + 17:.1f}" y="{y + 7:.1f}"' if mark.is_ringed else f'x="{x:.1f}" y="{y + 7:.1f}" text-anchor="middle"'
    )
    style = (
        f'font-size="{_LETTER}" font-weight="600" paint-order="stroke" stroke="#fff" stroke-width="4" fill="#1a2340"'
    )
    words = f'<text {place} {style} stroke-linejoin="round">{escape(mark.words)}</text>' if mark.words else ""
    return [*(ring if mark.is_ringed else []), words]


def _bar(view: PlanView) -> list[str]:
    fitting = [each for each in _ROUND_MM if each * view.scale <= _LONGEST_BAR * view.width]
    length = fitting[-1] if fitting else _ROUND_MM[0]
    left, line = 0.03 * view.width, view.height + 15.5
    right = left + length * view.scale
    path = f"M{left:.1f} {line - 5}V{line + 5}M{left:.1f} {line}H{right:.1f}M{right:.1f} {line - 5}V{line + 5}"
    return [
        f'<path d="{path}" stroke="#1a2340" stroke-width="2" fill="none"/>',
        f'<text x="{right + 11:.1f}" y="{line + 7}" font-size="{_LETTER}" fill="#1a2340">{length} mm</text>',
    ]
