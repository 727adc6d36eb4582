"""Choose each zone's modulus, and with it its settings, so that the body is borne as the person wishes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from ...base.errors import InputError, SolveError
from ...base.mesh import Float
from ...base.notes import to_look_at
from ..material.choosing import Chosen
from ..material.step_moduli import choose_all
from .contact import LoadResult, check_load
from .load_case import ContactPatch, LoadCase
from .tuning_goal import Goal, TunedZone, even_shares, excess, unevenness
from .tuning_notes import RIGID, UNCHANGED, beside, binding_limits, doubts, traded, unmet
from .tuning_search import NEARBY, Ladder, pattern_search, smaller_patch

_PENALTIES = {"ratio": 400.0, "step": 400.0, "margin": 80.0, "sinkage": 80.0, "spared": 80.0}
_RELIEF_PENALTY = 20.0
"""What exceeding a limit wholly (by its own size) costs against a peak of once the mean. Limits come before evenness;
where they fight, neighbors that would shear past each other weigh most, then bottoming, sinkage and that a zone to be
relieved bears no more than it did, then how far it is relieved."""

_OWN_LEVEL = 0.03
"""What leaving the level the person asked for costs, per square of the logarithm: it decides where all else is nearly
equal, as between a pad that is even and one twice as firm, twice as heavy and just as even."""

_RELIEF_EVENNESS = 0.1
_RELIEF_OWN_LEVEL = 0.5
"""Where zones are to be relieved, evenness is a lesser wish and the levels asked for are the greater one."""


@dataclass(frozen=True, eq=False)
class TunableZone:
    """A zone and how it can be printed.

    Attributes
    ----------
    name : str
    start_kpa : float
        The modulus of its level.
    choose : callable
        The settings for a modulus in kPa, for this zone's size.
    between : (int, int, float) or None
        For a blend step: the zones it lies between and its share of the second; it follows them.
    own : Chosen or None
        What is printed without tuning, where it is not what `choose` gives for `start_kpa`.
    """

    name: str
    start_kpa: float
    choose: Callable[[float], Chosen]
    between: tuple[int, int, float] | None = None
    own: Chosen | None = None

    @property
    def untuned(self) -> Chosen:
        """What is printed without tuning."""
        return self.own if self.own is not None else self.choose(self.start_kpa)


@dataclass(frozen=True, eq=False)
class Tuning:
    """The tuned pad.

    Attributes
    ----------
    zones : tuple of TunedZone
    before, after : LoadResult
        With the zones' own levels (None where the pad could not carry the load), and tuned; both on all points.
    is_met : bool
    unmet : tuple of str
        Which limit is broken, by how much, and what would have to change.
    unsure : tuple of str
        Which limit holds for what is expected, but not within low and high.
    binding : tuple of str
        Limits that the result lies on.
    traded : tuple of str
        What got better and what got worse.
    asked : int
        How often the search pressed the body on the pad.
    notes : tuple of str
    beyond : tuple of str
        Which limit a further load case breaks; the search looks at the first alone.
    """

    zones: tuple[TunedZone, ...]
    before: LoadResult | None
    after: LoadResult
    is_met: bool
    unmet: tuple[str, ...]
    unsure: tuple[str, ...]
    binding: tuple[str, ...]
    traded: tuple[str, ...]
    asked: int
    notes: tuple[str, ...]
    beyond: tuple[str, ...] = ()


def tune(
    case: LoadCase,
    patch: ContactPatch,
    zones: Sequence[TunableZone],
    neighbors: Sequence[tuple[int, int]],
    goal: Goal,
) -> Tuning:
    """Choose the zones' moduli.

    Parameters
    ----------
    case : LoadCase
    patch : ContactPatch
        `patch.zone` counts through `zones`.
    zones : sequence of TunableZone
    neighbors : sequence of (int, int)
        Zones that touch.
    goal : Goal

    Notes
    -----
    Least is peak pressure over mean pressure, plus 20 to 400 times every limit's excess over its own size, plus 0.03
    of the mean squared logarithm by which zones leave their levels. Where zones are to be relieved it is a tenth of
    peak over mean in the others, and half of that squared logarithm: what was asked for is left as it is as far as
    the relief allows. A zone to be relieved never gets firmer, and where all limits hold with the levels as they are
    nothing is changed at all. Found by a pattern search over the logarithms of the moduli on about 1000 points of the
    patch, from the best of fifteen places; it may be a local least. It goes over curves between a few printable ones,
    first from the softest to the firmest, then near the place found. The settings found are pressed on all points:
    what is told is that.

    Raises
    ------
    InputError
        When zones, neighbors and goal do not fit each other.
    SolveError
        When even the firmest printable pad cannot carry the load.
    """
    _refuse(patch, len(zones), neighbors, goal)
    names = [zone.name for zone in zones]
    own = [zone.untuned for zone in zones]
    even = even_shares(patch, len(zones))
    before = _pressed(case, patch, own, names)
    kept: dict[int, float] = {}
    if before is not None:
        kept = {number: before.zones[number].share.value for number in goal.relieve}
    ladders = [Ladder.of(zone.choose) for zone in zones]
    low = np.array([ladder.log_kpa[0] for ladder in ladders])
    high = np.array([ladder.log_kpa[-1] for ladder in ladders])
    reached = np.log([each.reached_kpa for each in own])
    if goal.relieve and before is not None:
        over = excess(before, reached, even, neighbors, goal, kept)
        as_is = _zones(zones, own, own, before, before, even)
        if not unmet(over, before, as_is, neighbors, goal, (low, high)):
            notes = (RIGID, *beside(as_is, goal), UNCHANGED)
            return Tuning(as_is, before, before, True, (), doubts(before, goal), (), (), 1, notes)
    for number in goal.relieve:
        high[number] = min(high[number], reached[number])
        low[number] = min(low[number], high[number])
    search = _Search(case, patch, zones, neighbors, goal, even, kept, np.clip(reached, low, high), low, high)
    best, asked = search.best(ladders)
    chosen = _printable(zones, own, best, goal)
    after = check_load(case, patch, [each.curve for each in chosen], zone_names=names)
    tuned = _zones(zones, own, chosen, before, after, even)
    over = excess(after, np.log([each.reached_kpa for each in chosen]), even, neighbors, goal, kept)
    said = [note for each in chosen for note in each.notes]
    if before is None:
        said.insert(0, to_look_at("With the zones' own levels the pad could not carry the load at all."))
    return _result(tuned, before, after, over, neighbors, goal, (low, high), asked, said)


def _refuse(patch: ContactPatch, count: int, neighbors: Sequence[tuple[int, int]], goal: Goal) -> None:
    if count == 0 or int(patch.zone.max()) >= count:
        raise InputError(f"The contact patch has zone {int(patch.zone.max())}, but {count} zones can be tuned.")
    if any(not 0 <= index < count for pair in neighbors for index in pair) or any(
        not 0 <= index < count for index in goal.relieve
    ):
        raise InputError(f"Neighbors or zones to relieve point past the {count} zones.")


@dataclass(frozen=True, eq=False)
class _Search:
    """Looks for the logarithms of the moduli that cost least; `start`, `low` and `high` are such, one a zone.

    Attributes
    ----------
    even : (z,) float
        Shares of the load that the zones bear on an even pad.
    kept : dict of zone to share
        What zones to be relieved bear as they are.
    """

    case: LoadCase
    patch: ContactPatch
    zones: Sequence[TunableZone]
    neighbors: Sequence[tuple[int, int]]
    goal: Goal
    even: Float
    kept: Mapping[int, float]
    start: Float
    low: Float
    high: Float

    @cached_property
    def few(self) -> ContactPatch:
        """The patch in about 1000 points."""
        return smaller_patch(self.patch, len(self.zones))

    @cached_property
    def free(self) -> list[int]:
        """The zones that are no blend step."""
        return [number for number, zone in enumerate(self.zones) if zone.between is None]

    @cached_property
    def wish(self) -> Float:
        """The moduli of the levels that were asked for."""
        return np.log([zone.start_kpa for zone in self.zones])

    def spread(self, at: Float) -> Float:
        """Return all moduli: blend steps follow the zones they lie between, as far as they can be printed."""
        every = np.array(self.start)
        every[self.free] = at
        for number, zone in enumerate(self.zones):
            if zone.between is not None:
                first, second, share = zone.between
                every[number] = (1.0 - share) * every[first] + share * every[second]
        return np.clip(every, self.low, self.high)

    def cost(self, at: Float, rungs: Sequence[Ladder]) -> float:
        """Return what `tune` says is to be least."""
        every = self.spread(at)
        curves = [ladder.curve(value) for ladder, value in zip(rungs, every, strict=True)]
        level, evenness = (_RELIEF_OWN_LEVEL, _RELIEF_EVENNESS) if self.goal.relieve else (_OWN_LEVEL, 1.0)
        own_level = level * float(np.square(every - self.wish).mean())
        names = [zone.name for zone in self.zones]
        try:
            result = check_load(self.case, self.few, curves, zone_names=names, is_explained=False)
        except SolveError:  # bottomed out: the firmer the nearer to an answer
            return 1e6 - float(every.mean())
        over = excess(result, every, self.even, self.neighbors, self.goal, self.kept)
        broken = sum(_PENALTIES.get(name.split()[0], _RELIEF_PENALTY) * value for name, value in over.items())
        return evenness * unevenness(result, self.even, self.goal) + broken + own_level

    def best(self, ladders: Sequence[Ladder]) -> tuple[Float, int]:
        """Return the moduli of all zones that cost least, and how often the body was pressed to find them."""
        free, low, high = self.free, self.low[self.free], self.high[self.free]
        touching = [
            [place for place, number in enumerate(free) if number in _with(number_, self.neighbors)] for number_ in free
        ]
        groups = [list(range(len(free))), *touching]
        whole = partial(self.cost, rungs=ladders)
        starts = _starts(self.start, mean_thickness(self.patch, len(self.zones)), self.low, self.high)[:, free]
        found, _, asked = pattern_search(whole, min(starts, key=whole), low, high, groups)
        rungs = [Ladder.near(zone.choose, value) for zone, value in zip(self.zones, self.spread(found), strict=True)]
        around = np.maximum(found - NEARBY, low), np.minimum(found + NEARBY, high)
        near = partial(self.cost, rungs=rungs)
        found, _, more = pattern_search(near, found, *around, groups, first_step=0.5 * NEARBY)
        return self.spread(found), asked + more + len(starts)


def _printable(zones: Sequence[TunableZone], own: Sequence[Chosen], log_kpa: Float, goal: Goal) -> list[Chosen]:
    """Return the settings that come nearest to the moduli found."""
    every = choose_all(
        dict(enumerate(np.exp(log_kpa).tolist())),
        {number: zone.between for number, zone in enumerate(zones) if zone.between is not None},
        {number: zone.choose for number, zone in enumerate(zones)},
    )
    chosen = list(every.values())
    for number in goal.relieve:  # settings are rounded, by up to 2 % of the modulus: never to the firm side
        if chosen[number].reached_kpa > own[number].reached_kpa:
            chosen[number] = own[number]
    return chosen


def _pressed(case: LoadCase, patch: ContactPatch, own: Sequence[Chosen], names: Sequence[str]) -> LoadResult | None:
    try:
        return check_load(case, patch, [each.curve for each in own], zone_names=names, is_explained=False)
    except SolveError:
        return None


def _zones(
    zones: Sequence[TunableZone],
    own: Sequence[Chosen],
    chosen: Sequence[Chosen],
    before: LoadResult | None,
    after: LoadResult,
    even: Float,
) -> tuple[TunedZone, ...]:
    return tuple(
        TunedZone(
            zone.name,
            own[number].reached_kpa,
            chosen[number].reached_kpa,
            before.zones[number].share.value if before else None,
            after.zones[number].share.value,
            float(even[number]),
            chosen[number],
        )
        for number, zone in enumerate(zones)
    )


def _result(
    tuned: tuple[TunedZone, ...],
    before: LoadResult | None,
    after: LoadResult,
    over: Mapping[str, float],
    neighbors: Sequence[tuple[int, int]],
    goal: Goal,
    reach: tuple[Float, Float],
    asked: int,
    notes: Sequence[str],
) -> Tuning:
    broken = unmet(over, after, tuned, neighbors, goal, reach)
    return Tuning(
        tuned, before, after, not broken, broken, doubts(after, goal),
        binding_limits(after, tuned, neighbors, goal, reach), traded(before, after, tuned, goal), asked,
        tuple(dict.fromkeys((RIGID, *beside(tuned, goal), *notes))),
    )  # fmt: skip


def _with(number: int, neighbors: Sequence[tuple[int, int]]) -> set[int]:
    return {number} | {index for pair in neighbors if number in pair for index in pair}


def mean_thickness(patch: ContactPatch, count: int) -> Float:
    """Return the mean thickness below each zone, mm; the patch's own where a zone bears nothing."""
    area = np.bincount(patch.zone, patch.area_mm2, count)
    whole = float(patch.thickness_mm @ patch.area_mm2) / float(patch.area_mm2.sum())
    total = np.bincount(patch.zone, patch.area_mm2 * patch.thickness_mm, count)
    return np.asarray(np.where(area > 0.0, total / np.maximum(area, 1e-12), whole))


def _starts(own: Float, thickness: Float, low: Float, high: Float) -> Float:
    """Return places to start from: the levels, those moved as a whole, and moduli in step with the thickness.

    Under a flat body a column's pressure goes with modulus over thickness; so the last are near even.
    """
    shape = np.log(thickness / thickness.mean())
    found = [own]
    for share in np.linspace(0.0, 1.0, 7):
        middle = low.min() + share * (high.max() - low.min())
        found += [own - own.mean() + middle, shape + middle]
    return np.clip(np.array(found), low, high)
