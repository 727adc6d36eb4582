"""Stage 9: choose each zone's modulus, and with it its settings, so that the body is borne as the person wishes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from ..errors import InputError, SolveError
from ..mesh import Float
from .choosing import Chosen
from .contact import LoadResult, check_load
from .load_case import ContactPatch, LoadCase
from .step_moduli import choose_all
from .tuning_notes import binding_limits, doubts, traded, unmet
from .tuning_search import NEARBY, Ladder, pattern_search, smaller_patch

_PENALTIES = {"ratio": 400.0, "step": 400.0, "margin": 80.0, "sinkage": 80.0}
_RELIEF_PENALTY = 20.0
"""What exceeding a limit wholly (by its own size) costs against a peak of once the mean. Limits come before evenness;
where they fight, neighbours that would shear past each other weigh most, then bottoming and sinkage, then relief."""

_OWN_LEVEL = 0.03
"""What leaving the level the person asked for costs, per square of the logarithm: it decides where all else is nearly
equal, as between a pad that is even and one twice as firm, twice as heavy and just as even."""

_RELIEF_EVENNESS = 0.1
_RELIEF_OWN_LEVEL = 0.5
"""Where zones are to be relieved, evenness is a lesser wish and the levels asked for are the greater one: a relief that
holds already must change nothing."""


@dataclass(frozen=True)
class Goal:
    """What is aimed for and what must hold.

    Attributes
    ----------
    relieve : tuple of int
        Zones to relieve; none: pressure as even as can be.
    relief_share : float
        They carry at most so much of what an even pad would give them.
    sinkage_limit_mm, least_bottoming_margin : float
    greatest_modulus_ratio : float
        Between neighbours.
    level_step_limit : float
        Between neighbours, in firmness levels.
    level_moduli_kpa : tuple of float
        Of the levels 1, 2, ...
    """

    relieve: tuple[int, ...] = ()
    relief_share: float = 0.5
    sinkage_limit_mm: float = 1e9
    least_bottoming_margin: float = 0.0
    greatest_modulus_ratio: float = 1e9
    level_step_limit: float = 1e9
    level_moduli_kpa: tuple[float, ...] = (1.0, 10.0)

    def level(self, log_kpa: Float) -> Float:
        """Return the firmness level of a modulus, carried on beyond the ends with the end's slope."""
        known = np.log(self.level_moduli_kpa)
        index = np.clip(np.searchsorted(known, log_kpa) - 1, 0, len(known) - 2)
        return np.asarray(1.0 + index + (log_kpa - known[index]) / (known[index + 1] - known[index]))


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
    """

    name: str
    start_kpa: float
    choose: Callable[[float], Chosen]
    between: tuple[int, int, float] | None = None


@dataclass(frozen=True, eq=False)
class TunedZone:
    """What came of a zone.

    Attributes
    ----------
    name : str
    before_kpa, after_kpa : float
        Secant moduli at 10 % strain.
    share_before, share_after, share_even : float
        Of the load; the last on an even pad.
    chosen : Chosen
    """

    name: str
    before_kpa: float
    after_kpa: float
    share_before: float | None
    share_after: float
    share_even: float
    chosen: Chosen


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
    binding : tuple of str
        Limits that the result lies on.
    traded : tuple of str
        What got better and what got worse.
    asked : int
        How often the search pressed the body on the pad.
    notes : tuple of str
    """

    zones: tuple[TunedZone, ...]
    before: LoadResult | None
    after: LoadResult
    is_met: bool
    unmet: tuple[str, ...]
    binding: tuple[str, ...]
    traded: tuple[str, ...]
    asked: int
    notes: tuple[str, ...]


