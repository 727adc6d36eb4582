"""What looks wrong with how a mat lies: flipped, turned, another distance of cells, two ways that fit alike."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.errors import SolveError
from ...base.notes import Note, to_act_on, to_look_at
from ...base.text import figure
from .find_pose import FoundPose, by_pattern, size_by_spread
from .mat_pose import CellMap
from .mat_reading import MatReading
from .pressed_plan import PressedPlan

LEAST_AGREEMENT = 0.5
"""Below it a mat's pattern says nothing of where it lay; our choice."""
_SURE_AGREEMENT = 0.85
"""Patterns of chance, laid where they fit best on the imprint of a seat, agree by 0.65 to 0.80 (measured on eight); the
body's own, with 15 % of noise in each cell, by 0.98."""
_CLEARLY = 0.15  # more agreement that way: the other is taken for wrong; our choice
_ALIKE = 0.1
"""Less than that apart nobody can tell which is right: two sit bones with the thighs before them, laid on the round
imprint of the bones alone, agreed by 0.87 as they had borne and by 0.91 turned by half a turn."""
_PITCH_OFF = 0.06  # a ruler and two cells tell the distance of cells better than that; our choice
_SPACING_OFF = 0.10  # a body sits no two times the same; our choice
_BETTER_SIZE = 0.05  # more agreement with another pitch, and the stated one is doubted; our choice
_TURNS = ("", "turned by a quarter", "turned by half a turn", "turned by three quarters")


def doubts_of_places(mat: MatReading, cells: CellMap, plan: PressedPlan | None, *, flipped: bool | None) -> list[Note]:
    """Return what looks wrong with a mat that was laid by places."""
    found: list[Note] = []
    if flipped is not None and cells.is_flipped != flipped:
        say = "from below" if cells.is_flipped else "as seen from the body"
        found.append(
            to_act_on(
                f"Its three places say that the file shows the mat {say}, and the job says flipped = "
                f"{'true' if flipped else 'false'}: the places were followed. Check that no two of them are swapped."
            )
        )
    found += _pitch_doubts(mat, cells)
    if plan is None:
        return found
    here = plan.agreement(mat.pressure, cells)
    others = [
        (plan.agreement(mat.pressure, cells.turned(turns, flipped=flip, shape=mat.shape)), turns, flip)
        for flip in (False, True)
        for turns in range(4)
        if turns or flip
    ]
    best, turns, flip = max(others, key=lambda each: each[0])
    if best > here + _CLEARLY and best > LEAST_AGREEMENT:
        how = " and ".join(filter(None, ("flipped" if flip else "", _TURNS[turns])))
        found.append(
            to_act_on(
                f"The mat looks {how}: as its places lay it, it agrees with the imprint by {_of_one(here)}, {how} by "
                f"{_of_one(best)}. Check row and column of each place, and whether the file shows the mat from below "
                f"(flipped = {'false' if cells.is_flipped else 'true'})."
            )
        )
    elif here < LEAST_AGREEMENT:
        found.append(
            to_act_on(
                f"As its places lay it, the mat hardly agrees with the imprint ({_of_one(here)} of 1; nothing "
                "better was found by turning it). Check its places, or leave them out to have it laid by its outline."
            )
        )
    return found


def _of_one(value: float) -> str:
    return f"{max(value, 0.0):.2f}"


def _pitch_doubts(mat: MatReading, cells: CellMap) -> list[Note]:
    if mat.pitch_mm is None:
        return []
    if mat.foil is not None:
        times = float(np.mean([laid / stated for stated, laid in zip(mat.pitch_mm, cells.cell_mm, strict=True)]))
        return [_wrong_size(times, "its places")] if abs(times - 1.0) > _PITCH_OFF else []
    for stated, laid, words in zip(mat.pitch_mm, cells.cell_mm, ("row to row", "column to column"), strict=True):
        if abs(laid / stated - 1.0) > _PITCH_OFF:
            said = "the file states" if mat.pitch_basis == "file" else "the job says"
            return [
                to_act_on(
                    f"By its places the mat's cells lie {figure(laid, 1)} mm apart, {words}; {said} {stated:g}. A "
                    "wrong pitch, or a place in another cell: forces are worked out by the stated one."
                )
            ]
    return []


