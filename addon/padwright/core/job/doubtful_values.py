"""Values that a job may have and that are hardly meant: most likely a slip of the hand or another unit."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from ..base.notes import Note, to_act_on
from .cards import Family
from .schema import Job
from .toml_lines import show_path

_WIDE_GAP, _WIDER_BY_MM = 5.0, 1.0
"""Times the card's fit gap, and mm beyond it, from which a gap is asked about: our choice."""
_SMALL_BED_MM, _INCHES = 60.0, 18.0
"""Beds that small are no bed in mm; those of printers are 10 to 50 cm, 4 to 17 inches wide (our choice)."""
_LIGHT_KG = 20.0
"""Of a body so light not even the share of the card is asked about: the cards are for no children."""
_STANDARD_G = 9.80665  # m/s2
_PROTECTIVE = re.compile(
    r"helmet|hard ?hat|body armou?r|ballistic|stab vest|life ?jacket|respirator|gas mask|"
    r"safety (?:shoe|boot|glasses|goggles)s?|work boots?",
    re.IGNORECASE,
)


def doubtful_notes(job: Job, family: Family) -> tuple[Note, ...]:
    """Return what to ask about the values that the person gave."""
    given = set(job.given)
    found = [to_act_on(text) for key, text in _doubtful(job, family) if key in given]
    gear = protective_word(job)
    if gear and job.part.certified_gear is False:
        found.append(
            to_act_on(
                f'The part is for a "{gear}", and part.certified_gear = false says that it is not certified. Look '
                "inside the gear: where a standard (EN, ASTM or another, with a number) is printed, it is certified, "
                "and nothing may be put in, taken out or changed."
            )
        )
    return tuple(found)


def protective_word(job: Job) -> str:
    """Return the word by which a part's name or note says that it is for protective gear; "" where none does."""
    found = _PROTECTIVE.search(f"{job.part.name} {job.part.note}")
    return found[0] if found else ""


def _doubtful(job: Job, family: Family) -> Iterator[tuple[str, str]]:
    usual: dict[str, Any] = {show_path(path): default.value for path, default in family.defaults.items()}
    gap, card_gap = job.pad.fit_gap_mm, float(usual["pad.fit_gap_mm"])
    if gap >= _WIDE_GAP * card_gap and gap >= card_gap + _WIDER_BY_MM:
        yield (
            "pad.fit_gap_mm",
            f"pad.fit_gap_mm = {gap:g}: the pad lies {gap:g} mm off its base all over and is that much thinner; "
            f"{card_gap:g} mm is usual for such a part. If that was meant, write pad.fit_gap_mm = {card_gap:g}.",
        )
    widest = max(job.printer.bed_mm)
    if widest < _SMALL_BED_MM:
        unit, times = ("inches", 25.4) if widest < _INCHES else ("cm", 10.0)
        row = ", ".join(f"{each * times:.4g}" for each in job.printer.bed_mm)
        yield (
            "printer.bed_mm",
            f"printer.bed_mm is in mm, and no part fits a bed of {widest:g} mm. If it is in {unit}, write "
            f"printer.bed_mm = [{row}].",
        )
    yield from _light(job, float(usual["load.share"]))


def _light(job: Job, card_share: float) -> Iterator[tuple[str, str]]:
    """Yield loads far below that of any grown body on such a part."""
    load = job.load
    if job.body.press_direction == "inward" or not card_share:
        return
    if load.force_n is not None and 0.0 < load.force_n < card_share * _LIGHT_KG * _STANDARD_G:
        yield (
            "load.force_n",
            f"load.force_n = {load.force_n:g} is in newtons, the weight of {load.force_n / _STANDARD_G:.2g} kg; a body "
            f"of 70 kg loads such a part with some {card_share * 70.0 * _STANDARD_G:.0f} N. If it is the force in kg, "
            f"write load.force_n = {load.force_n * _STANDARD_G:.0f}; if it is the body's weight, write "
            f"load.body_mass_kg = {load.force_n:g} instead.",
        )
    pressed = job.impression.pressed_with_n if job.impression is not None else None
    if pressed is not None and pressed < card_share * _LIGHT_KG * _STANDARD_G:
        yield (
            "impression.pressed_with_n",
            f"impression.pressed_with_n = {pressed:g} is in newtons, the weight of {pressed / _STANDARD_G:.2g} kg. If "
            f"it is in kg, write impression.pressed_with_n = {pressed * _STANDARD_G:.0f}.",
        )
    if load.body_mass_kg is not None and 0.0 < load.share < card_share / _LIGHT_KG:
        yield (
            "load.share",
            f"load.share = {load.share:g} puts {100.0 * load.share:.2g} % of the body's weight on the part; "
            f"{100.0 * card_share:g} % is usual. If it is a percentage, write load.share = {100.0 * load.share:g}.",
        )
