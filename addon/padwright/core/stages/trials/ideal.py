"""Where a wearer's ideal stiffness lies, from what was answered: an ideal point that wanders, on a grid.

Each time a print is worn the wearer holds it against a momentary ideal t, normal around the zone's own ideal (the
wandering ideal point model, De Soete, Carroll & DeSarbo 1986, J. Math. Psychol. 30:28), on the logarithm of
stiffness. "Too firm" says that t lies more than a noticeable step below what was worn, "too soft" above, "right"
between; "better" that t lies nearer to what was worn than to what was worn before, by more than a step, "same" that
neither does (ties as a band of a Thurstone scale: Glenn & David 1960, doi 10.2307/2527957). So each answer is an
interval of t, and two answers of one trial speak of one t. Any answer may be a slip (Wichmann & Hill 2001,
doi 10.3758/BF03194544).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, log

import numpy as np
from scipy.special import ndtr

from ...base.frozen import hold
from ...base.mesh import Float
from .records import FEELS, THAN_LAST

NOTICED_SHARE = 0.13
"""Least change of pressure under a sit bone that is noticed (13 to 14 %: doi 10.1080/00140130500123647)."""
STEP = log(1.0 + NOTICED_SHARE)
"""The same as a difference of logarithms; a change of stiffness that is smaller changes pressure by less still."""

LEAST_CHANGE = -log(1.0 - NOTICED_SHARE)
"""The least that is proposed: 13 % softer, and as much in ratio firmer."""

SLIP = 0.05
"""Share of answers that are slips (as psychometric fits allow, Wichmann & Hill 2001)."""
EARLY_SLIP = 0.975
"""The same of a verdict under a day: of three insoles 65 % of wearers took another after a workday than after a minute
(doi 10.1186/s13047-020-00402-2), and one in three of those who answer at random takes the same again: 0.65 x 3/2."""

_SPREADS = np.array([0.09, 0.13, 0.18, 0.26, 0.37])
_SPREAD_WEIGHTS = np.exp(-0.5 * (np.log(_SPREADS / 0.18) / 0.4) ** 2)
"""How far the momentary ideal wanders, standard deviation: 0.18 makes a step of 13 % noticed three times in four
(0.122 / 0.674); people differ by a factor of 1.5 or so (our choice)."""

PRIOR = 0.5
"""Standard deviation of the ideal around the first stiffness worn: within a factor of 2.3, nine times in ten (ours)."""
_REACH, _GRID_STEP = 2.2, 0.01
"""How far beyond what was worn the grid goes (a factor of 9), and how fine it is."""

Interval = tuple[float, float]


@dataclass(frozen=True)
class Answer:
    """What one trial says of one zone; stiffness as the logarithm of kPa."""

    worn: float
    feels: str | None = None
    than_last: str | None = None
    last: float | None = None  # what was worn before; without it a comparison says nothing
    is_early: bool = False
    trial: int = 0  # its number, for messages

    def intervals(self) -> list[Interval]:
        """Return where the momentary ideal lies by each thing that was answered; one that says nothing is left out."""
        found: list[Interval] = []
        if self.feels is not None:
            found.append(dict(zip(FEELS, _feels_at(self.worn), strict=True))[self.feels])
        if self.than_last is not None and self.last is not None and abs(self.worn - self.last) > STEP:
            found.append(dict(zip(THAN_LAST, _compared(self.worn, self.last), strict=True))[self.than_last])
        return found

    @property
    def is_torn(self) -> bool:
        """Whether its two answers cannot both be, e.g. too firm, and better than the softer one before."""
        return len(found := self.intervals()) == 2 and _common(found[0], found[1]) is None

    def likelihood(self, ideal: Float, spread: float) -> Float:
        """Return how likely the answer is for each ideal."""
        slip, found = EARLY_SLIP if self.is_early else SLIP, self.intervals()
        alone = [_mass(each, ideal, spread) for each in found]
        if not found:
            return np.ones_like(ideal)
        if len(found) == 1:
            return (1.0 - slip) * alone[0] + slip / 3.0
        common = _common(found[0], found[1])
        both = np.zeros_like(ideal) if common is None else _mass(common, ideal, spread)
        one = (alone[0] + alone[1]) / 3.0
        return (1.0 - slip) ** 2 * both + (1.0 - slip) * slip * one + (slip / 3.0) ** 2

    def trust(self, ideal: Float, spread: float) -> Float:
        """Return how likely it is, for each ideal, that nothing of the answer was a slip."""
        found = self.intervals()
        common: Interval | None = (-inf, inf)
        for each in found:
            common = None if common is None else _common(common, each)
        if common is None:
            return np.zeros_like(ideal)
        slip = EARLY_SLIP if self.is_early else SLIP
        meant = (1.0 - slip) ** len(found) * _mass(common, ideal, spread)
        return np.asarray(meant / self.likelihood(ideal, spread))


def _feels_at(worn: float) -> tuple[Interval, Interval, Interval]:
    """Return the intervals of too firm, right and too soft."""
    return (-inf, worn - STEP), (worn - STEP, worn + STEP), (worn + STEP, inf)


def _compared(worn: float, last: float) -> tuple[Interval, Interval, Interval]:
    """Return the intervals of better, same and worse: the difference of the two ways is twice that to the middle."""
    middle, half = 0.5 * (worn + last), 0.5 * STEP
    above, below = (middle + half, inf), (-inf, middle - half)
    better, worse = (above, below) if worn > last else (below, above)
    return better, (middle - half, middle + half), worse


def _common(one: Interval, other: Interval) -> Interval | None:
    low, high = max(one[0], other[0]), min(one[1], other[1])
    return (low, high) if low < high else None


def _mass(interval: Interval, ideal: Float, spread: float) -> Float:
    low, high = ((end - ideal) / spread for end in interval)
    return np.asarray(ndtr(high) - ndtr(low))


@dataclass(frozen=True, eq=False)
class IdealPoint:
    """What is known of a zone's ideal: a density on a grid of logarithms of kPa."""

    grid: Float  # (g,)
    weight: Float  # (g,); sums to 1
    trust: tuple[float, ...]  # of each answer: how likely nothing of it was a slip

    def __post_init__(self) -> None:
        hold(self, grid=self.grid, weight=self.weight)

    def quantile(self, share: float) -> float:
        """Return where so much of the weight lies below."""
        return float(np.interp(share, np.cumsum(self.weight) - 0.5 * self.weight, self.grid))

    def nearer(self, one: float, other: float) -> float:
        """Return how likely the ideal is nearer to the one stiffness than to the other (logarithms)."""
        middle = 0.5 * (one + other)
        return float(self.weight[self.grid > middle if one > other else self.grid < middle].sum())

    def chance(self, stiffness: Float | float) -> Float:
        """Return how likely the ideal lies within a noticeable step of each stiffness (logarithms)."""
        summed = np.concatenate([[0.0], np.cumsum(self.weight)])
        edge = np.concatenate([self.grid - 0.5 * _GRID_STEP, [self.grid[-1] + 0.5 * _GRID_STEP]])
        at = np.asarray(stiffness, dtype=np.float64)
        return np.asarray(np.interp(at + STEP, edge, summed) - np.interp(at - STEP, edge, summed))