def doubts_of_pose(
    mat: MatReading, poses: Sequence[FoundPose], taken: int, plan: PressedPlan, *, by_person: bool
) -> list[Note]:
    """Return what looks wrong with a mat that was laid by what it shows; `taken` counts from 0."""
    here = poses[taken]
    found: list[Note] = []
    if here.agreement < _SURE_AGREEMENT:
        found.append(
            to_look_at(
                f"The mat agrees with the imprint by {_of_one(here.agreement)} of 1, as patterns of chance may (up to "
                "0.8): look at its picture, or give [[mat.places]]."
            )
        )
    if here.is_flipped:
        found.append(
            to_look_at(
                "The file shows the mat from below (mirrored): laid so it agrees with the imprint clearly better. If "
                "that is wrong, write flipped = false."
            )
        )
    others = [
        (number, each)
        for number, each in enumerate(poses, 1)
        if number != taken + 1 and each.is_flipped == here.is_flipped and each.agreement > here.agreement - _ALIKE
    ]
    if others and not by_person:
        number, other = max(others, key=lambda each: each[1].agreement)
        off = (other.cells.turn_deg - here.cells.turn_deg) % 360.0
        found.append(
            to_act_on(
                f"The mat also fits turned by {min(off, 360.0 - off):.0f} degrees (pose {number}: agrees by "
                f"{_of_one(other.agreement)}, the one taken by {_of_one(here.agreement)}). Look at its picture; to "
                f"take the other, set mat.pose to {number}."
            )
        )
    if here.spacing_ratio is not None:
        if mat.pitch_mm is not None and abs(here.spacing_ratio - 1.0) > _SPACING_OFF:
            found.append(_wrong_pitch(mat, here.spacing_ratio, "where it bears hardest"))
        return found
    if mat.pitch_mm is None:
        return found
    size = size_by_spread(mat.pressure, mat.pitch_mm, plan)
    if abs(size - 1.0) > _SPACING_OFF:
        pitch = (size * mat.pitch_mm[0], size * mat.pitch_mm[1])
        fits = by_pattern(mat.pressure, pitch, plan, (here.is_flipped,))
        if fits and fits[0].agreement > here.agreement + _BETTER_SIZE:
            found.append(_wrong_pitch(mat, size, "its outline"))
    return found


def _wrong_pitch(mat: MatReading, size: float, by: str) -> Note:
    assert mat.pitch_mm is not None
    if mat.foil is not None:
        return _wrong_size(size, by)
    down, across = mat.pitch_mm
    fits = f"{figure(size * down, 1)}" if down == across else f"{figure(size * down, 1)} and {figure(size * across, 1)}"
    return to_act_on(
        f"Its cells are said to be {down:g}{'' if down == across else f' and {across:g}'} mm apart; by {by} {fits} mm "
        "would fit the imprint. A wrong pitch, or the body lay otherwise on the mat than on the clay."
    )


def _wrong_size(times: float, by: str) -> Note:
    return to_act_on(
        f"By {by} the picture is {100.0 * times:.0f} % as large as its resolution or its sheet says. A wrong dpi or "
        "sheet_mm, a place read off wrongly, or the body lay otherwise on the foil than on the clay."
    )


def refuse_unlike(best: float) -> None:
    """Refuse a mat that fits the imprint nowhere.

    Raises SolveError with how well it fits at best.
    """
    if best < LEAST_AGREEMENT:
        raise SolveError(
            f"What the mat shows fits nowhere on the imprint: at best they agree by {_of_one(best)} of 1, and "
            f"{LEAST_AGREEMENT:g} is the least.",
            hint="Give two or three [[mat.places]]: cells, and where they lay. Is it the same body on the same part?",
        )
