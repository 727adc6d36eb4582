"""What a reading of the impression tells the person, in words."""

from __future__ import annotations

from ...base.notes import to_act_on, to_look_at
from ...base.text import counted, direction_words
from ...base.units import MM_PER_UNIT
from .impression_reading import ImpressionReading
from .press import TELL_OFF_DEG

_SAME_SPACING_MM = 5.0
"""Two ways to measure a spacing agree when they differ by less than this. An imprint in clay shifts by 2 to 3 mm with
the angle of the trunk alone (Chen 2021, doi 10.1038/s41598-021-99232-w), and a hand measurement is no better (common
practice, no source)."""


def notes_on(reading: ImpressionReading) -> tuple[str, ...]:
    """Return the notes a person should read with the numbers, most important first."""
    notes = [*_spacing(reading), *_centers(reading), *_thickness(reading), *_sides(reading)]
    press = _press(reading)
    notes = [*press, *notes] if reading.press.off_deg is not None else [*notes, *press]
    return tuple(notes)


def _spacing(reading: ImpressionReading) -> list[str]:
    measured, spacing, plus_minus = reading.measured_spacing_mm, reading.spacing_mm, reading.spacing_plus_minus_mm
    if measured is None:
        return []
    if spacing is None or plus_minus is None:
        return [
            to_look_at(
                f"You measured a spacing of {measured:.1f} mm, but the clay shows "
                f"{counted(len(reading.load_centers), 'load center')}: there is nothing to compare it with."
            )
        ]
    difference = spacing - measured
    found = f"The load centers lie {spacing:.1f} +/- {plus_minus:.1f} mm apart; measured by hand {measured:.1f} mm"
    if abs(difference) <= max(_SAME_SPACING_MM, plus_minus):
        return [f"{found}. They agree within what posture and hand can tell ({difference:+.1f} mm)."]
    for unit, mm in MM_PER_UNIT.items():
        if mm != 1.0 and abs(spacing - measured * mm) <= max(_SAME_SPACING_MM, plus_minus):
            return [
                to_act_on(
                    f"{found}. It looks typed in {unit}: write load_center_spacing_mm = {measured * mm:.4g}, with "
                    "which they agree."
                )
            ]
    more = "wider" if difference > 0 else "narrower"
    return [
        to_act_on(
            f"{found}: the clay's are {abs(difference):.1f} mm {more}. Which point of a bone is taken (inner edge, "
            "lowest point, outer edge), how far the body leaned, a wrong scale or other load centers than the ones "
            "measured can do that. Measure again, or look at where the load centers were found."
        )
    ]


def _centers(reading: ImpressionReading) -> list[str]:
    if not reading.is_contact.any():
        return [
            to_act_on(
                "No place was pressed deep enough to be called contact: "
                "the imprint is shallower than the least depth asked."
            )
        ]
    if not reading.load_centers:
        return [
            to_look_at("No load center stands out: the clay left is even, or slopes to the edge of the contact patch.")
        ]
    loose = [k + 1 for k, center in enumerate(reading.load_centers) if center.plus_minus_mm > 5.0]
    if not loose:
        return []
    return [to_look_at(f"Load center {', '.join(map(str, loose))}: in a shallow hollow, known to no better than 5 mm.")]


def _thickness(reading: ImpressionReading) -> list[str]:
    before = reading.undisturbed
    if before.basis == "measured":
        off = before.rim_mm - before.typical_mm
        if abs(off) <= 0.2 * before.typical_mm:  # squeezed-up clay and a hand-laid slab explain that much
            return []
        return [
            to_act_on(
                f"You say the clay was laid {before.typical_mm:.1f} mm thick, but its rim is {before.rim_mm:.1f} mm: "
                "check that number, all imprint depths move with it."
            )
        ]
    notes: list[str] = [
        to_look_at(
            "How thick the clay was laid is assumed from its rim: "
            f"{before.typical_mm:.1f} +/- {before.plus_minus_mm:.1f} mm. Clay squeezed up beside the body "
            "makes that too large rather than too small; all imprint depths move with it. The clay left, the load "
            "centers and their spacing do not. Measured it? Give impression.clay_thickness_mm."
        )
    ]
    if before.rim_share < 0.05:
        notes.append(
            to_look_at(
                f"Only {100 * before.rim_share:.0f} % of the clay looks untouched: "
                "the imprint depths are little more than a guess."
            )
        )
    return notes


def _press(reading: ImpressionReading) -> list[str]:
    off = reading.press.off_deg
    if off is not None and off >= TELL_OFF_DEG:
        return [
            to_act_on(
                f"The press direction given is {off:.0f} degrees off the way the clay's body side faces: every "
                "thickness and the load are taken along it. If the body did not lean so, check its axes."
            )
        ]
    if reading.press.basis != "auto":
        return []
    vector = reading.press.vector if reading.press.vector is not None else (0.0, 0.0, 0.0)
    return [
        to_look_at(
            f"The press direction was found from the clay's side: {direction_words(vector)} "
            f"+/- {reading.press.plus_minus_deg:.0f} degrees in the base scan's axes."
        )
    ]


def _sides(reading: ImpressionReading) -> list[str]:
    sides = reading.left_right
    if sides is None:
        return []
    if abs(sides.mean_mm) < 0.1:
        return [
            f"Left and right of the base's mid-plane the imprint is equally deep on average; place by place the two "
            f"sides differ by {sides.rms_mm:.1f} mm as a rule."
        ]
    deeper = "deeper" if sides.mean_mm > 0 else "shallower"
    text = (
        f"Across the base's mid-plane the imprint is {abs(sides.mean_mm):.1f} mm {deeper} on the side towards "
        f"{direction_words(sides.plane.normal)}; place by place the sides differ by {sides.rms_mm:.1f} mm as a rule."
    )
    return [text]
