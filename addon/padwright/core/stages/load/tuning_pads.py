"""Pads tried on the way, from the most even to the lightest, and which of them the wishes choose."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ...base.cached import cached_property
from ...base.errors import SolveError
from ...base.mesh import Float
from ..material.choosing import Chosen
from ..material.region_settings import RegionSettings
from ..material.step_moduli import choose_all
from .pressure_lines import JUST_NOTICEABLE
from .tuning_goal import CAP_ROOM, Goal, PairLimits, broken_cost, excess, served_unevenness
from .tuning_press import Borne, Presses
from .tuning_search import NEARBY, Ladder, Takes, pattern_search

AS_IS = "levels as they are"
_PADS = (("peak first", 0.0), ("mass counts a little", 0.5), ("mass counts much", 5.0))
"""Pads that are looked for, and the percent of peak that 10 % of mass and of time each may cost there: our choice. They
are the same whatever the person's own weights are, which choose among them; so a greater weight never takes a heavier
one."""

_OWN_LEVEL = 0.03
"""What leaving the level the person asked for costs, per square of the logarithm: it decides where all else is nearly
equal, as between a pad that is even and one twice as firm and just as even."""

_RELIEF_EVENNESS = 0.1
_RELIEF_OWN_LEVEL = 0.5
"""Where zones are to be relieved, evenness is a lesser wish and the levels asked for are the greater one."""

_LIGHTER = 0.9
"""What a pad that feels the same is told for: a tenth less mass (our choice)."""

_BEARS = 0.005
"""A zone that bears less of the load counts as not bearing: our choice."""

_COARSE_STEP, _CLOSE_STEP = 0.05, 0.05
"""Last step of the search over all that can be printed, and first of the finer one near the place found."""

_CAP_ROUNDS = 2
"""How often a pad is searched for where the bounds of a capped zone turn out wider than reckoned with."""


def _nothing(_: RegionSettings) -> tuple[float, float]:
    """Return that settings take the same as any other: neither mass nor time is known."""
    return 1.0, 1.0


@dataclass(frozen=True, eq=False)
class TunableZone:
    """A zone and how it can be printed."""

    name: str
    start_kpa: float  # the modulus of its level
    choose: Callable[[float], Chosen]  # the settings for a modulus in kPa, for this zone's size
    # For a blend step: the zones it lies between and its share of the second; it follows them.
    between: tuple[int, int, float] | None = None
    own: Chosen | None = None  # what is printed without tuning, where it is not what `choose` gives for `start_kpa`
    takes: Takes = _nothing

    @property
    def untuned(self) -> Chosen:
        """What is printed without tuning."""
        return self.own if self.own is not None else self.choose(self.start_kpa)


@dataclass(frozen=True, eq=False)
class TriedPad:
    """One pad that was tried."""

    name: str
    chosen: Sequence[Chosen]
    borne: Sequence[Borne]  # of each load that is served, on about 1000 points
    mass_g: float
    hours: float
    is_within: bool  # whether all limits hold
    cost: float  # of pressure, limits and leaving levels: all but mass and time
    is_felt: bool = True  # whether a body can tell it from the levels as they are; else it is not chosen

    @property
    def peak_kpa(self) -> float:
        """The peak pressure of the worst load."""
        return max(each.peak_kpa for each in self.borne)

    @property
    def sinkage_mm(self) -> float:
        """The sinkage of the worst load."""
        return max(each.sinkage_mm for each in self.borne)

    def whole_cost(self, goal: Goal) -> float:
        """Return its cost with mass and time, as the goal weighs them."""
        return self.cost + _taken_cost(np.array([self.mass_g, self.hours]), goal)


def is_felt(before: Sequence[Borne], after: Sequence[Borne]) -> bool:
    """Say if a body can tell two pads apart: by a zone's mean or peak pressure, or the peak, under any load."""
    for old, new in zip(before, after, strict=True):
        bears = (old.share > _BEARS) | (new.share > _BEARS)
        pairs = [
            (old.zone_mean_kpa[bears], new.zone_mean_kpa[bears]),
            (old.zone_peak_kpa[bears], new.zone_peak_kpa[bears]),
            (np.array([old.peak_kpa]), np.array([new.peak_kpa])),
        ]
        for one, two in pairs:
            if (np.maximum(one, two) >= (1.0 + JUST_NOTICEABLE) * np.minimum(one, two)).any():
                return True
    return False


