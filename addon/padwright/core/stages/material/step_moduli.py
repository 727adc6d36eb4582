"""Settings of zones and of the blend steps between them, so that firmness never falls on the way to the firmer zone."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from ...base.mesh import Float
from .choosing import Chosen

Between = tuple[int, int, float]
"""A blend step lies between two zones: their numbers, and its share of the second."""

_TRIES = 4
"""Settings come in steps of the fill share; a step that ends below the one before is aimed higher so many times."""


def choose_all(
    targets_kpa: Mapping[int, float],
    between: Mapping[int, Between],
    choosers: Mapping[int, Callable[[float], Chosen]],
) -> dict[int, Chosen]:
    """Return the settings of every zone: those with a level of their own first, then the steps between them.

    Targets, by the zone's number, are secant moduli, kPa; those of blend steps count only where one of their two zones
    is not there.

    A step aims at its share of the way between what its two zones reach as printed, on the logarithm: where a zone
    cannot be printed as soft as wished, steps aimed at its wish would be softer than it. From the softer zone to the
    firmer, no step aims below what the one before it reaches: a step that is thin or touches the air may not be softer.
    """
    chosen = {
        number: choosers[number](target)
        for number, target in targets_kpa.items()
        if number not in between or not {between[number][0], between[number][1]} <= targets_kpa.keys()
    }
    waiting = [number for number in targets_kpa if number not in chosen]
    for pair in sorted({between[number][:2] for number in waiting}):
        ends = np.log([chosen[number].reached_kpa for number in pair])
        steps = sorted((number for number in waiting if between[number][:2] == pair), key=lambda each: between[each][2])
        if ends[1] < ends[0]:
            steps.reverse()
        _climb(steps, ends, between, choosers, chosen)
    return {number: chosen[number] for number in targets_kpa}


def _climb(
    steps: Sequence[int],
    ends: Float,
    between: Mapping[int, Between],
    choosers: Mapping[int, Callable[[float], Chosen]],
    chosen: dict[int, Chosen],
) -> None:
    """Choose the steps from the softer end to the firmer."""
    reached, most = float(np.exp(min(ends))), float(np.exp(max(ends)))
    for number in steps:
        share = between[number][2]
        target = max(float(np.exp((1.0 - share) * ends[0] + share * ends[1])), min(reached, most))
        found = choosers[number](target)
        for _ in range(_TRIES):
            if found.reached_kpa >= min(reached, most) or found.binding is not None:
                break
            target *= 1.005 * reached / found.reached_kpa
            found = choosers[number](target)
        chosen[number] = found
        reached = max(reached, found.reached_kpa)
