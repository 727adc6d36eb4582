"""From the trials of a part to what is known of each zone's ideal, with what does not fit together said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from math import exp, inf, log

from .ideal import STEP, Answer, IdealPoint, ideal_points
from .records import Trial, TrialBook, ZoneAnswer

DAY_HOURS = 8.0
"""A workday: verdicts before it turn round in 65 of 100 (doi 10.1186/s13047-020-00402-2); a second day, too, settles
them, as ratings of comfort take two sessions to (doi 10.1249/MSS.0b013e3181dbacc8)."""

_MOST_TOLD = 3  # contradictions of one zone


@dataclass(frozen=True)
class WornPrint:
    """A revision that was printed, as its run left it; all by zone name."""

    revision: str
    kpa: Mapping[str, float]  # secant modulus as printed
    pressure_kpa: Mapping[str, float] = field(default_factory=dict)  # mean under the first load; empty without one
    asked_kpa: Mapping[str, float] = field(default_factory=dict)  # what it was asked for
    margin: Mapping[str, float] = field(default_factory=dict)  # share of the give that is left at the worst place


@dataclass(frozen=True, eq=False)
class Learned:
    """What the answers tell of one zone."""

    zone: str
    answers: tuple[Answer, ...]  # in the order worn
    ideal: IdealPoint
    notes: tuple[str, ...]  # contradictions

    @property
    def settled(self) -> tuple[Answer, ...]:
        """The answers after a day of wear."""
        return tuple(each for each in self.answers if not each.is_early)


def early_trials(trials: Sequence[Trial]) -> tuple[bool, ...]:
    """Say of each trial if its verdict is early: that revision was worn under a day by then, and on no day before."""
    found = []
    for trial in trials:
        same = [each for each in trials if each.revision == trial.revision and each.date <= trial.date]
        hours = sum(each.hours_worn for each in same)
        found.append(hours < DAY_HOURS and all(each.date == trial.date or not _is_worn(each) for each in same))
    return tuple(found)


def _is_worn(trial: Trial) -> bool:
    """Say if a trial tells of wear: hours, or, where nobody wrote them down, answers."""
    return trial.hours_worn > 0.0 or any(each.feels or each.than_last for each in trial.zones)


def learned(book: TrialBook, prints: Sequence[WornPrint], zones: Sequence[str]) -> list[Learned]:
    """Return what the answers tell of each zone, in the order of `zones`; each must be in the last print.

    `prints`: the revisions that were printed, oldest first. Trials of others, and zones that a print did not have, say
    nothing.
    """
    place = {each.revision: number for number, each in enumerate(prints)}
    early = early_trials(book.trials)
    order = sorted(
        range(len(book.trials)), key=lambda at: (place.get(book.trials[at].revision, -1), book.trials[at].date)
    )
    answers = [[_answer(book, at, early[at], prints, place, zone) for at in order] for zone in zones]
    own = [[each for each in found if each is not None] for found in answers]
    start = [log(next(each.kpa[zone] for each in prints if zone in each.kpa)) for zone in zones]
    points = ideal_points(own, start)
    return [
        Learned(zone, tuple(found), point, _notes(book, found, point))
        for zone, found, point in zip(zones, own, points, strict=True)
    ]


def _answer(
    book: TrialBook, number: int, is_early: bool, prints: Sequence[WornPrint], place: Mapping[str, int], zone: str
) -> Answer | None:
    trial = book.trials[number]
    said = next((each for each in trial.zones if each.zone == zone), None)
    at = place.get(trial.revision)
    if said is None or at is None or zone not in prints[at].kpa or not (said.feels or said.than_last):
        return None
    before = prints[at - 1].kpa.get(zone) if at > 0 else None
    last = None if before is None else log(before)
    return Answer(log(prints[at].kpa[zone]), said.feels, said.than_last, last, is_early, number)


def _notes(book: TrialBook, answers: Sequence[Answer], point: IdealPoint) -> tuple[str, ...]:
    notes = []
    for answer in answers:
        if answer.is_torn:
            notes.append(
                f"{told_answer(book, answer)}: both cannot be. It counts little; ask again, one zone at a time."
            )
    settled = [(each, trust) for each, trust in zip(answers, point.trust, strict=True) if not each.is_early]
    against = [(one, other) for one, other in combinations(settled, 2) if _are_against(one[0], other[0])]
    against.sort(key=lambda pair: pair[0][1] + pair[1][1])
    for one, other in against[:_MOST_TOLD]:
        notes.append(
            f"{told_answer(book, one[0])} and {told_answer(book, other[0])} contradict each other. They count for "
            f"{100.0 * one[1]:.0f} % and {100.0 * other[1]:.0f} %: the less an answer goes with the others, the less."
        )
    if len(against) > _MOST_TOLD:
        notes.append(f"{len(against) - _MOST_TOLD} more pairs of answers contradict each other.")
    return tuple(notes)


def early_note(zones: Sequence[Learned]) -> tuple[str, ...]:
    """Return what to say of verdicts that were given too early; empty where there are none."""
    early = {each.trial for zone in zones for each in zone.answers if each.is_early}
    if not early:
        return ()
    what = "trial is a first impression" if len(early) == 1 else "trials are first impressions"
    return (
        f"{len(early)} {what}, under a day of wear ({DAY_HOURS:g} h, or a second day): next to nothing is made of "
        "that, as two in three such verdicts turn round.",
    )


def _are_against(one: Answer, other: Answer) -> bool:
    """Say if two answers put the ideal two noticeable steps apart or more: more than one wearer's ideal wanders."""
    (low, high), (least, most) = _narrowed(one), _narrowed(other)
    return max(low, least) - min(high, most) >= 2.0 * STEP - 1e-9


def _narrowed(answer: Answer) -> tuple[float, float]:
    found = [] if answer.is_torn else answer.intervals()
    return max((low for low, _ in found), default=-inf), min((high for _, high in found), default=inf)


def told_answer(book: TrialBook, answer: Answer) -> str:
    """Return an answer in words, with where it stands."""
    trial: Trial = book.trials[answer.trial]
    said: list[str] = []
    if answer.feels is not None:
        said.append(f'"{answer.feels}" at {exp(answer.worn):.0f} kPa')
    if answer.than_last is not None and answer.last is not None:
        said.append(f'"{answer.than_last}" than {exp(answer.last):.0f} kPa')
    return f"{' and '.join(said)} (revision {trial.revision}, {trial.date})"


def counted_answers(answers: Sequence[ZoneAnswer | Answer]) -> str:
    """Return how often what was answered, in words: "3 of 4 too firm, 1 right"; "" where nothing was."""
    found = [each.feels for each in answers if each.feels is not None]
    ranked = sorted(dict.fromkeys(found), key=lambda word: -found.count(word))
    if not ranked:
        return ""
    first = f"{found.count(ranked[0])} of {len(found)} {ranked[0]}"
    return ", ".join([first, *(f"{found.count(word)} {word}" for word in ranked[1:])])
