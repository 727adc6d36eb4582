"""What pressing the body into virtual clay tells the person, in words."""

from __future__ import annotations

import numpy as np

from ...base.notes import Note, to_act_on, to_look_at
from ...base.text import direction_words, figure
from ...job.cards import Family
from ...job.schema import Job
from .body_scan import LANDMARK_MM, MISS_MM, LaidBody, tilt_reach_mm
from .flesh import Flesh
from .pressed import PressedClay

_TILT_DEG = 5.0
"""From here on a turn of the body is told: small turns are taken as such (our choice)."""

_MOST_TILT_DEG = 15.0
_OPEN_TILT_DEG = 2.0
"""What landmarks leave open is looked at from here on: 2 mm over 60 mm, as far as low and high of flesh move an imprint
(our choice)."""

_OPEN_SHARE = 0.05  # of the contact's outline; less is a hole or two


def notes_on(clay: PressedClay, laid: LaidBody, job: Job, family: Family, flesh: Flesh | None) -> tuple[Note, ...]:
    """Return the notes, most important first."""
    notes = [
        *_edges(clay),
        *_tilt(clay),
        *_landmarks(laid),
        *_scanned(job, clay, flesh),
        *_flesh(job, clay, family, flesh),
    ]
    notes += [*_rests_on(clay, laid), *_direction(clay)]
    return tuple(notes)


def _edges(clay: PressedClay) -> list[Note]:
    notes = []
    if clay.end_share > _OPEN_SHARE:
        notes.append(
            to_act_on(
                f"Along {100.0 * clay.end_share:.0f} % of the contact's outline the scan of the body ends: more of it "
                "may bear there than was scanned. Scan it further round."
            )
        )
    if clay.rim_share > _OPEN_SHARE:
        notes.append(
            to_look_at(
                f"Along {100.0 * clay.rim_share:.0f} % of its outline the contact ends where the clay does: past it "
                "the base ends, or is steeper than 45 degrees and holds none. There the part carries it on its edge."
            )
        )
    return notes


def _tilt(clay: PressedClay) -> list[Note]:
    tilt = clay.found.tilt_deg
    if tilt < _TILT_DEG:
        return []
    more = " That is too much for small turns: see that the landmarks and load.point go together." * (
        tilt > _MOST_TILT_DEG
    )
    return [
        to_act_on(
            f"The body turned by {tilt:.1f} degrees until the load at load.point was balanced: the pad will be a "
            f"wedge under it. Lay the body as it is to sit, or move the point.{more}"
        )
    ]


def _landmarks(laid: LaidBody) -> list[Note]:
    if not laid.is_by_landmarks:
        return []
    worst = int(np.argmax(laid.misses_mm))
    off = float(laid.misses_mm[worst])
    told = f'The body was laid by {len(laid.names)} landmarks; the worst, "{laid.names[worst]}", is {off:.1f} mm off.'
    return [to_look_at(f"{told} The imprint may lie as far off.") if off > MISS_MM else Note(told)]


def _scanned(job: Job, clay: PressedClay, flesh: Flesh | None) -> list[Note]:
    """Say what was taken of how loaded the body was while it was scanned."""
    share = job.body.scan_load_share
    if flesh is None:
        return [to_look_at("The body was pressed as hard as stone (body.rigid): its flesh would flatten.")]
    squeezed = figure(clay.found.flesh_squeezed_mm, 1)
    if share is None:
        return [
            to_look_at(
                "The scan of the body is taken to show it hanging free, and its flesh was squeezed by "
                f"{squeezed} mm on average. If it stood or sat while it was scanned it was flattened already: say so "
                "by body.scan_load_share (1: all of the load, 0.5: half of it)."
            )
        ]
    if share == 0.0:
        return []
    return [
        to_look_at(
            f"The body was scanned under {100.0 * share:.0f} % of its load, taken as spread evenly over the contact; "
            f"its flesh was squeezed by another {squeezed} mm on average. Where it really bore then is not known."
        )
    ]


def _flesh(job: Job, clay: PressedClay, family: Family, flesh: Flesh | None) -> list[Note]:
    if flesh is None:
        return []
    by = f"low and high of it change the imprint's shape by {figure(clay.flesh_shape_mm, 1)} mm (root mean square)"
    if job.body.flesh_thickness_mm is not None:
        return [Note(f"How stiff flesh is comes from the card of the family ({family.flesh.place}): {by}.")]
    low, _, high = family.flesh.thickness_mm
    return [
        to_look_at(
            f"The flesh is guessed: {flesh.thickness_mm:g} mm ({low:g} to {high:g}), the card's for "
            f"{family.flesh.place}, the same all over; {by}. Bones near the skin stand out more than that. Know its "
            "thickness? Give body.flesh_thickness_mm."
        )
    ]


def _rests_on(clay: PressedClay, laid: LaidBody) -> list[Note]:
    """Say what holds the body's tilt: that is no result where it came down straight."""
    if clay.has_point:
        return [Note(f"The body turned by {clay.found.tilt_deg:.1f} degrees until the load acted at load.point.")]
    straight = (
        "No load.point is given, so the body came down straight, as it was laid; the load acts in the middle of the "
        "clay's pressure."
    )
    if not laid.is_by_landmarks:
        return [to_look_at(f"{straight} How it is tilted rests on how it was laid by eye, or how its scan lay.")]
    count = len(laid.names)
    slope = LANDMARK_MM / tilt_reach_mm(laid.marks, clay.press)
    tilt = np.degrees(np.arctan(slope))
    told = (
        f"{straight} How it is tilted rests on its {count} landmarks: each known to {MISS_MM:g} mm, they leave "
        f"{tilt:.1f} degrees open, {50.0 * slope:.0f} mm over 5 cm, about the axis that they hold least."
    )
    if count == 3:
        told += " Three fit at any tilt, so a wrong one does not stand out: give a fourth, or load.point."
    return [to_look_at(told) if tilt > _OPEN_TILT_DEG else Note(told)]


def _direction(clay: PressedClay) -> list[Note]:
    if clay.press_basis != "auto":
        return []
    return [
        to_look_at(
            f"The press direction was found from the base alone: {direction_words(clay.press)} +/- "
            f"{clay.press_plus_minus_deg:.0f} degrees in the part's axes. If the body bears another way, give "
            "body.press_direction."
        )
    ]
