"""What tuning says to the person: what was traded, which limit binds, what cannot be had and what would help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ...base.mesh import Float
from ...base.notes import on_change, to_act_on
from .contact import LoadResult
from .load_case import LoadCase
from .tuning_goal import Goal, TunedZone

SLACK = 0.03
"""A limit within 3 % counts as kept: settings are rounded, which moves a modulus by up to 2 %."""

PAIR_SLACK = 0.04
"""The same for the logarithm of the ratio of two moduli, both rounded."""

LEVEL_SLACK = 0.1
"""The same in firmness levels: with the usual cards 0.04 is 0.07 of a level."""

RIGID = "Tuned under a rigid body: flesh spreads pressure, so the zones will differ less than these numbers say."
UNCHANGED = "The relief holds with the zones' levels as they are, and so does every limit: nothing was changed."


def beside(tuned: Sequence[TunedZone], goal: Goal) -> tuple[str, ...]:
    """Return which zones to relieve the body does not touch."""
    spared = [tuned[number].name for number in goal.relieve if tuned[number].share_even <= 0.0]
    return tuple(on_change(f"{name} does not lie under the body: there is nothing to relieve.") for name in spared)


def _ends(tuned: Sequence[TunedZone], reach: tuple[Float, Float]) -> tuple[list[str], list[str]]:
    low, high = reach
    reached = np.log([zone.after_kpa for zone in tuned])
    soft = [z.name for z, at, end, top in zip(tuned, reached, low, high, strict=True) if at < end + SLACK < top]
    firm = [z.name for z, at, end, top in zip(tuned, reached, high, low, strict=True) if at > end - SLACK > top]
    return soft, firm


def binding_limits(
    after: LoadResult,
    tuned: Sequence[TunedZone],
    neighbors: Sequence[tuple[int, int]],
    goal: Goal,
    reach: tuple[Float, Float],
) -> tuple[str, ...]:
    """Return the limits that the result lies on: what keeps it from being better."""
    found = []
    if after.sinkage_mm.value > goal.sinkage_limit_mm * (1.0 - SLACK):
        found.append(f"sinkage limit {goal.sinkage_limit_mm:g} mm")
    if after.bottoming_margin.value < goal.least_bottoming_margin + SLACK:
        found.append(f"least bottoming margin {goal.least_bottoming_margin:g}")
    reached = np.log([zone.after_kpa for zone in tuned])
    levels = goal.level(reached)
    for first, second in neighbors:
        pair = f"{tuned[first].name} and {tuned[second].name}"
        if abs(reached[first] - reached[second]) > np.log(goal.greatest_modulus_ratio) - PAIR_SLACK:
            found.append(f"greatest modulus ratio {goal.greatest_modulus_ratio:g} between {pair}")
        elif abs(levels[first] - levels[second]) > goal.level_step_limit - LEVEL_SLACK:
            found.append(f"level step limit {goal.level_step_limit:g} between {pair}")
    for number in goal.relieve:
        zone = tuned[number]
        if zone.share_even > 0.0 and zone.share_after > goal.relief_share * zone.share_even * (1.0 - SLACK):
            found.append(f"relief share {goal.relief_share:g} of {zone.name}")
    soft, firm = _ends(tuned, reach)
    found += [f"{name} is as soft as it can be printed" for name in soft]
    found += [f"{name} is as firm as it can be printed" for name in firm]
    return tuple(found)


def unmet(
    over: Mapping[str, float],
    after: LoadResult,
    tuned: Sequence[TunedZone],
    neighbors: Sequence[tuple[int, int]],
    goal: Goal,
    reach: tuple[Float, Float],
) -> tuple[str, ...]:
    """Return for each limit that is broken by how much, and what would have to change."""
    soft, firm = _ends(tuned, reach)
    said = []
    if over["sinkage"] > SLACK:
        help_ = "a firmer filament or a denser fill" if firm else "a wider relief share or a greater level step"
        said.append(
            to_act_on(
                f"The body sinks {after.sinkage_mm.value:.2f} mm, {100 * over['sinkage']:.0f} % more than the limit of "
                f"{goal.sinkage_limit_mm:g} mm. What would have to change: {help_}, a thinner pad, or the limit."
            )
        )
    if over["margin"] > SLACK:
        said.append(
            to_act_on(
                f"The least bottoming margin is {after.bottoming_margin.value:.2f}, not "
                f"{goal.least_bottoming_margin:g}. What would have to change: a firmer filament, a denser fill, or a "
                "thicker pad where it is thinnest."
            )
        )
    worst = max(
        neighbors, key=lambda pair: abs(np.log(tuned[pair[0]].after_kpa / tuned[pair[1]].after_kpa)), default=None
    )
    if worst and (over["ratio"] > PAIR_SLACK or over["step"] * goal.level_step_limit > LEVEL_SLACK):
        one, two = tuned[worst[0]], tuned[worst[1]]
        ratio = max(one.after_kpa / two.after_kpa, two.after_kpa / one.after_kpa)
        said.append(
            to_act_on(
                f"{one.name} and {two.name} differ by {ratio:.2f} times in modulus, more than the limits allow. What "
                "would have to change: settings that reach further for the smaller of the two, blend steps, or the "
                "limit."
            )
        )
    for number in goal.relieve:
        zone = tuned[number]
        if over.get(f"relief {number}", 0.0) > SLACK:
            help_ = "a softer filament or a sparser fill there" if zone.name in soft else (
                "a greater level step or modulus ratio between neighbors, or blend steps around it"
            )  # fmt: skip
            said.append(
                to_act_on(
                    f"{zone.name} carries {100 * zone.share_after:.1f} % of the load; asked was at most "
                    f"{100 * goal.relief_share * zone.share_even:.1f} % ({goal.relief_share:g} of an even pad's "
                    f"{100 * zone.share_even:.1f} %). What would have to change: {help_}, an opening or a channel "
                    "there."
                )
            )
        elif over.get(f"spared {number}", 0.0) > SLACK and zone.share_before is not None:
            said.append(
                to_act_on(
                    f"{zone.name} carries {100 * zone.share_after:.1f} % of the load, more than the "
                    f"{100 * zone.share_before:.1f} % it carries with the levels as they are, because other limits "
                    "change its neighbors. What would have to change: a greater level step or modulus ratio between "
                    "neighbors."
                )
            )
    return tuple(said)


def doubts(after: LoadResult, goal: Goal) -> tuple[str, ...]:
    """Return which limits hold for what is expected and would fail for a material as soft as it may be."""
    said = []
    sinkage, margin = after.sinkage_mm, after.bottoming_margin
    if sinkage.value <= goal.sinkage_limit_mm * (1.0 + SLACK) and goal.sinkage_limit_mm < sinkage.high:
        within = (
            "" if sinkage.value <= goal.sinkage_limit_mm else f", within the {100 * SLACK:g} % by which it may be off"
        )
        said.append(
            f"The sinkage limit of {goal.sinkage_limit_mm:g} mm holds for the material expected ({sinkage.value:.2f} "
            f"mm{within}); as soft as it may be, the body sinks {sinkage.high:.1f} mm."
        )
    if margin.low < goal.least_bottoming_margin <= margin.value + SLACK:
        said.append(
            f"The bottoming margin of {goal.least_bottoming_margin:g} holds for the material expected "
            f"({margin.value:.2f}); as soft as it may be, {margin.low:.2f} is left."
        )
    return tuple(said)


def beyond(case: LoadCase, first: LoadCase, result: LoadResult, goal: Goal) -> tuple[str, ...]:
    """Return which limit does not hold under a further load case, in one sentence, if any is broken."""
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
            f'{" and ".join(said)}. To tune for it, make it the first load under [load] and "{first.posture}" a '
            "further case."
        ),
    )


def traded(before: LoadResult | None, after: LoadResult, tuned: Sequence[TunedZone], goal: Goal) -> tuple[str, ...]:
    """Return what got better and what got worse against the zones' own levels."""
    said = []
    for zone in tuned:
        factor = zone.after_kpa / zone.before_kpa
        if not 0.95 < factor < 1.05:
            said.append(f"{zone.name}: {zone.before_kpa:.0f} to {zone.after_kpa:.0f} kPa")
    if before is None:
        return tuple(said)
    rows = (
        ("Peak pressure", before.peak_pressure_kpa.value, after.peak_pressure_kpa.value, "kPa", 1),
        ("Peak over mean", before.evenness.value, after.evenness.value, "", 2),
        ("Sinkage", before.sinkage_mm.value, after.sinkage_mm.value, "mm", 2),
        ("Bottoming margin", before.bottoming_margin.value, after.bottoming_margin.value, "", 2),
    )
    for name, old, new, unit, digits in rows:
        if abs(new - old) > 0.02 * max(abs(old), 1e-9):
            said.append(f"{name}: {old:.{digits}f} to {new:.{digits}f} {unit}".rstrip())
    for number in goal.relieve:
        zone = tuned[number]
        if zone.share_before is not None and abs(zone.share_after - zone.share_before) > 0.02 * zone.share_before:
            said.append(
                f"{zone.name} carries {100 * zone.share_before:.1f} to {100 * zone.share_after:.1f} % of the load"
            )
    return tuple(said)