def lighter_unfelt(tried: Sequence[TriedPad]) -> str:
    """Return what the lightest pad would save that no body can tell from the levels as they are, in a sentence."""
    as_is, *others = tried
    same = [pad for pad in others if pad.is_within and not pad.is_felt and pad.mass_g <= _LIGHTER * as_is.mass_g]
    if not same:
        return ""
    pad = min(same, key=lambda each: each.mass_g)
    less = [100.0 * (1.0 - new / old) for new, old in ((pad.mass_g, as_is.mass_g), (pad.hours, as_is.hours))]
    softer = ", ".join(f"{each.name} {each.reached_kpa:.0f} kPa" for each in pad.chosen)
    return (
        f' Nor could a body tell "{pad.name}" from them, which saves {less[0]:.0f} % of the mass and {less[1]:.0f} % '
        f"of the hours ({softer}): other levels give it, if you want that."
    )


def taken_by(zones: Sequence[TunableZone], chosen: Sequence[Chosen]) -> Float:
    """Return mass in g and hours of a pad, (2,)."""
    each = [zone.takes(one.settings) for zone, one in zip(zones, chosen, strict=True)]
    return np.array(each).sum(axis=0)


def _trade(peak_pct: float) -> float:
    """Return a so that peak times mass to the power a is the same for a peak so much higher and 10 % less mass."""
    return math.log(1.0 + peak_pct / 100.0) / -math.log(0.9)


def _taken_cost(taken: Float, goal: Goal) -> float:
    weight = _RELIEF_EVENNESS if goal.is_relief else 1.0
    each = np.array([_trade(goal.peak_for_mass_pct), _trade(goal.peak_for_time_pct)])
    return weight * float(each @ np.log(np.maximum(taken, 1e-9)))


