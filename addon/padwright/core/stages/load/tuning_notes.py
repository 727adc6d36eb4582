"""What tuning says to the person: what was traded, which limit binds, what cannot be had and what would help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float
from ...base.notes import on_change, to_act_on
from ...base.text import figure
from .contact import LoadResult
from .load_case import LoadCase
from .pressure_lines import JUST_NOTICEABLE
from .tuning_goal import Goal, PairLimits, TunedZone

SLACK = 0.03
"""A limit within 3 % counts as kept: settings are rounded, which moves a modulus by up to 2 %."""

PAIR_SLACK = 0.04
"""The same for the logarithm of the ratio of two moduli, both rounded."""

LEVEL_SLACK = 0.1
"""The same in firmness levels: with the usual cards 0.04 is 0.07 of a level."""

RIGID = "Tuned under a rigid body: flesh spreads pressure, so the zones will differ less than these numbers say."
UNCHANGED = "What was asked for holds with the zones' levels as they are, and so does every limit: nothing was changed."
UNFELT = (
    "No change worth printing: whatever was tried is hardly better, or moves no pressure by the "
    f"{100 * JUST_NOTICEABLE:.0f} % that a body can tell. The zones' levels stay as they are."
)


@dataclass(frozen=True, eq=False)
class Outcome:
    """A pad under the loads that are served, and what must hold."""

    cases: Sequence[LoadCase]
    before: Sequence[LoadResult] | None
    after: Sequence[LoadResult]
    tuned: tuple[TunedZone, ...]
    over: Sequence[Mapping[str, float]]  # of each load: by how much each limit is exceeded
    pairs: PairLimits
    apart: tuple[Float, Float]  # by how much neighbors lie too far apart, as a logarithm and as a share of the step
    goal: Goal
    reach: tuple[Float, Float]  # logarithms of the softest and the firmest modulus of each zone

    def worst(self, limit: str) -> int:
        """Return under which load a limit is exceeded most."""
        return max(range(len(self.after)), key=lambda number: self.over[number].get(limit, 0.0))

    def exceeds(self, limit: str) -> float:
        """Return by how much a limit is exceeded under the load that exceeds it most."""
        return self.over[self.worst(limit)].get(limit, 0.0)

    def under(self, number: int) -> str:
        """Return which load that is, in words to put before a sentence; nothing where there is one."""
        return f'Under "{self.cases[number].posture}": ' if len(self.cases) > 1 else ""


def beside(outcome: Outcome) -> tuple[str, ...]:
    """Return which zones to relieve, or with a most pressure, the body does not touch."""
    asked = {number: "relieve" for number in outcome.goal.relieve}
    asked.update({number: "hold down" for number, _ in outcome.goal.caps if number not in asked})
    return tuple(
        on_change(f"{outcome.tuned[number].name} does not lie under the body: there is nothing to {what}.")
        for number, what in asked.items()
        if outcome.tuned[number].share_even <= 0.0
    )


def _ends(outcome: Outcome) -> tuple[list[str], list[str]]:
    low, high = outcome.reach
    tuned = outcome.tuned
    reached = np.log([zone.after_kpa for zone in tuned])
    soft = [z.name for z, at, end, top in zip(tuned, reached, low, high, strict=True) if at < end + SLACK < top]
    firm = [z.name for z, at, end, top in zip(tuned, reached, high, low, strict=True) if at > end - SLACK > top]
    return soft, firm


def binding_limits(outcome: Outcome) -> tuple[str, ...]:
    """Return the limits that the result lies on: what keeps it from being better."""
    found = []
    goal, tuned, pairs = outcome.goal, outcome.tuned, outcome.pairs
    if max(each.sinkage_mm.value for each in outcome.after) > goal.sinkage_limit_mm * (1.0 - SLACK):
        found.append(f"sinkage limit {goal.sinkage_limit_mm:g} mm")
    if min(each.bottoming_margin.value for each in outcome.after) < goal.least_bottoming_margin + SLACK:
        found.append(f"least bottoming margin {goal.least_bottoming_margin:g}")
    ratio, step = outcome.apart
    for place, (first, second) in enumerate(pairs.pairs):
        pair = f"{tuned[first].name} and {tuned[second].name}"
        is_ratio = ratio[place] > -PAIR_SLACK
        if not is_ratio and step[place] * pairs.step[place] <= -LEVEL_SLACK:
            continue
        if pairs.is_own[place]:
            found.append(f"the step between the levels chosen for {pair}")
        elif is_ratio:
            found.append(f"greatest modulus ratio {goal.greatest_modulus_ratio:g} between {pair}")
        else:
            found.append(f"level step limit {goal.level_step_limit:g} between {pair}")
    for number in goal.relieve:
        zone = tuned[number]
        share = max(each.zones[number].share.value for each in outcome.after)
        if zone.share_even > 0.0 and share > goal.relief_share * zone.share_even * (1.0 - SLACK):
            found.append(f"relief share {goal.relief_share:g} of {zone.name}")
    for number, most in goal.caps:
        high = max(each.zones[number].peak_pressure_kpa.high for each in outcome.after)
        if high > most * (1.0 - 2.0 * SLACK):  # the search leaves as much as one to spare
            found.append(f"most pressure {most:g} kPa under {tuned[number].name}")
    soft, firm = _ends(outcome)
    found += [f"{name} is as soft as it can be printed" for name in soft]
    found += [f"{name} is as firm as it can be printed" for name in firm]
    return tuple(found)


def unmet(outcome: Outcome) -> tuple[str, ...]:
    """Return which limit is broken by how much, and what would have to change."""
    soft, firm = _ends(outcome)
    goal, said = outcome.goal, []
    if outcome.exceeds("sinkage") > SLACK:
        at = outcome.worst("sinkage")
        wider = "a wider relief share or " if goal.relieve else ""
        help_ = "a firmer filament or a denser fill" if firm else f"{wider}a greater level step"
        said.append(
            f"{outcome.under(at)}The body sinks {outcome.after[at].sinkage_mm.value:.2f} mm, "
            f"{100 * outcome.exceeds('sinkage'):.0f} % more than the limit of {goal.sinkage_limit_mm:g} mm. What would "
            f"have to change: {help_}, a thinner pad, or the limit."
        )
    if outcome.exceeds("margin") > SLACK:
        at = outcome.worst("margin")
        said.append(
            f"{outcome.under(at)}The least bottoming margin is {outcome.after[at].bottoming_margin.value:.2f}, not "
            f"{goal.least_bottoming_margin:g}. What would have to change: a firmer filament, a denser fill, or a "
            "thicker pad where it is thinnest."
        )
    said += _too_far_apart(outcome)
    for number, most in goal.caps:
        if outcome.exceeds(f"cap {number}") > 0.0:
            said.append(_over_cap(outcome, number, most, soft))
    for number in goal.relieve:
        said += _not_relieved(outcome, number, soft)
    return tuple(to_act_on(text) for text in said)


def _too_far_apart(outcome: Outcome) -> list[str]:
    ratio, step = outcome.apart
    broken = [
        place
        for place in range(len(ratio))
        if ratio[place] > PAIR_SLACK or step[place] * outcome.pairs.step[place] > LEVEL_SLACK
    ]
    if not broken:
        return []
    place = max(broken, key=lambda each: ratio[each])
    one, two = (outcome.tuned[number] for number in outcome.pairs.pairs[place])
    times = max(one.after_kpa / two.after_kpa, two.after_kpa / one.after_kpa)
    return [
        f"{one.name} and {two.name} differ by {times:.2f} times in modulus, more than the limits allow. What would "
        "have to change: settings that reach further for the smaller of the two, blend steps, or the limit."
    ]


def _over_cap(outcome: Outcome, number: int, most: float, soft: Sequence[str]) -> str:
    zone, at = outcome.tuned[number], outcome.worst(f"cap {number}")
    peak = outcome.after[at].zones[number].peak_pressure_kpa
    help_ = (
        "a softer filament or a sparser fill there"
        if zone.name in soft
        else "a greater level step or modulus ratio between neighbors, other limits that are looser"
    )
    even = "" if peak.value <= most else "even "
    over = outcome.exceeds(f"cap {number}")
    more = f"{100 * over:.0f} % more than" if over < 1.0 else f"{figure(1.0 + over)} times"
    return (
        f"{outcome.under(at)}{zone.name} may bear up to {figure(peak.high)} kPa, {more} the {most:g} kPa asked "
        f"({figure(peak.value)} kPa {even}as expected). What would have to change: {help_}, a thicker pad there, an "
        "opening or a channel, or printed coupons that narrow what is not known."
    )


def _not_relieved(outcome: Outcome, number: int, soft: Sequence[str]) -> list[str]:
    zone, goal = outcome.tuned[number], outcome.goal
    if outcome.exceeds(f"relief {number}") > SLACK:
        at = outcome.worst(f"relief {number}")
        help_ = (
            "a softer filament or a sparser fill there"
            if zone.name in soft
            else "a greater level step or modulus ratio between neighbors, or blend steps around it"
        )
        return [
            f"{outcome.under(at)}{zone.name} carries {100 * outcome.after[at].zones[number].share.value:.1f} % of the "
            f"load; asked was at most {100 * goal.relief_share * zone.share_even:.1f} % ({goal.relief_share:g} of an "
            f"even pad's {100 * zone.share_even:.1f} %). What would have to change: {help_}, an opening or a channel "
            "there."
        ]
    if outcome.exceeds(f"spared {number}") > SLACK and outcome.before is not None:
        at = outcome.worst(f"spared {number}")
        share, old = (results[at].zones[number].share.value for results in (outcome.after, outcome.before))
        return [
            f"{outcome.under(at)}{zone.name} carries {100 * share:.1f} % of the load, more than the {100 * old:.1f} % "
            "it carries with the levels as they are, because other limits change its neighbors. What would have to "
            "change: a greater level step or modulus ratio between neighbors."
        ]
    return []


def doubts(outcome: Outcome) -> tuple[str, ...]:
    """Return which limits hold for what is expected and would fail for a material as soft as it may be."""
    said, goal = [], outcome.goal
    at = max(range(len(outcome.after)), key=lambda number: outcome.after[number].sinkage_mm.high)
    sinkage, under = outcome.after[at].sinkage_mm, outcome.under(at)
    if sinkage.value <= goal.sinkage_limit_mm * (1.0 + SLACK) and goal.sinkage_limit_mm < sinkage.high:
        within = (
            "" if sinkage.value <= goal.sinkage_limit_mm else f", within the {100 * SLACK:g} % by which it may be off"
        )
        said.append(
            f"{under}The sinkage limit of {goal.sinkage_limit_mm:g} mm holds for the material expected "
            f"({sinkage.value:.2f} mm{within}); as soft as it may be, the body sinks {sinkage.high:.1f} mm."
        )
    at = min(range(len(outcome.after)), key=lambda number: outcome.after[number].bottoming_margin.low)
    margin, under = outcome.after[at].bottoming_margin, outcome.under(at)
    if margin.low < goal.least_bottoming_margin <= margin.value + SLACK:
        left = f"{margin.low:.2f} is left" if margin.low >= 0.0 else "it is pressed shut in places"
        said.append(
            f"{under}The bottoming margin of {goal.least_bottoming_margin:g} holds for the material expected "
            f"({margin.value:.2f}); as soft as it may be, {left}."
        )
    return tuple(said)


def beyond(case: LoadCase, first: LoadCase, result: LoadResult, goal: Goal) -> tuple[str, ...]:
    """Return which limit does not hold under a load that was not tuned for, in one sentence, if any is broken."""
    said = []
    sinkage, margin = result.sinkage_mm.value, result.bottoming_margin.value
    if sinkage > goal.sinkage_limit_mm * (1.0 + SLACK):
        said.append(f"the body sinks {sinkage:.2f} mm, past the limit of {goal.sinkage_limit_mm:g} mm")
    if margin < goal.least_bottoming_margin - SLACK:
        said.append(f"the least bottoming margin is {margin:.2f}, not {goal.least_bottoming_margin:g}")
    if not said:
        return ()
    return (
        to_act_on(
            f'Tuned under "{first.posture}" alone: under "{case.posture}", {result.force_n:.0f} N, '
            f'{" and ".join(said)}. To tune for it too, write target.loads = "worst".'
        ),
    )


def traded(outcome: Outcome) -> tuple[str, ...]:
    """Return what got better and what got worse against the zones' own levels."""
    said = []
    for zone in outcome.tuned:
        factor = zone.after_kpa / zone.before_kpa
        if not 0.95 < factor < 1.05:
            said.append(f"{zone.name}: {zone.before_kpa:.0f} to {zone.after_kpa:.0f} kPa")
    for number, (after, case) in enumerate(zip(outcome.after, outcome.cases, strict=True)):
        if outcome.before is None:
            continue
        before, under = outcome.before[number], f'"{case.posture}": ' if number else ""
        rows = (
            ("Peak pressure", before.peak_pressure_kpa.value, after.peak_pressure_kpa.value, "kPa", 1),
            ("Peak over mean", before.evenness.value, after.evenness.value, "", 2),
            ("Sinkage", before.sinkage_mm.value, after.sinkage_mm.value, "mm", 2),
            ("Bottoming margin", before.bottoming_margin.value, after.bottoming_margin.value, "", 2),
        )
        for name, old, new, unit, digits in rows[: 1 if number else 4]:
            if abs(new - old) > 0.02 * max(abs(old), 1e-9):
                said.append(f"{under}{name}: {old:.{digits}f} to {new:.{digits}f} {unit}".rstrip())
    for number in outcome.goal.relieve:
        zone = outcome.tuned[number]
        if zone.share_before is not None and abs(zone.share_after - zone.share_before) > 0.02 * zone.share_before:
            said.append(
                f"{zone.name} carries {100 * zone.share_before:.1f} to {100 * zone.share_after:.1f} % of the load"
            )
    return tuple(said)
