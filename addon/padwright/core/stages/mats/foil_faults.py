"""What is wrong with the picture of a foil: too dark or too light, uneven light, a border, a slant, keys of a table."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Bool, Float
from ...base.notes import Note, on_change, to_act_on, to_look_at
from ...job.mat_table import PICTURE_ENDINGS, Mat
from ..scans.pictures import FlatPicture
from .foil_scale import FoilFacts
from .sheet import SeenSheet, rim_lightness

_LEAST_RANGE = 8.0
"""Steps of lightness from bare paper to the darkest cell; with less it is the paper's own shade that is looked at. As
for a foil on the scanned clay; ours."""
_AT_END, _MOST_AT_END = 0.97, 0.06
"""A foil that goes on darkening has few places as dark as its darkest: of a heap of pressure like a bell, of all that
is above a twentieth of its top, ln(1 / 0.97) / ln(20) = 1 % lies above 0.97 of it. Six times that is a
flat top; ours."""
_LEAST_PRESSED = 0.05  # of the darkest: what counts as pressed there
_WHITE, _MOST_WHITE = 254, 0.2  # of 255, and share of the sheet's pixels: ours
_LEAST_PAPER = 60.0  # white paper has 90 and more: ours
_MOST_UNEVEN = 6.0  # steps of lightness between the sheet's corners: ours
_RIM_OFF = 3.0  # steps between the picture's rim and the paper: ours
_MOST_SKEW = 0.015  # 3 mm of a sheet 210 mm wide: ours
_OF_TABLES = ("zero", "pitch_mm", "offset_mm", "no_sensor", "saturated_at", "grid", "frame")


def refuse_even(name: str, darkest: float) -> None:
    """Refuse a picture that is about as light everywhere.

    Raises InputError with by how much it differs.
    """
    if darkest < _LEAST_RANGE:
        raise InputError(
            f'"{name}": from its paper to its darkest place the foil differs by {darkest:.1f} of 100 in lightness; the '
            f"least that is read is {_LEAST_RANGE:g}.",
            hint="Is it the pressed side? Scan it with more contrast, press harder, or take a foil for less pressure. "
            "If light is what bears, write dark_bears = false.",
        )


def foil_notes(
    name: str,
    picture: FlatPicture,
    lightness: Float,
    is_on: Bool,
    pressed: Float,
    facts: FoilFacts,
    asked: Mat,
    sheet: SeenSheet | None,
    small: Float,
) -> tuple[tuple[str, ...], tuple[tuple[int, int], ...]]:
    """Return what to say of a foil's picture, and the cells, row and column, where the foil was at its end.

    Parameters
    ----------
    lightness, is_on, pressed : (rows, columns)
        Of each cell, whether it lies on the sheet, and how much darker than bare paper it is.
    small : (h, w) float
        The lightness of the whole picture, made small.
    """
    notes: list[str] = []
    is_pressed = pressed > _LEAST_PRESSED * pressed.max()
    is_full = pressed >= _AT_END * pressed.max()
    share = float(is_full.sum() / is_pressed.sum())
    full: tuple[tuple[int, int], ...] = ()
    if share > _MOST_AT_END:
        full = tuple((int(row), int(column)) for row, column in np.argwhere(is_full))
        notes.append(
            to_act_on(
                f"{100.0 * share:.0f} % of what is pressed is as dark as the darkest: there the foil, or the scan, was "
                "at its end, and the body bore harder than can be told. Take a foil for more pressure, or scan it "
                "lighter; below that it holds."
            )
        )
    white = float((picture.pixels.min(axis=2) >= _WHITE).mean())
    if white > _MOST_WHITE and asked.dark_bears:
        notes.append(
            to_look_at(
                f"{100.0 * white:.0f} % of the picture is pure white: what bore least may be washed out. If faint "
                "marks are missing, scan it darker, without automatic contrast."
            )
        )
    if facts.paper < _LEAST_PAPER and asked.dark_bears:
        notes.append(
            to_look_at(
                f"The bare paper has a lightness of {facts.paper:.0f} of 100 (white paper: 90 and more): the picture "
                "is too dark, or the foil bears everywhere."
            )
        )
    notes += _uneven(lightness, is_on)
    if sheet is not None and asked.sheet_mm is None:
        notes += _of_sheet(sheet, is_on)
    elif asked.sheet_mm is None:
        notes += _border(small, facts, asked)
    idle = [name for name in _OF_TABLES if getattr(asked, name) != getattr(Mat(), name)]
    if idle:
        notes.append(on_change(f"Of a picture {', '.join(idle)} {'change' if idle[1:] else 'changes'} nothing."))
    notes += _said_of_scale(facts)
    if not name.lower().endswith(PICTURE_ENDINGS):
        notes.append(to_look_at(f'"{name}" is a picture, whatever its name ends in; it was read as one.'))
    return tuple(notes), full


def _said_of_scale(facts: FoilFacts) -> Iterator[Note]:
    if facts.scale.doubt:
        yield to_look_at(
            f"How large the picture is is not known: {facts.scale.doubt}. Give dpi (what the scanner was set to) or, "
            "of a photo, sheet_mm."
        )


def _uneven(lightness: Float, is_on: Bool) -> Iterator[Note]:
    """Say where the sheet's corners differ: light from one side."""
    row, column = np.nonzero(is_on)
    if not len(row):
        return
    found = []
    for low in (True, False):
        for left in (True, False):
            up = row <= np.percentile(row, 15.0) if low else row >= np.percentile(row, 85.0)
            side = column <= np.percentile(column, 15.0) if left else column >= np.percentile(column, 85.0)
            if (up & side).any():
                found.append(float(np.percentile(lightness[row[up & side], column[up & side]], 90.0)))
    if len(found) == 4 and max(found) - min(found) > _MOST_UNEVEN:
        yield to_look_at(
            f"The sheet's four corners differ by {max(found) - min(found):.0f} of 100 in lightness: light from one "
            "side, or marks in a corner. Scan it, or light it evenly; else its darker side seems to bear more."
        )


def _of_sheet(sheet: SeenSheet, is_on: Bool) -> Iterator[Note]:
    yield Note(f"A sheet was found on {100.0 * is_on.mean():.0f} % of the picture; what lies around it does not count.")
    if sheet.skew > _MOST_SKEW:
        yield to_act_on(
            f"Sides of the sheet that face each other differ by {100.0 * sheet.skew:.1f} %: a photo at a slant. Write "
            "sheet_mm, its width and height, and it is laid out straight; or scan it."
        )


def _border(small: Float, facts: FoilFacts, asked: Mat) -> Iterator[Note]:
    """Say where a rim is something else than the paper, and no sheet with four corners was found in it."""
    rim = rim_lightness(small)
    off = float(np.median(rim)) - facts.paper
    if off > _RIM_OFF:
        yield to_look_at(
            f"The picture's rim is {off:.0f} of 100 lighter than the paper: the lid beside the sheet. Crop the "
            "picture to the sheet."
        )
    is_dark = (facts.paper - rim > max(_RIM_OFF, facts.noise)) == asked.dark_bears
    if off < -_RIM_OFF or is_dark.mean() > 0.25:
        yield to_act_on(
            f"{100.0 * is_dark.mean():.0f} % of the picture's rim is darker than the paper, so it seems to bear there: "
            "a table around the sheet, or a border? Crop the picture to the sheet, or write sheet_mm and sheet_corners."
        )
