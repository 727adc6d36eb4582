"""Keys of a job that changed nothing in this part, or that lead out of what the tool knows: known after its stages."""

from __future__ import annotations

from collections.abc import Iterator

from ..base.notes import Note, on_change, to_act_on
from ..base.text import counted
from ..job.idle_keys import idle_note
from ..stages.material.fill_geometry import relative_density
from ..stages.material.lattices import lattice_of
from .parts import MadePart

_SLOW = 5.0
"""Times slower than the card prints, from which the speed is asked about: our choice."""


def odd_key_notes(part: MadePart) -> tuple[Note, ...]:
    """Return what to say of the keys that the person gave."""
    given = set(part.job.given)
    return tuple(note for key, note in _odd(part) if key in given)


def _odd(part: MadePart) -> Iterator[tuple[str, Note]]:
    yield from _centers(part)
    yield from _blend(part)
    yield from _speed(part)
    yield from _share(part)
    yield from _body(part)


def _centers(part: MadePart) -> Iterator[tuple[str, Note]]:
    job, reading = part.job, part.reading
    if job.impression is None or reading is None:
        return
    key = "impression.load_center_count"
    if not any(zone.source == "load_centers" for zone in job.zones):
        yield key, idle_note(key, 'no zone has the source "load_centers"')
        return
    card = part.family.defaults["impression", "load_center_count"].value
    count = len(reading.load_centers) + len(reading.other_load_centers)
    least, most = job.impression.load_center_count
    is_other = [least, most] != [float(each) for each in card]
    if is_other and not job.impression.load_centers and least <= count <= min(most, card[1]):
        found = counted(count, "load center was found", "load centers were found")
        yield key, idle_note(key, f"{found}, which the card's {card[0]} to {card[1]} use as well")


def _blend(part: MadePart) -> Iterator[tuple[str, Note]]:
    job, plan = part.job, part.zones
    if plan is None or len(job.zones) < 2 or job.blend.steps == 0 or job.blend.between:
        return
    if all(zone.between is None for zone in plan.zones):
        for key in ("blend.steps", "blend.width_mm"):
            yield key, idle_note(key, "no two zones of different levels meet on this pad")


def _speed(part: MadePart) -> Iterator[tuple[str, Note]]:
    limit = part.job.printer.max_speed_mm_s
    usual = min(level.max_speed_mm_s for level in part.family.levels)
    if limit is not None and limit * _SLOW <= usual:
        key = "printer.max_speed_mm_s"
        yield (
            key,
            to_act_on(
                f"{key} = {limit:g} is {usual / limit:.0f} times slower than the {usual:g} mm/s of the card, and so is "
                "the print. Check that it is in mm per second."
            ),
        )


def _share(part: MadePart) -> Iterator[tuple[str, Note]]:
    firmness = part.firmness
    if firmness is None:
        return
    key = "limits.solid_share_pct"
    for chosen in firmness.chosen.values():
        settings = chosen.settings
        if settings.fill_structure in ("solid", "none"):
            continue
        density = relative_density(
            settings.fill_structure,
            settings.solid_share_pct,
            settings.fill_cell_mm,
            settings.bead_width_mm,
            settings.layer_thickness_mm,
        )
        low, high = lattice_of(settings.fill_structure).checked
        if not low <= density <= high:
            advice = "" if firmness.has_coupons else " Press a printed block of that share to know."
            yield (
                key,
                on_change(
                    f'{key}: "{chosen.name}" gets {settings.solid_share_pct:g} % of {settings.fill_structure}; the '
                    f"stiffness law was checked from {100 * low:g} to {100 * high:g} %, so its firmness is a guess."
                    f"{advice}"
                ),
            )


def _body(part: MadePart) -> Iterator[tuple[str, Note]]:
    if part.firmness is None or part.firmness.loads:
        return
    keys = (
        "body.rigid",
        "body.flesh_thickness_mm",
        "body.scan",
        "impression.pressed_with_n",
        "impression.clay_pressure",
    )
    for key in keys:
        yield key, idle_note(key, "without a load no body is pressed on the pad")
