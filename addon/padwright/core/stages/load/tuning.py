"""Choose each zone's modulus, and with it its settings, so that the body is borne as the person wishes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Float
from ...base.notes import to_look_at
from ..material.choosing import Chosen
from .contact import LoadResult
from .load_case import ContactPatch, LoadCase
from .tuning_goal import Goal, PairLimits, TunedZone, even_shares, excess
from .tuning_notes import RIGID, UNCHANGED, UNFELT, Outcome, beside, binding_limits, doubts, traded, unmet
from .tuning_pads import AS_IS, PadSearch, TriedPad, TunableZone, high_ratio, is_felt, lighter_unfelt
from .tuning_press import Borne, Laid, Presses
from .tuning_search import Ladder


@dataclass(frozen=True, eq=False)
class ServedLoad:
    """A load that was tuned for."""

    case: LoadCase
    before: LoadResult | None  # with the zones' own levels; None where the pad could not carry all loads
    after: LoadResult


@dataclass(frozen=True, eq=False)
class Tuning:
    """The tuned pad."""

    zones: tuple[TunedZone, ...]
    loads: tuple[ServedLoad, ...]  # the first of them the job's first; on all points
    is_met: bool
    unmet: tuple[str, ...]  # which limit is broken, by how much, and what would have to change
    unsure: tuple[str, ...]  # which limit holds for what is expected, but not within low and high
    binding: tuple[str, ...]  # limits that the result lies on
    traded: tuple[str, ...]  # what got better and what got worse
    tried: tuple[TriedPad, ...]  # the levels as they are and the pads found, on about 1000 points
    taken: TriedPad  # which of them was taken
    asked: int  # how often the search pressed a body on the pad
    notes: tuple[str, ...]
    unchanged: str = ""  # why the levels stay as they are, where they do
    beyond: tuple[str, ...] = ()  # which limit a load breaks that was not tuned for

    @property
    def before(self) -> LoadResult | None:
        """Of the first load, with the zones' own levels."""
        return self.loads[0].before

    @property
    def after(self) -> LoadResult:
        """Of the first load, tuned."""
        return self.loads[0].after


def tune(
    cases: Sequence[LoadCase],
    patch: ContactPatch,
    zones: Sequence[TunableZone],
    neighbors: Sequence[tuple[int, int]],
    goal: Goal,
    laid: Laid | None = None,
) -> Tuning:
    """Choose the zones' moduli.

    With `laid` a zone's columns are of several kinds; the search takes one curve a zone, and what it finds is pressed
    on those columns. The goal says which loads are served. `patch.zone` counts through `zones`; neighbors are zones
    that touch. Raises InputError when zones, neighbors and goal do not fit each other, SolveError when even the firmest
    printable pad cannot carry the load.

    Notes
    -----
    Least is the logarithm of peak pressure over mean pressure, plus what mass and time cost (`Goal`), plus 20 to 400
    times every limit's excess over its own size, plus 0.03 of the mean squared logarithm by which zones leave their
    levels. Where zones are to be relieved or levels kept it is a tenth of peak, mass and time, and half of that
    squared logarithm: what was asked for is left as it is as far as the limits allow. A zone to be relieved never gets
    firmer, and where all limits hold with the levels as they are nothing is changed at all.

    Of several loads the worst counts, or their mean, the pressure of each over the mean pressure of the greatest;
    limits hold under each. First pads are looked for as for the first load alone, then from those for all that are
    served, and all are chosen from: what serves the worst is never worse for it than what serves the first.

    Looked for are three pads, from the most even to one much lighter, whatever mass and time weigh; then what weighs
    them chooses among those and the levels as they are. Left out are pads that no body could tell from the levels,
    where these keep all limits. Each is found by a pattern search over the logarithms of the moduli on about 1000
    points of the patch; it may be a local least. It goes over curves between a few printable ones, first from the
    softest to the firmest, then near the place found. The settings chosen are pressed on all points.
    """
    _refuse(patch, len(zones), neighbors, goal)
    served = Presses(list(cases if goal.loads != "first" else cases[:1]), patch, [zone.name for zone in zones], laid)
    own = [zone.untuned for zone in zones]
    even = even_shares(patch, len(zones))
    before = served.carried(own)
    kept: list[Mapping[int, float]] = [
        {number: result.zones[number].share.value for number in goal.relieve} for result in before or ()
    ] or [{} for _ in served.cases]
    ladders = [Ladder.of(zone.choose, zone.takes) for zone in zones]
    low, high = (np.array([ladder.log_kpa[end] for ladder in ladders]) for end in (0, -1))
    reached = np.log([each.reached_kpa for each in own])
    pairs = PairLimits.of(neighbors, goal, np.log([zone.start_kpa for zone in zones]), reached)
    few = served.fewer()
    ratios = [high_ratio(Borne.of(each)) for each in before or ()] or [np.ones(len(zones)) for _ in served.cases]
    wide = PadSearch(few, zones, own, pairs, goal, even, kept, low, high, ladders, ratios)
    as_is = wide.tried(AS_IS, own, is_known=True)
    context = _Context(served, zones, own, before, pairs, goal, even, kept)
    if goal.is_relief and before is not None:
        outcome = context.outcome(own, before, (low, high))
        if not unmet(outcome):
            return replace(context.tuning(outcome, (as_is,), as_is, 1), binding=(), traded=(), unchanged=UNCHANGED)
    for number in goal.relieve:
        high[number] = min(high[number], reached[number])
        low[number] = min(low[number], high[number])
    tried, asked = _tried(replace(wide, low=low, high=high), as_is)
    taken = min((pad for pad in tried if pad.is_felt), key=lambda pad: pad.whole_cost(goal))
    is_unchanged = taken is as_is and before is not None
    after = before if is_unchanged and before is not None else served.checked(taken.chosen)
    found = context.tuning(context.outcome(taken.chosen, after, (low, high)), tuple(tried), taken, asked)
    if is_unchanged and found.is_met:
        return replace(found, binding=(), traded=(), unchanged=UNFELT + lighter_unfelt(tried))
    return found


