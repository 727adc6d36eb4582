"""The next revision, zone by zone: first what the answers ask for, then what pain, print and load make of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, inf, log

from ...base.estimate import Estimate
from .ideal import LEAST_CHANGE, NOTICED_SHARE, next_stiffness
from .learning import Learned, WornPrint, counted_answers
from .pain import Pain
from .records import ZoneChange

_LIKELY = 0.7
"""From which chance to be within a noticeable step a zone is said to be right (ours)."""
_TOLD_SHIFT = 0.05
"""Share by which the pressure of a zone must change to be told (ours)."""
_NEAR_SHUT = 0.3
"""Share of the give that is left at a zone's worst place, below which it is nearly pressed shut (ours)."""


@dataclass(frozen=True)
class Reach:
    """What stiffness a zone may be asked for, kPa."""

    low_kpa: float = 0.0
    high_kpa: float = inf


def asked_changes(
    zones: Sequence[Learned], now: WornPrint, pain: Pain, reach: Mapping[str, Reach]
) -> tuple[ZoneChange, ...]:
    """Return what the answers ask for in each zone; pain holds back what it forbids."""
    return tuple(_asked(each, now, pain, reach.get(each.zone, Reach())) for each in zones)


def _asked(zone: Learned, now: WornPrint, pain: Pain, reach: Reach) -> ZoneChange:
    worn = log(now.kpa[zone.zone])
    ends = (log(reach.low_kpa) if reach.low_kpa > 0.0 else -inf, log(reach.high_kpa) if reach.high_kpa < inf else inf)
    wished = next_stiffness(zone.ideal, worn, *ends)
    notes = list(zone.notes)
    is_sore = wished > worn and not pain.may_get_firmer(zone.zone)
    if is_sore:
        sore = "it hurts there" if zone.zone in pain.zones else "nobody said where it hurts"
        notes.append(f"Held: the answers ask for firmer, but {sore}.")
        if now.margin.get(zone.zone, 1.0) < _NEAR_SHUT:
            notes.append(
                f"At its worst place {100.0 * now.margin[zone.zone]:.0f} % of its give is left: you may feel the hard "
                "base through it. More thickness there helps, firmness does not."
            )
        wished = worn
    if pain.is_severe:
        wished = worn
    low, middle, high = (exp(zone.ideal.quantile(share) - worn) for share in (0.05, 0.5, 0.95))
    times = round(exp(wished - worn), 3)
    change = ZoneChange(
        zone=zone.zone,
        times=times,
        now_kpa=now.kpa[zone.zone],
        next_kpa=now.kpa[zone.zone] * times,
        ideal=Estimate(middle, low, high, "measured", "times as stiff as this print, from the wearer's answers"),
        chance_now=float(zone.ideal.chance(worn)),
        why="",
        watch=_watch(times),
        notes=tuple(notes),
    )
    return replace(change, why=_why(zone, change, is_held=is_sore or pain.is_severe))


def _why(zone: Learned, change: ZoneChange, *, is_held: bool) -> str:
    settled = zone.settled
    last = [each for each in settled if each.worn == settled[-1].worn]
    told = counted_answers(last)
    if not zone.answers:
        return "Nothing was answered, so it stays."
    if not settled:
        return "Only first impressions so far, so it stays: answer again after a day of wear."
    where = f"{change.ideal.value:.2f} ({change.ideal.low:.2f} to {change.ideal.high:.2f}) times as stiff"
    said = f"On this print: {told}. " if told else ""
    if change.is_changed:
        return f"{said}Your ideal is likely {where}."
    if is_held:
        return f"{said}Your ideal is likely {where}, but it stays because of the pain."
    if change.chance_now >= _LIKELY:
        return f"{said}It is right as far as can be felt: your ideal is likely {where}."
    apart = abs(log(change.ideal.value))
    if apart < LEAST_CHANGE:
        return (
            f"{said}Your ideal is likely {where}, so nothing says which way to go. It is not sure that this is right: "
            "more days of notes make the brackets narrower."
        )
    return f"{said}Your ideal is likely {where}; that is not sure enough for a change, so it stays."


def _watch(times: float) -> str:
    if times == 1.0:
        return ""
    if times < 1.0:
        return "Whether you now feel the hard base through it, and whether the zones beside it press more."
    return "Pain, numbness or tingling there, or skin red for half an hour: then stop, and go back to the print before."


def within_print(
    changes: Sequence[ZoneChange], reached_kpa: Mapping[str, float], binding: Mapping[str, str | None]
) -> tuple[ZoneChange, ...]:
    """Return the changes with what filament and fill let of them; what is left too small to be felt is dropped.

    Parameters
    ----------
    reached_kpa, binding
        By zone, of a part made with the changes: the modulus as printed, and the limit that it stands at.
    """
    return tuple(_within(each, reached_kpa, binding) for each in changes)