@dataclass(frozen=True, eq=False)
class PadSearch:
    """Looks for pads over the logarithms of the zones' moduli; `low` and `high` are such, one a zone."""

    presses: Presses  # the loads served, on few points
    zones: Sequence[TunableZone]
    own: Sequence[Chosen]
    pairs: PairLimits
    goal: Goal
    even: Float  # shares of the load that the zones bear on an even pad
    kept: Sequence[Mapping[int, float]]  # of each load: what zones to be relieved bear as they are
    low: Float
    high: Float
    ladders: Sequence[Ladder]
    high_ratios: Sequence[Float]  # of each load: high bound over value of each zone's peak, as far as it is known

    @cached_property
    def free(self) -> list[int]:
        """The zones that are no blend step."""
        return [number for number, zone in enumerate(self.zones) if zone.between is None]

    @cached_property
    def wish(self) -> Float:
        """The moduli of the levels that were asked for."""
        return np.log([zone.start_kpa for zone in self.zones])

    @cached_property
    def start(self) -> Float:
        """The moduli of the levels as printed, within bounds."""
        return np.clip(np.log([each.reached_kpa for each in self.own]), self.low, self.high)

    @cached_property
    def _weights(self) -> Float:
        return np.array([case.weight for case in self.presses.cases])

    @cached_property
    def _groups(self) -> list[list[int]]:
        """Zones that are tried together, by their place among the free: all, and each with its neighbors."""
        place = {number: index for index, number in enumerate(self.free)}
        touching = []
        for number in self.free:
            others = {each for pair in self.pairs.pairs if number in pair for each in pair}
            touching.append(sorted(place[each] for each in {number, *others} if each in place))
        return [list(range(len(self.free))), *touching]

    def spread(self, at: Float) -> Float:
        """Return all moduli: blend steps follow the zones they lie between, as far as they can be printed."""
        every = np.array(self.start)
        every[self.free] = at
        for number, zone in enumerate(self.zones):
            if zone.between is not None:
                first, second, share = zone.between
                every[number] = (1.0 - share) * every[first] + share * every[second]
        return np.clip(every, self.low, self.high)

    def cost(self, borne: Sequence[Borne], log_kpa: Float, cap_room: float = 0.0) -> tuple[float, bool]:
        """Return what `tune` says is to be least, but for mass and time, and whether all limits hold."""
        goal, even = self.goal, self.even
        level, evenness = (_RELIEF_OWN_LEVEL, _RELIEF_EVENNESS) if goal.is_relief else (_OWN_LEVEL, 1.0)
        over = [excess(one, even, goal, kept, cap_room) for one, kept in zip(borne, self.kept, strict=True)]
        broken = broken_cost(over, self.pairs.excess(log_kpa, goal))
        peak = served_unevenness(borne, self.presses.scales, self._weights, even, goal)
        own_level = level * float(np.square(log_kpa - self.wish).mean())
        return evenness * math.log(peak) + broken + own_level, broken <= 0.0

    def pads(self, near: Sequence[Float] = ()) -> Iterator[tuple[TriedPad, Float, int]]:
        """Return the pads found, each with the moduli searched for and how often the search pressed the body.

        `near`, (z,) each, says where to look for each, if that is known about; else the first is looked for from the
        best of fifteen places, and each other from the one before.
        """
        ratios = self.high_ratios
        found = self.start
        is_known = bool(near)
        for number, (name, weight) in enumerate(_PADS):
            goal = replace(self.goal, peak_for_mass_pct=weight, peak_for_time_pct=weight)
            at = (near[number] if near else found)[self.free]
            at, asked = self._coarse(goal, ratios, at if is_known else None)
            is_known = True
            for _ in range(_CAP_ROUNDS):
                found, more = self._close(goal, ratios, at)
                pad = self.tried(name, self.printable(found))
                asked += more
                if not self.goal.caps or not pad.borne:
                    break
                ratios, at = [high_ratio(each) for each in pad.borne], found[self.free]
                if not any((each.zone_high_kpa[zone] > most for each in pad.borne for zone, most in self.goal.caps)):
                    break
            yield pad, found, asked

    def tried(self, name: str, chosen: Sequence[Chosen], *, is_known: bool = False) -> TriedPad:
        """Return what a pad comes to; one that cannot carry a load costs more than any that can.

        Where a zone has a most pressure its high bound is worked out, unless `high_ratios` are those of this pad.
        """
        mass, hours = taken_by(self.zones, chosen)
        log_kpa = np.log([each.reached_kpa for each in chosen])
        try:
            if self.goal.caps and not is_known:
                borne = [Borne.of(each) for each in self.presses.checked(chosen)]
            else:
                curves = [each.curve.value for each in chosen]
                borne = self.presses.measured(curves, self.high_ratios, self._no_starts())
        except SolveError:
            return TriedPad(name, chosen, (), mass, hours, False, 1e6 - float(log_kpa.mean()))
        cost, is_within = self.cost(borne, log_kpa)
        return TriedPad(name, chosen, borne, float(mass), float(hours), is_within, cost)

    def printable(self, log_kpa: Float) -> list[Chosen]:
        """Return the settings that come nearest to moduli."""
        every = choose_all(
            dict(enumerate(np.exp(log_kpa).tolist())),
            {number: zone.between for number, zone in enumerate(self.zones) if zone.between is not None},
            {number: zone.choose for number, zone in enumerate(self.zones)},
        )
        chosen = list(every.values())
        for number in self.goal.relieve:  # settings are rounded, by up to 2 % of the modulus: never to the firm side
            if chosen[number].reached_kpa > self.own[number].reached_kpa:
                chosen[number] = self.own[number]
        return chosen

    def _whole(
        self,
        at: Float,
        *,
        ladders: Sequence[Ladder],
        goal: Goal,
        ratios: Sequence[Float],
        starts: list[Float | None],
    ) -> float:
        every = self.spread(at)
        pairs = list(zip(ladders, every.tolist(), strict=True))
        try:
            borne = self.presses.measured([ladder.curve(value) for ladder, value in pairs], ratios, starts)
        except SolveError:  # bottomed out: the firmer the nearer to an answer
            return 1e6 - float(every.mean())
        taken = np.sum([ladder.takes(value) for ladder, value in pairs], axis=0)
        return self.cost(borne, every, CAP_ROOM)[0] + _taken_cost(taken, goal)

    def _coarse(self, goal: Goal, ratios: Sequence[Float], at: Float | None) -> tuple[Float, int]:
        """Search over all that can be printed, from a place or from the best of fifteen."""
        free, low, high = self.free, self.low[self.free], self.high[self.free]
        whole = partial(self._whole, ladders=self.ladders, goal=goal, ratios=ratios, starts=self._no_starts())
        if at is not None:
            found, _, asked = pattern_search(
                whole, at, low, high, self._groups, first_step=NEARBY, last_step=_COARSE_STEP
            )
            return found, asked
        levels, even = _starts(self.start, mean_thickness(self.presses, len(self.zones)), self.low, self.high)
        # From an even pad the way back to levels that are to be kept is full of kinks: then both are gone.
        families = [levels, even] if goal.is_relief else [np.concatenate([levels, even])]
        best: tuple[Float, float, int] | None = None
        asked = len(levels) + len(even)
        for family in families:
            start = min(family[:, free], key=whole)
            tried = pattern_search(whole, start, low, high, self._groups, last_step=_COARSE_STEP)
            asked += tried[2]
            best = tried if best is None or tried[1] < best[1] else best
        assert best is not None
        return best[0], asked

    def _close(self, goal: Goal, ratios: Sequence[Float], at: Float) -> tuple[Float, int]:
        """Search near a place with curves that are finer there."""
        every = self.spread(at)
        rungs = [
            Ladder.near(zone.choose, zone.takes, value) for zone, value in zip(self.zones, every.tolist(), strict=True)
        ]
        low, high = np.maximum(at - NEARBY, self.low[self.free]), np.minimum(at + NEARBY, self.high[self.free])
        whole = partial(self._whole, ladders=rungs, goal=goal, ratios=ratios, starts=self._no_starts())
        found, _, asked = pattern_search(whole, at, low, high, self._groups, first_step=_CLOSE_STEP)
        return self.spread(found), asked

    def _no_starts(self) -> list[Float | None]:
        return [None] * len(self.presses.cases)