def _refuse(patch: ContactPatch, count: int, neighbors: Sequence[tuple[int, int]], goal: Goal) -> None:
    if count == 0 or int(patch.zone.max()) >= count:
        raise InputError(f"The contact patch has zone {int(patch.zone.max())}, but {count} zones can be tuned.")
    if any(not 0 <= index < count for pair in neighbors for index in pair) or any(
        not 0 <= index < count for index in (*goal.relieve, *(number for number, _ in goal.caps))
    ):
        raise InputError(f"Neighbors, zones to relieve or zones with a most pressure point past the {count} zones.")


def _tried(search: PadSearch, as_is: TriedPad) -> tuple[list[TriedPad], int]:
    """Return the levels as they are and the pads found, each once, and how often the body was pressed to find them."""
    asked, pads = 1, []
    alone: list[TriedPad] = []
    near: list[Float] = []
    if len(search.presses.cases) > 1:
        first = replace(search.presses, cases=search.presses.cases[:1])
        for pad, place, more in replace(
            search, presses=first, kept=search.kept[:1], high_ratios=search.high_ratios[:1]
        ).pads():
            alone.append(search.tried(f"{pad.name}, first load alone", pad.chosen))
            near.append(place)
            asked += more
    for pad, _, more in search.pads(near):
        pads.append(pad)
        asked += more
    found: dict[tuple[str, ...], TriedPad] = {}
    for pad in (as_is, *pads, *alone):
        found.setdefault(tuple(f"{each.settings!r} {each.reached_kpa:.6g}" for each in pad.chosen), pad)
    return [
        pad
        if pad is as_is or not (as_is.is_within and pad.borne) or is_felt(as_is.borne, pad.borne)
        else replace(pad, is_felt=False)
        for pad in found.values()
    ], asked


@dataclass(frozen=True, eq=False)
class _Context:
    """What a choice of settings is told with."""

    served: Presses
    zones: Sequence[TunableZone]
    own: Sequence[Chosen]
    before: Sequence[LoadResult] | None
    pairs: PairLimits
    goal: Goal
    even: Float
    kept: Sequence[Mapping[int, float]]

    def outcome(self, chosen: Sequence[Chosen], after: Sequence[LoadResult], reach: tuple[Float, Float]) -> Outcome:
        first, old = after[0], self.before[0] if self.before else None
        tuned = tuple(
            TunedZone(
                zone.name,
                self.own[number].reached_kpa,
                chosen[number].reached_kpa,
                old.zones[number].share.value if old else None,
                first.zones[number].share.value,
                float(self.even[number]),
                chosen[number],
            )
            for number, zone in enumerate(self.zones)
        )
        over = [
            excess(Borne.of(result), self.even, self.goal, kept) for result, kept in zip(after, self.kept, strict=True)
        ]
        log_kpa = np.log([each.reached_kpa for each in chosen])
        pairs = self.pairs.excess(log_kpa, self.goal)
        return Outcome(self.served.cases, self.before, after, tuned, over, self.pairs, pairs, self.goal, reach)

    def tuning(self, outcome: Outcome, tried: tuple[TriedPad, ...], taken: TriedPad, asked: int) -> Tuning:
        broken = unmet(outcome)
        olds: Sequence[LoadResult | None] = self.before or [None] * len(outcome.after)
        notes = [note for zone in outcome.tuned for note in zone.chosen.notes]
        if self.before is None:
            notes.insert(0, to_look_at("With the zones' own levels the pad could not carry the load at all."))
        rigid = (RIGID,) if self.served.cases[0].flesh is None else ()
        loads = zip(self.served.cases, olds, outcome.after, strict=True)
        return Tuning(
            outcome.tuned,
            tuple(ServedLoad(case, old, new) for case, old, new in loads),
            not broken,
            broken,
            doubts(outcome),
            binding_limits(outcome),
            traded(outcome),
            tried,
            taken,
            asked,
            tuple(dict.fromkeys((*rigid, *beside(outcome), *notes))),
        )
