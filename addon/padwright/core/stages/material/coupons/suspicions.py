"""What would explain readings that contradict what is assumed: a law that bends, a block printed or pressed otherwise.

Each explanation is weighed by how much likelier it makes the readings, to second order about the best fit.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

import numpy as np

from ....base.mesh import Float
from ..curves import LEVEL_STRAIN
from .coupons import EDGES_MM
from .posterior import COUNT, HOLD_AT, LAWS, Assumed, Posterior

_FREE_LAW = np.array([0.6, 1.5])
"""Standard deviations of the laws' exponents once they were let go: no published lattice is off by more. Assumed."""

_FREE_UNKNOWN = 6.0
"""Times the card's spread of an unknown once it was let go. Assumed."""

_ASIDE = 0.7
"""Of a block left aside: from half to twice. Assumed."""

_NEARLY, _MOST_INSTEAD = 7.0, 2
"""Explanations within so much of the best are told beside it, so many at most: the best is then 30 times as likely."""

_SIZES_OFF = 2
"""How many sizes off a block may have been printed."""

_RARE = {"law": 0.5, "unknown": 6.5, "odd": 4.0, "size": 5.5, "swapped": 6.5}
"""How much likelier, as twice a logarithm, the readings must be before an explanation is taken: chosen so that of 100
sets of right readings at most a few have one (docs/models/calibration.md)."""


@dataclass(frozen=True)
class Suspicion:
    """One explanation."""

    kind: str  # "law", "unknown" (both of the filament), "odd", "size" or "swapped" (of blocks)
    which: tuple[int, ...]  # of `BENT`, of `UNKNOWNS`, or blocks counted from 0
    edge_mm: float = 0.0  # of "size": the edge that would explain it
    # twice the logarithm of how much likelier it makes the readings, less what its kind must exceed.
    weight: float = 0.0
    instead: tuple[Suspicion, ...] = ()  # what explains the readings nearly as well

    @property
    def is_of_blocks(self) -> bool:
        """Whether blocks are suspected, not the filament."""
        return self.kind not in ("law", "unknown")

    def is_like(self, other: Suspicion) -> bool:
        """Say if both suspect the filament, or the same blocks."""
        return self.is_of_blocks == other.is_of_blocks and (not self.is_of_blocks or self.which == other.which)

    def lets_go(self, assumed: Assumed) -> Assumed:
        """Return what is still assumed once this is suspected."""
        law, unknown, own = assumed.law_sd.copy(), assumed.loosened.copy(), assumed.own_sd.copy()
        if self.kind == "law":
            law[list(self.which)] = _FREE_LAW[list(self.which)]
        elif self.kind == "unknown":
            unknown[list(self.which)] = _FREE_UNKNOWN
        else:
            own[list(self.which)] = _ASIDE
        return Assumed(own, law, unknown)


def likeliest(
    fit: Posterior, point: Float, *, is_trusted: bool = False, sized: Collection[int] = ()
) -> Suspicion | None:
    """Return the explanation that makes the readings so much likelier that it is to be taken; None where none does.

    With `is_trusted` the blocks are what they are said to be; `sized` ones (their numbers) have their size.
    """
    asked = np.r_[1:HOLD_AT, fit.own_at : fit.height_at]
    before = fit.variances()[asked]
    precision = np.linalg.inv(fit.inverse(point)[np.ix_(asked, asked)])
    pull = precision @ (point - fit.start)[asked]
    told = precision - np.diag(1.0 / before)  # what the readings say alone
    nothing = np.zeros(len(asked))
    usual = _evidence(told, pull, before, nothing)
    found = [
        replace(each, weight=_evidence(told, pull, variance, moved) - usual - _RARE[each.kind])
        for each, variance, moved in _all(fit, point, before)
        if not (is_trusted and each.is_of_blocks)
        and not (each.kind == "size" and fit.coupons[each.which[0]].number in sized)
    ]
    found = sorted((each for each in found if each.weight > 0.0), key=lambda each: -each.weight)
    if not found:
        return None
    best, *others = found
    near = [each for each in others if best.weight - each.weight < _NEARLY and not each.is_like(best)]
    return replace(best, instead=tuple(near[:_MOST_INSTEAD]))


def _evidence(told: Float, pull: Float, variance: Float, mean: Float) -> float:
    """Return twice the logarithm of how likely readings are that say `told` and `pull` of normal unknowns."""
    both = told + np.diag(1.0 / variance)
    right = pull + mean / variance
    spread = np.linalg.slogdet(np.eye(len(variance)) + variance[:, None] * told)[1]
    return float(right @ np.linalg.solve(both, right) - mean @ (mean / variance) - spread)


def _all(fit: Posterior, point: Float, before: Float) -> Iterator[tuple[Suspicion, Float, Float]]:
    """Return each explanation with the variance and mean that it gives the unknowns from the second on, and blocks."""
    assumed, nothing = fit.assumed, np.zeros(len(before))
    blocks = COUNT - 1 + LAWS
    free = [index for index, sd in enumerate(assumed.own_sd) if sd < _ASIDE]

    def loosened(each: Suspicion) -> tuple[Suspicion, Float, Float]:
        asked = np.r_[1:HOLD_AT, fit.own_at : fit.height_at]
        return each, fit.variances(each.lets_go(assumed))[asked], nothing

    yield from (loosened(Suspicion("law", (n,))) for n in range(LAWS) if assumed.law_sd[n] < _FREE_LAW[n])
    yield from (loosened(Suspicion("unknown", (n,))) for n in range(1, COUNT) if assumed.loosened[n] == 1.0)
    yield from (loosened(Suspicion("odd", (n,))) for n in free)
    for index in free:
        edge = fit.coupons[index].edge_mm
        below, above = [e for e in EDGES_MM if e < edge][-_SIZES_OFF:], [e for e in EDGES_MM if e > edge][:_SIZES_OFF]
        for other in (*below, *above):
            moved = nothing.copy()
            moved[blocks + index] = 2.0 * np.log(other / edge)
            yield Suspicion("size", (index,), other), before, moved
    bears = _bears(fit, point)
    for place, one in enumerate(free):
        for two in free[place + 1 :]:
            moved = nothing.copy()
            moved[blocks + one] = bears[two] - bears[one]
            moved[blocks + two] = -moved[blocks + one]
            yield Suspicion("swapped", (one, two)), before, moved


def _bears(fit: Posterior, point: Float) -> Float:
    """Return the logarithm of what each block should bear at a tenth of its height."""
    head = point.copy()
    head[fit.own_at : fit.height_at] = 0.0
    force, _ = fit.force(head, np.full(len(fit.pressed.order), LEVEL_STRAIN))
    return np.array([float(np.log(force[mine[0]])) if len(mine) else 0.0 for mine in fit.mine])


def told_alone(fit: Posterior, point: Float) -> tuple[Float, Float]:
    """Return what the readings alone say of each block's own factor (logarithm) and its standard deviation, both (b,).

    That is against what all other blocks say, `PRINT_SPREAD` not counted.
    """
    own = slice(fit.own_at, fit.height_at)
    left = np.minimum(np.diag(fit.inverse(point))[own] / fit.assumed.own_sd**2, 1.0 - 1e-6)
    return point[own] / (1.0 - left), fit.assumed.own_sd * np.sqrt(left / (1.0 - left))
