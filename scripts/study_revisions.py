"""How often revisions bring a zone within one noticeable step of a wearer's hidden ideal, by `revise` and by guess.

A made-up wearer has an ideal stiffness in each of three zones, within a factor of 2.1 of the first print nine times in
ten, and wears each print on some days. What is felt of a stiffness is off by 12.8 % (standard deviation; so two that
differ by 13 % are told apart three times in four, doi 10.1080/00140130500123647), anew for each zone, day and print.
One answer in twenty is a slip. The first day of each print is an early verdict: 65 % of wearers change it after a
workday (doi 10.1186/s13047-020-00402-2), as good as an answer at random among three.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

import studying
from padwright.core.base.mesh import Float
from padwright.core.stages.trials.ideal import EARLY_SLIP, STEP, Answer, ideal_points, next_stiffness
from padwright.core.stages.trials.records import FEELS, THAN_LAST

FELT_OFF = STEP / 0.674 / np.sqrt(2.0)
"""Of one stiffness felt once: two of them differ by more than a step's three cases in four."""
SLIP, SPREAD, ZONES, PRINTS = 0.05, 0.45, 3, 4
ASKED = 0.85

Rule = Callable[[Sequence[Sequence[Answer]], Float, Float], Float]
"""From all answers by zone, what is worn and what was first worn (logarithms) to what is worn next."""


@dataclass(frozen=True)
class Wearer:
    """How one answers."""

    words: str
    days: int = 4  # a print is worn, the first of them an early verdict
    felt_off: float = FELT_OFF
    slip: float = SLIP
    coupled: float = 0.0  # share of a zone's change of stiffness that the others feel, the other way round
    compares: bool = True
    says_feels: bool = True


def revised(answers: Sequence[Sequence[Answer]], worn: Float, first: Float) -> Float:
    """Return what `revise` proposes."""
    found = ideal_points(answers, first.tolist())
    return np.array([next_stiffness(ideal, float(now)) for ideal, now in zip(found, worn, strict=True)])


def _by_last_answer(share: float) -> Rule:
    """Softer or firmer by a share after the last answer of each print."""

    def rule(answers: Sequence[Sequence[Answer]], worn: Float, _: Float) -> Float:
        return worn + np.log(1.0 + share) * np.array([_way(own[-1].feels) for own in answers])

    return rule


def _by_most(share: float) -> Rule:
    """Softer or firmer by a share where more than half of the answers on the print say so."""

    def rule(answers: Sequence[Sequence[Answer]], worn: Float, _: Float) -> Float:
        ways = [[_way(each.feels) for each in own if each.worn == now] for own, now in zip(answers, worn, strict=True)]
        most = [next((way for way in (-1, 1) if 2 * own.count(way) > len(own)), 0) for own in ways]
        return worn + np.log(1.0 + share) * np.array(most)

    return rule


def _halving(answers: Sequence[Sequence[Answer]], worn: Float, first: Float) -> Float:
    """Half as firm again, or by as much softer; each time the way turns round, half the step."""
    moved = np.zeros(len(worn))
    for zone, own in enumerate(answers):
        step, before, at = float(np.log(1.5)), 0.0, float(first[zone])
        for stiffness in dict.fromkeys(each.worn for each in own):
            way = float(np.sign(sum(_way(each.feels) for each in own if each.worn == stiffness)))
            step = step / 2.0 if way * before < 0.0 else step
            before, at = way or before, stiffness + way * step
        moved[zone] = at
    return moved


def _way(feels: str | None) -> int:
    return {"too firm": -1, "too soft": 1}.get(feels or "", 0)


RULES: dict[str, Rule] = {
    "revise": revised,
    "a level (x 1.75) by the last answer": _by_last_answer(0.75),
    "25 % by the last answer": _by_last_answer(0.25),
    "25 % by more than half of the answers": _by_most(0.25),
    "half as much again, halved at each turn": _halving,
    "never changed": lambda _, worn, __: worn,
}
PUBLISHED = Wearer("as published")
WEARERS = (
    PUBLISHED,
    replace(PUBLISHED, words="3 days a print", days=3),
    replace(PUBLISHED, words="2 days a print", days=2),
    replace(PUBLISHED, words="first day alone", days=1),
    replace(PUBLISHED, words="half as unsure again", felt_off=1.5 * FELT_OFF),
    replace(PUBLISHED, words="one answer in five a slip", slip=0.2),
    replace(PUBLISHED, words="zones feel each other (20 %)", coupled=0.2),
    replace(PUBLISHED, words="never compares", compares=False),
    replace(PUBLISHED, words="only compares", says_feels=False),
)


