"""A load check in the words and rows of a panel: each number with low and high, and what bottoming means."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ...base.estimate import Estimate
from ...base.text import figure
from .contact import LoadResult, ZoneLoad
from .load_case import LoadCase
from .tuning import Tuning

FAR, SOME, DOUBTFUL, OUT = "far", "some", "doubtful", "out"
"""How near a pad is to its end: far from it, some give left, perhaps past it, past it."""

_NAME_COLUMNS = 24
"""Characters of a load's name up to which all columns of a table keep within a line."""

_FAR_MARGIN = 0.5  # of its give left at the worst: our own choice


@dataclass(frozen=True)
class Row:
    """One number."""

    name: str  # with its unit where `now` has none
    now: str
    before: str = ""  # before tuning; empty where there was none


def span(each: Estimate, unit: str = "") -> str:
    """Return an estimate as "48 (41 to 55) kPa": as many digits as tell low from high, no more than two behind 1."""
    digits = 0 if abs(each.value) >= 9.5 else 1 if abs(each.value) >= 0.95 else 2
    low, value, high = (f"{number:.{digits}f}" for number in (each.low, each.value, each.high))
    said = value if low == high else f"{value} ({low} to {high})"
    return f"{said} {unit}".rstrip()


def percent(each: Estimate) -> str:
    """Return a share as "48 (41 to 55) %"; nothing left is 0, however far past that it goes."""
    low, value, high = (f"{100.0 * max(number, 0.0):.0f}" for number in (each.low, each.value, each.high))
    return f"{value} %" if low == high else f"{value} ({low} to {high}) %"


def length_words(value_mm: float) -> str:
    """Return a length with as many digits as it is known to, the unit left out: "1.1", "0.28", "under 0.01"."""
    if value_mm < 0.01:
        return "under 0.01"
    return f"{value_mm:.1f}" if value_mm >= 0.95 else f"{value_mm:.2f}"


def load_rows(result: LoadResult, case: LoadCase | None = None) -> tuple[Row, ...]:
    """Return what a load check found for the pad as a whole, and what its load pushes sideways."""
    return (
        Row("Peak", span(result.peak_pressure_kpa, "kPa")),
        Row("Mean", span(result.mean_pressure_kpa, "kPa")),
        Row("Contact", span(result.contact_area_cm2, "cm2")),
        Row("Sinks In", span(result.sinkage_mm, "mm")),
        Row("Give Left", percent(result.bottoming_margin)),
        *(() if case is None or case.sideways_n <= 0.0 else _sideways_rows(case)),
    )


def _sideways_rows(case: LoadCase) -> tuple[Row, Row]:
    return Row("Sideways", f"{case.sideways_n:.0f} N"), Row("Needs Friction", f"{case.needed_friction:.2f}")


def cases_table(loads: Sequence[tuple[LoadCase, LoadResult]]) -> tuple[str, ...]:
    """Return all loads side by side, as lines of a table; none where a load's name is too long for one."""
    if any(len(case.posture) > _NAME_COLUMNS for case, _ in loads):
        return ()
    rows: list[tuple[str, ...]] = [("load", "N", "gives mm", "peak kPa", "give left", "sideways N (friction)")]
    for case, result in loads:
        across = f"{case.sideways_n:.0f} ({case.needed_friction:.2f})" if case.sideways_n > 0.0 else "-"
        rows.append(
            (
                case.posture,
                f"{result.force_n:.0f}",
                span(result.sinkage_mm),
                span(result.peak_pressure_kpa),
                percent(result.bottoming_margin),
                across,
            )
        )
    if all(row[-1] == "-" for row in rows[1:]):
        rows = [row[:-1] for row in rows]
    return text_table(rows)


def text_table(rows: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Return rows as lines with even columns: the first to the left, the others to the right."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return tuple(
        "  ".join([row[0].ljust(widths[0]), *(c.rjust(w) for c, w in zip(row[1:], widths[1:], strict=True))])
        for row in rows
    )


def zone_rows(result: LoadResult, tuning: Tuning | None = None) -> tuple[Row, ...]:
    """Return the share of the load that each zone bears, and what it bore before tuning."""
    before = {zone.name: zone.share_before for zone in tuning.zones} if tuning is not None else {}
    rows = []
    for zone in result.zones:
        if zone.share.high > 0.0:
            was = before.get(zone.name)
            rows.append(Row(zone.name, percent(zone.share), "" if was is None else f"{100.0 * was:.0f} %"))
    return tuple(rows)


def tuning_rows(tuning: Tuning, relieved: tuple[str, ...] = ()) -> tuple[Row, ...]:
    """Return before and after tuning side by side: values alone, since both rest on the same guesses.

    The zones relieved, by name, have their share of the load told.
    """
    if tuning.before is None:
        return ()
    rows = [
        Row(name, _short(getattr(tuning.after, field).value), _short(getattr(tuning.before, field).value))
        for name, field in (("Peak kPa", "peak_pressure_kpa"), ("Sinks In mm", "sinkage_mm"), ("Peak/Mean", "evenness"))
    ]
    for zone in tuning.zones:
        if zone.name in relieved and zone.share_before is not None:
            after, before = 100.0 * zone.share_after, 100.0 * zone.share_before
            rows.append(Row(f"{zone.name} %", f"{after:.0f}", f"{before:.0f}"))
    return tuple(rows)


def tried_table(tuning: Tuning) -> tuple[str, ...]:
    """Return the pads that were tried, as lines of a table; the one taken has a mark."""
    rows: list[tuple[str, ...]] = [("tried", "peak kPa", "sinks mm", "g", "h", "")]
    for pad in tuning.tried:
        remark = (
            "taken" if pad is tuning.taken else "not felt" if not pad.is_felt
            else "" if pad.is_within else "breaks a limit"
        )  # fmt: skip
        borne = (figure(pad.peak_kpa, 1), figure(pad.sinkage_mm, 2)) if pad.borne else ("-", "-")
        rows.append((pad.name, *borne, figure(pad.mass_g), figure(pad.hours, 1), remark))
    return text_table(rows)


def _short(value: float) -> str:
    return f"{value:.{0 if abs(value) >= 9.5 else 1 if abs(value) >= 0.95 else 2}f}"


def worst_zone(result: LoadResult) -> ZoneLoad:
    """Return the zone under the load that has the least of its give left."""
    return min((zone for zone in result.zones if zone.share.value > 0.0), key=lambda z: z.bottoming_margin.value)


def bottoming(result: LoadResult, *, has_coupons: bool = False) -> tuple[str, str]:
    """Return how near the pad is to its end, one of `FAR`, `SOME`, `DOUBTFUL`, `OUT`, and what that means.

    With coupons (printed blocks were pressed already) none are advised.
    """
    margin = result.bottoming_margin
    if margin.value < 0.0:
        return OUT, (
            f'It bottoms out in "{worst_zone(result).name}": the hard base is felt. Make the pad thicker there, or the '
            "zone firmer."
        )
    if margin.low < 0.0:
        return DOUBTFUL, (
            "It may bottom out, if the material is as soft as it may be. "
            f"{'Make' if has_coupons else 'Print coupons to know, or make'} it firmer or thicker."
        )
    if margin.low < _FAR_MARGIN:
        return SOME, f"At the worst place {100.0 * margin.value:.0f} % of the give is left."
    return FAR, f"At the worst place {100.0 * margin.value:.0f} % of the give is left: plenty."