def _within(change: ZoneChange, reached: Mapping[str, float], binding: Mapping[str, str | None]) -> ZoneChange:
    if not change.is_changed or binding.get(change.zone) is None:
        return change
    got = reached[change.zone]
    way = "softer" if change.times < 1.0 else "firmer"
    moved = log(got / change.now_kpa)
    if moved * log(change.times) <= 0.0 or abs(moved) < LEAST_CHANGE:
        share = abs(100.0 * (got / change.now_kpa - 1.0))
        why = (
            f"asked for was {change.next_kpa:.0f} kPa; filament and fill come to {got:.0f} kPa, {share:.0f} % "
            f"off this print, less than can be felt. Take a {way} filament, or change the pad's thickness there."
        )
        return held(change, why)
    note = f"Asked for was {change.next_kpa:.0f} kPa; filament and fill come to {got:.0f} kPa, and no {way}."
    return replace(change, times=round(got / change.now_kpa, 3), next_kpa=got, notes=(*change.notes, note))


def halved(changes: Sequence[ZoneChange], why: str) -> tuple[ZoneChange, ...]:
    """Return changes half as large, by the logarithm, of a pad that cannot be made; what gets too small is held.

    `why` is what refused it, in words.
    """
    found = []
    for change in changes:
        times = round(change.times**0.5, 3)
        if not change.is_changed:
            found.append(change)
        elif abs(log(times)) < LEAST_CHANGE:
            found.append(held(change, f"the pad could not be made so: {why}"))
        else:
            note = f"Asked for was {change.next_kpa:.0f} kPa, but the pad could not be made so; this goes half the way."
            found.append(
                replace(change, times=times, next_kpa=change.now_kpa * times, notes=(*change.notes, f"{note} {why}"))
            )
    return tuple(found)


def held(change: ZoneChange, why: str) -> ZoneChange:
    """Return a zone as it is, with what held it back; one that does not change stays without a word."""
    if not change.is_changed:
        return change
    return replace(change, times=1.0, next_kpa=change.now_kpa, watch="", notes=(*change.notes, f"Held: {why}"))


def pressing(
    changes: Sequence[ZoneChange], before: Mapping[str, float], after: Mapping[str, float], pain: Pain
) -> tuple[tuple[ZoneChange, ...], tuple[str, ...], tuple[str, ...]]:
    """Return the changes with what the load check says of them, notes on zones beside, and those that would hurt.

    `before` and `after` are mean pressures by zone, kPa, on this print and the next. Named last are zones where it
    hurts and that would bear more.
    """
    told: list[ZoneChange] = []
    notes: list[str] = []
    hurt: list[str] = []
    faint: list[str] = []
    for change in changes:
        old, new = before.get(change.zone), after.get(change.zone)
        if old is None or new is None or old <= 0.0:
            told.append(change)
            continue
        shift = new / old - 1.0
        words = f"{old:.1f} to {new:.1f} kPa, {100.0 * shift:+.1f} %"
        if change.is_changed and abs(shift) < NOTICED_SHARE:
            faint.append(f'"{change.zone}" {words}')
        elif not change.is_changed and abs(shift) >= _TOLD_SHIFT:
            more = "takes load that moves there from" if shift > 0.0 else "gives load to"
            notes.append(f'"{change.zone}" stays as it is and {more} the zones that change: {words}.')
        if shift >= _TOLD_SHIFT and change.zone in pain.zones:
            hurt.append(change.zone)
        told.append(replace(change, pressure_now_kpa=old, pressure_next_kpa=new))
    if faint:
        notes.append(
            f"By the load check the pressure on changed zones moves less than the {100 * NOTICED_SHARE:.0f} % that a "
            f"body tells: {'; '.join(faint)}. If the next print feels the same, change shape or filament instead."
        )
    return tuple(told), tuple(notes), tuple(hurt)


def held_for_pain(changes: Sequence[ZoneChange], hurt: Sequence[str]) -> tuple[ZoneChange, ...]:
    """Return the changes without those that would put more load where it hurts: the softer zones beside it stay."""
    named = ", ".join(f'"{each}"' for each in hurt)
    return tuple(
        held(each, f"softer here would put more load on {named}, where it hurts.")
        if each.times < 1.0 and each.zone not in hurt
        else each
        for each in changes
    )


def next_name(revision: str, known: Sequence[str]) -> str:
    """Return what the next revision is called: a number goes up by one, anything else gets one behind it."""
    head = revision.rstrip("0123456789")
    number = int(revision[len(head) :] or 1)
    taken = set(known)
    return next(
        name for name in (f"{head if head != revision else revision + '-'}{number + more}" for more in range(1, 10_000))
        if name not in taken
    )  # fmt: skip


def total_answers(zones: Sequence[Learned]) -> int:
    """Return how many answers, after a day of wear, were used."""
    return sum(len(each.settled) for each in zones)