def worn_to_the_end(seed: int, wearer: Wearer, rule: Rule) -> Float:
    """Return how far each zone's print number `PRINTS` is off the hidden ideal, logarithm, (z,)."""
    rng = np.random.default_rng([seed, 13])
    ideal = np.clip(rng.normal(0.0, SPREAD, ZONES), -np.log(3.0), np.log(3.0))
    first = np.full(ZONES, np.log(350.0))
    ideal += first
    worn, last = first.copy(), None
    answers: list[list[Answer]] = [[] for _ in range(ZONES)]
    for _ in range(PRINTS - 1):
        for day in range(wearer.days):
            noise = rng.normal(0.0, wearer.felt_off, (2, ZONES))
            slips, at_random = rng.random((2, ZONES)), rng.integers(3, size=(2, ZONES))
            slip = EARLY_SLIP if day == 0 else wearer.slip
            now = _borne(worn, first, wearer) + noise[0] - ideal
            before = None if last is None else np.abs(_borne(last, first, wearer) + noise[1] - ideal)
            for zone in range(ZONES):
                feels = FEELS[0 if now[zone] > STEP else 2 if now[zone] < -STEP else 1]
                feels = FEELS[at_random[0, zone]] if slips[0, zone] < slip else feels
                than = None
                if before is not None and wearer.compares:
                    nearer = before[zone] - abs(now[zone])
                    than = THAN_LAST[0 if nearer > STEP else 2 if nearer < -STEP else 1]
                    than = THAN_LAST[at_random[1, zone]] if slips[1, zone] < slip else than
                answers[zone].append(
                    Answer(
                        float(worn[zone]),
                        feels if wearer.says_feels or last is None else None,
                        than,
                        None if last is None else float(last[zone]),
                        day == 0,
                    )
                )
        worn, last = rule(answers, worn, first), worn
    return np.asarray(_borne(worn, first, wearer) - ideal)


def _borne(worn: Float, first: Float, wearer: Wearer) -> Float:
    """Return what is felt of each zone: where the others got softer it bears more, and feels firmer."""
    moved = worn - first
    others = (moved.sum() - moved) / (ZONES - 1)
    return worn - wearer.coupled * others


def study(seeds: range) -> studying.Finding:
    """Wear the prints of every wearer, and compare rules."""

    def row(wearer: Wearer, name: str) -> tuple[tuple[str, ...], int, float]:
        off = np.abs(np.concatenate([worn_to_the_end(seed, wearer, RULES[name]) for seed in seeds]))
        within = int((off <= STEP + 1e-9).sum())
        told = f"{100.0 * within / len(off):.0f} %", f"{100.0 * np.expm1(np.median(off)):.0f} %"
        return (wearer.words, name, *told), within, float(np.median(off))

    found = {name: row(PUBLISHED, name) for name in RULES}
    others = [row(wearer, "revise") for wearer in WEARERS[1:]]
    within = found["revise"][1]
    guesses = {name: each[1] for name, each in found.items() if name != "revise"}
    best = max(guesses, key=lambda name: guesses[name])
    draws = ZONES * len(seeds)
    claims = (
        (
            f"{within} of {draws} zones are within a noticeable step at print {PRINTS}; {ASKED:.0%} asked",
            studying.can_be(within, draws, ASKED),
        ),
        (f'revise brings {within} there, the best rule by guess ("{best}") {guesses[best]}', within > guesses[best]),
    )
    rows = tuple(each[0] for each in (*found.values(), *others))
    return studying.Finding(("wearer", "next print by", "within a step at print 4", "off (median)"), rows, claims)


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=200, sample=12))