def high_ratio(borne: Borne) -> Float:
    """Return the high bound over the value of each zone's peak."""
    return np.asarray(borne.zone_high_kpa / np.maximum(borne.zone_peak_kpa, 1e-9))


def mean_thickness(presses: Presses, count: int) -> Float:
    """Return the mean thickness below each zone, mm; the patch's own where a zone bears nothing."""
    patch = presses.patch
    area = np.bincount(patch.zone, patch.area_mm2, count)
    whole = float(patch.thickness_mm @ patch.area_mm2) / float(patch.area_mm2.sum())
    total = np.bincount(patch.zone, patch.area_mm2 * patch.thickness_mm, count)
    return np.asarray(np.where(area > 0.0, total / np.maximum(area, 1e-12), whole))


def _starts(own: Float, thickness: Float, low: Float, high: Float) -> tuple[Float, Float]:
    """Return places to start from: the levels and those moved as a whole; moduli in step with the thickness.

    Under a flat body a column's pressure goes with modulus over thickness; so the last are near even.
    """
    shape = np.log(thickness / thickness.mean())
    middles = low.min() + np.linspace(0.0, 1.0, 7) * (high.max() - low.min())
    levels = [own, *(own - own.mean() + middle for middle in middles)]
    return np.clip(levels, low, high), np.clip([shape + middle for middle in middles], low, high)