def tune(
    case: LoadCase,
    patch: ContactPatch,
    zones: Sequence[TunableZone],
    neighbours: Sequence[tuple[int, int]],
    goal: Goal,
) -> Tuning:
    """Choose the zones' moduli.

    Parameters
    ----------
    case : LoadCase
    patch : ContactPatch
        `patch.zone` counts through `zones`.
    zones : sequence of TunableZone
    neighbours : sequence of (int, int)
        Zones that touch.
    goal : Goal

    Notes
    -----
    Least is peak pressure over mean pressure, plus 20 to 400 times every limit's excess over its own size, plus 0.03
    of the mean squared logarithm by which zones leave their levels. Where zones are to be relieved it is a tenth of
    peak over mean in the others, and half of that squared logarithm: what was asked for is left as it is as far as
    the relief allows. Found by a
    pattern search over the logarithms of the moduli on about 1000 points of the patch, from the best of fifteen
    places; it may be a local least. It goes over curves between a few printable ones, first from the softest to the
    firmest, then near the place found. The settings found are pressed on all points: what is told is that.

    Raises
    ------
    InputError
        When zones, neighbours and goal do not fit each other.
    SolveError
        When even the firmest printable pad cannot carry the load.
    """
    count = len(zones)
    if count == 0 or int(patch.zone.max()) >= count:
        raise InputError(f"The contact patch has zone {int(patch.zone.max())}, but {count} zones can be tuned.")
    if any(not 0 <= index < count for pair in neighbours for index in pair) or any(
        not 0 <= index < count for index in goal.relieve
    ):
        raise InputError(f"Neighbors or zones to relieve point past the {count} zones.")
    names = [zone.name for zone in zones]
    own = [zone.choose(zone.start_kpa) for zone in zones]
    ladders = [Ladder.of(zone.choose) for zone in zones]
    low = np.array([ladder.log_kpa[0] for ladder in ladders])
    high = np.array([ladder.log_kpa[-1] for ladder in ladders])
    start = np.clip(np.log([each.reached_kpa for each in own]), low, high)
    wish = np.log([zone.start_kpa for zone in zones])
    even = even_shares(patch, count)
    few = smaller_patch(patch, count)
    free = [number for number, zone in enumerate(zones) if zone.between is None]

    def spread(at: Float) -> Float:
        """Return all moduli: blend steps follow the zones they lie between, as far as they can be printed."""
        every = np.array(start)
        every[free] = at
        for number, zone in enumerate(zones):
            if zone.between is not None:
                first, second, share = zone.between
                every[number] = (1.0 - share) * every[first] + share * every[second]
        return np.clip(every, low, high)

    def cost(at: Float, rungs: Sequence[Ladder]) -> float:
        every = spread(at)
        curves = [ladder.curve(value) for ladder, value in zip(rungs, every, strict=True)]
        level, evenness = (_RELIEF_OWN_LEVEL, _RELIEF_EVENNESS) if goal.relieve else (_OWN_LEVEL, 1.0)
        own_level = level * float(np.square(every - wish).mean())
        try:
            result = check_load(case, few, curves, zone_names=names, is_explained=False)
        except SolveError:  # bottomed out: the firmer the nearer to an answer
            return 1e6 - float(every.mean())
        over = excess(result, every, even, neighbours, goal)
        broken = sum(_PENALTIES.get(name, _RELIEF_PENALTY) * value for name, value in over.items())
        return evenness * unevenness(result, even, goal) + broken + own_level

    touching = [
        [place for place, number in enumerate(free) if number in _with(number_, neighbours)] for number_ in free
    ]
    groups = [list(range(len(free))), *touching]
    whole = partial(cost, rungs=ladders)
    starts = _starts(start, mean_thickness(patch, count), low, high)[:, free]
    best = min(starts, key=whole)
    found, _, asked = pattern_search(whole, best, low[free], high[free], groups)
    nearby = [Ladder.near(zone.choose, value) for zone, value in zip(zones, spread(found), strict=True)]
    around = np.maximum(found - NEARBY, low[free]), np.minimum(found + NEARBY, high[free])
    found, _, more = pattern_search(partial(cost, rungs=nearby), found, *around, groups, first_step=0.5 * NEARBY)
    asked += more + len(starts)
    every = choose_all(
        dict(enumerate(np.exp(spread(found)).tolist())),
        {number: zone.between for number, zone in enumerate(zones) if zone.between is not None},
        {number: zone.choose for number, zone in enumerate(zones)},
    )
    chosen = list(every.values())
    try:
        before: LoadResult | None = check_load(case, patch, [each.curve for each in own], zone_names=names)
    except SolveError:
        before = None
    after = check_load(case, patch, [each.curve for each in chosen], zone_names=names)
    reached = np.log([each.reached_kpa for each in chosen])
    tuned = tuple(
        TunedZone(
            name,
            own[number].reached_kpa,
            chosen[number].reached_kpa,
            before.zones[number].share.value if before else None,
            after.zones[number].share.value,
            float(even[number]),
            chosen[number],
        )
        for number, name in enumerate(names)
    )
    over = excess(after, reached, even, neighbours, goal)
    broken = unmet(over, after, tuned, neighbours, goal, (low, high))
    notes = [note for each in chosen for note in each.notes]
    notes = [*doubts(after, goal), *notes]
    if before is None:
        notes.insert(0, "With the zones' own levels the pad could not carry the load at all.")
    return Tuning(
        tuned, before, after, not broken, broken, binding_limits(after, tuned, neighbours, goal, (low, high)),
        traded(before, after, tuned, goal), asked, tuple(dict.fromkeys(notes)),
    )  # fmt: skip


def _with(number: int, neighbours: Sequence[tuple[int, int]]) -> set[int]:
    return {number} | {index for pair in neighbours if number in pair for index in pair}


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


def even_shares(patch: ContactPatch, count: int) -> Float:
    """Return the share of the load that each zone would carry if pressure were the same everywhere: its area's."""
    area = np.bincount(patch.zone, patch.area_mm2, count)
    return np.asarray(area / area.sum())


def unevenness(result: LoadResult, even: Float, goal: Goal) -> float:
    """Return peak over mean pressure; where zones are to be relieved, over the others."""
    if not goal.relieve:
        return result.evenness.value
    others = [number for number in range(len(even)) if number not in goal.relieve and even[number] > 0.0]
    area = float(even[others].sum())
    share = sum(result.zones[number].share.value for number in others)
    if area <= 0.0 or share <= 0.0:
        return result.evenness.value
    mean = result.mean_pressure_kpa.value * share / area
    return max(result.zones[number].peak_pressure_kpa.value for number in others) / mean


def excess(
    result: LoadResult, log_kpa: Float, even: Float, neighbours: Sequence[tuple[int, int]], goal: Goal
) -> dict[str, float]:
    """Return for every limit by how much it is exceeded, as a share of itself; 0 where it holds."""
    steps = goal.level(log_kpa)
    ratio = max((abs(float(log_kpa[a] - log_kpa[b])) for a, b in neighbours), default=0.0)
    step = max((abs(float(steps[a] - steps[b])) for a, b in neighbours), default=0.0)
    found = {
        "sinkage": result.sinkage_mm.value / goal.sinkage_limit_mm - 1.0,
        "margin": goal.least_bottoming_margin - result.bottoming_margin.value,
        "ratio": ratio - float(np.log(goal.greatest_modulus_ratio)),
        "step": step / goal.level_step_limit - 1.0,
    }
    for number in goal.relieve:
        if even[number] > 0.0:
            most = goal.relief_share * even[number]
            found[f"relief {number}"] = result.zones[number].share.value / most - 1.0
    return {name: max(value, 0.0) for name, value in found.items()}