def ideal_points(zones: Sequence[Sequence[Answer]], start: Sequence[float]) -> list[IdealPoint]:
    """Return the ideal of every zone from its answers; how steadily the wearer answers is one number for all of them.

    `start` is the stiffness that each zone was first worn with (logarithm of kPa); around it the ideal is expected.
    """
    grids, priors = [], []
    for answers, first in zip(zones, start, strict=True):
        worn = [first, *(each.worn for each in answers)]
        ends = min(worn) - _REACH, max(worn) + _REACH
        grid = first + _GRID_STEP * np.arange(np.floor((ends[0] - first) / _GRID_STEP), (ends[1] - first) / _GRID_STEP)
        prior = np.exp(-0.5 * ((grid - first) / PRIOR) ** 2)
        grids.append(grid)
        priors.append(prior / prior.sum())
    density = [
        [_posterior(answers, grid, prior, float(spread)) for spread in _SPREADS]
        for answers, grid, prior in zip(zones, grids, priors, strict=True)
    ]
    evidence = np.log(_SPREAD_WEIGHTS) + sum(np.log([each.sum() for each in of_zone]) for of_zone in density)
    share = np.exp(evidence - evidence.max())
    share /= share.sum()
    found = []
    for answers, grid, of_zone in zip(zones, grids, density, strict=True):
        normal = [each / each.sum() for each in of_zone]
        weight = np.asarray(sum(part * each for part, each in zip(share, normal, strict=True)))
        trust = tuple(
            float(sum(p * (each @ answer.trust(grid, s)) for p, each, s in zip(share, normal, _SPREADS, strict=True)))
            for answer in answers
        )
        found.append(IdealPoint(grid, weight / weight.sum(), trust))
    return found


def _posterior(answers: Sequence[Answer], grid: Float, prior: Float, spread: float) -> Float:
    density = prior.copy()
    for answer in answers:
        density = density * answer.likelihood(grid, spread)
    return density


GAIN = 0.15
"""How much likelier it must get that a zone is within a step of the ideal; less is not worth a print (ours)."""
SURE = 0.9
"""Or how likely the ideal must be nearer to the change than to what is worn, where the ideal itself is out of reach."""
MOST_STEP = log(2.0)
"""A zone is at most doubled or halved from one print to the next (ours): answers hold near what was worn."""


def next_stiffness(ideal: IdealPoint, now: float, low: float = -inf, high: float = inf) -> float:
    """Return the stiffness that is likeliest within a noticeable step of the ideal: now, or `LEAST_CHANGE` off.

    All are logarithms of kPa; `low` and `high` are what can be printed. It stays where a change would gain less than
    `GAIN` and is not nearer to the ideal with a chance of `SURE`.
    """
    grid = ideal.grid
    apart = np.abs(grid - now)
    open_to = (grid >= max(low, now - MOST_STEP)) & (grid <= min(high, now + MOST_STEP)) & (apart >= LEAST_CHANGE)
    if not open_to.any():
        return now
    # Where nothing that is open comes near the ideal, the nearest to it.
    liking = ideal.chance(grid) - 1e-6 * np.abs(grid - ideal.quantile(0.5))
    best = float(grid[int(np.argmax(np.where(open_to, liking, -np.inf)))])
    gain = float(ideal.chance(best)) - float(ideal.chance(now))
    return best if gain >= GAIN or ideal.nearer(best, now) >= SURE else now
