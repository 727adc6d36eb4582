"""What a load check does not know, and the 5th and 95th percentile of each answer that follows from it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtri

from ...base.cached import cached_property
from ...base.mesh import Float
from ..material.curves import CurveBand, StressCurve
from ..material.material_model import NINETY
from .bulging_layers import Bounds
from .contact_solve import Run, SolveInput, make_setting, solve, with_body
from .curve_table import CurveTable
from .load_case import ContactPatch
from .mat_error import AS_SHOWN, WAYS

_POINTS = 4000
"""Points on which the effect of a source is computed; their own middle is compared with, so that only ratios count."""

_POINTS_DRAWN, _DRAWS = 1500, 256
"""The same where draws are taken, and how many: percentiles are then good to about an eighth of a deviation."""

_UNEVEN = 0.25
"""How far moves of the sinkage up and down may differ, over their distance, and still be added in squares."""

_LINEAR = ("tilt", "left", "share")
"""Measures whose moves are added as they are; all others as logarithms, or as differences where one is not above 0."""


@dataclass(frozen=True, eq=False)
class Move:
    """One source at one end of its spread."""

    curves: Sequence[StressCurve] | CurveTable
    ratios: Float  # (k,); what a layer adds to each
    load: float = 1.0  # load and flesh: factors
    flesh_thickness: float = 1.0
    flesh_stress: float = 1.0
    heaping: float = 0.0  # how the clay had pressed, as of `with_body`
    narrow: float = 0.0  # where what the pad around narrow contacts adds lies between low (-1) and high (1)
    evened: float = 0.0  # the same of what walls even out along their run
    mat: tuple[float, ...] = AS_SHOWN  # which way the mat errs that showed how the body bore

    @cached_property
    def pads(self) -> CurveTable:
        """The curves in one table."""
        return self.curves if isinstance(self.curves, CurveTable) else CurveTable.of(self.curves)

    def on(self, setting: SolveInput) -> SolveInput:
        """Return the load and the body of a setting so moved."""
        body = with_body(setting, self.flesh_thickness, self.flesh_stress, self.heaping, self.mat)
        return replace(body, force_mn=body.force_mn * self.load, narrow_at=self.narrow, evened_at=self.evened)


def moves(
    setting: SolveInput, groups: Sequence[str], bands: Sequence[CurveBand], ratios: Sequence[Bounds]
) -> list[tuple[Move, Move]]:
    """Return each source of error at its 5th and its 95th percentile, all others left at their middle.

    Sources: what zones of one material share (`CurveBand.shared`; low and high where a band has none), how the zones'
    tops and sides are held, what each zone has of its own (`CurveBand.own_factor`), the load, the flesh, how the clay
    pressed where that is known between two ends, the ways in which the mat errs that showed it, what the pad around
    narrow contacts adds, and what walls even out.
    """
    middle = [band.value for band in bands]
    center = np.array([ratio.value for ratio in ratios])
    found = []
    for group in sorted(set(groups)):
        own = [name == group for name in groups]
        pairs = [band.shared or ((band.low, band.high),) for band in bands]
        count = max(len(pair) for pair, is_own in zip(pairs, own, strict=True) if is_own)
        for source in range(count):
            ends = []
            for end in (0, 1):
                curves = [
                    pair[source][end] if is_own and source < len(pair) else value
                    for pair, is_own, value in zip(pairs, own, middle, strict=True)
                ]
                ends.append(Move(curves, center))
            found.append((ends[0], ends[1]))
    if any(ratio.low != ratio.high for ratio in ratios):
        low, high = (np.array([getattr(ratio, end) for ratio in ratios]) for end in ("low", "high"))
        found.append((Move(middle, low), Move(middle, high)))
    for number, band in enumerate(bands):
        if band.own_factor > 1.0:
            one = np.arange(len(bands)) == number
            factor = band.own_factor ** one.astype(np.float64)
            found.append((Move(middle, center / factor), Move(middle, center * factor)))
    whole, case, clay = Move(middle, center), setting.case, setting.patch.clay_kpa
    if setting.narrow is not None and setting.narrow.is_unsure:
        found.append((replace(whole, narrow=-1.0), replace(whole, narrow=1.0)))
    if setting.evened is not None and (setting.evened != 1.0).any():
        found.append((replace(whole, evened=-1.0), replace(whole, evened=1.0)))
    if case.load_factor > 1.0:
        found.append((replace(whole, load=1.0 / case.load_factor), replace(whole, load=case.load_factor)))
    if case.flesh is not None:
        thin, thick = case.flesh.thickness_factors
        soft, stiff = case.flesh.stress_factors
        found.append((replace(whole, flesh_thickness=thin), replace(whole, flesh_thickness=thick)))
        found.append((replace(whole, flesh_stress=soft), replace(whole, flesh_stress=stiff)))
        if clay is not None and np.ptp(clay, axis=0).any():
            found.append((replace(whole, heaping=-1.0), replace(whole, heaping=1.0)))
    is_moved = case.flesh is not None or (case.point_mm is None and case.tilt == "free")
    if setting.patch.mat_ways is not None and is_moved:
        for way in np.flatnonzero(setting.patch.mat_ways.any(axis=1)):
            ways = [tuple(sign * float(number == way) for number in range(WAYS)) for sign in (-1.0, 1.0)]
            found.append((replace(whole, mat=ways[0]), replace(whole, mat=ways[1])))
    return [pair for pair in found if not _is_still(pair, middle, center)]


def _is_still(pair: tuple[Move, Move], middle: Sequence[StressCurve], center: Float) -> bool:
    return all(
        (each.load, *_asides(each)) == (1.0, *_NOTHING_ASIDE)
        and (each.ratios == center).all()
        and (each.curves is middle or not _differ(each.pads, CurveTable.of(middle)))
        for each in pair
    )


def _asides(move: Move) -> tuple[float, ...]:
    """Return how a move takes what is neither curve nor load: flesh, clay, what the pad around adds, the mat."""
    return move.flesh_thickness, move.flesh_stress, move.heaping, move.narrow, move.evened, *move.mat


_NOTHING_ASIDE = (1.0, 1.0, 0.0, 0.0, 0.0, *AS_SHOWN)


@dataclass(frozen=True, eq=False)
class Spread:
    """The measures at the middle of the points used, at both ends of every source or of draws; area pressed to nothing.

    Where the sources move the sinkage about as much up as down, their moves add as the root of the sum of squares.
    Where not (the pad gives way or bottoms out within the spread) that would run past what a pad can do; then the
    percentiles are those of draws from all sources together, and `draws` holds them. `leans` says of each source how
    much further it moves stiffness one way than the other by itself, over the distance: the sinkage may follow that;
    None of a source that is the body's or lies in the outline of a contact: under those no pad gives way by itself.
    """

    middle: dict[str, float]
    ends: tuple[tuple[dict[str, float], dict[str, float]], ...]
    draws: tuple[dict[str, float], ...]
    gone_mm2: tuple[float, ...]
    leans: tuple[float | None, ...] = ()

    def bounds(self, name: str, value: float) -> tuple[float, float]:
        """Return the 5th and 95th percentile of a measure whose middle, with all points, is `value`.

        With one source whose measure only rises or only falls they are exact.
        """
        kind = name.split(".")[-1]
        seen = [end[name] for pair in self.ends for end in pair] + [draw[name] for draw in self.draws]
        every = [self.middle[name], value, *seen]
        flipped = kind == "margin"  # 1 - margin is what grows with the load
        is_log = max(every) < 1.0 if flipped else kind not in _LINEAR and min(every) > 0.0

        def scale(number: float) -> float:
            number = 1.0 - number if flipped else number
            return float(np.log(number)) if is_log else number

        def back(number: float) -> float:
            number = float(np.exp(number)) if is_log else number
            return 1.0 - number if flipped else number

        start = scale(self.middle[name])
        if self.draws:
            low, high = np.percentile([scale(draw[name]) - start for draw in self.draws], (5.0, 95.0))
            down, up = min(float(low), 0.0), max(float(high), 0.0)
        else:
            steps = np.array([[scale(end[name]) - start for end in pair] for pair in self.ends]).reshape(-1, 2)
            down = -float(np.linalg.norm(np.minimum(steps.min(axis=1), 0.0)))
            up = float(np.linalg.norm(np.maximum(steps.max(axis=1), 0.0)))
        if down == up == 0.0:
            return value, value
        ends = sorted((back(scale(value) + down), back(scale(value) + up)))
        top = 1.0 if kind == "share" else np.inf
        return (
            (float(np.clip(ends[0], 0.0, top)), float(np.clip(ends[1], 0.0, top)))
            if kind in _LINEAR
            else (ends[0], ends[1])
        )

    @property
    def is_even(self) -> bool:
        """Whether all sources together move the sinkage up and down as they move the stiffness, as logarithms."""
        start = np.log(self.middle["sinkage"])
        of_pad = [(pair, lean) for pair, lean in zip(self.ends, self.leans, strict=True) if lean is not None]
        if not of_pad:
            return True
        steps = np.log([[end["sinkage"] for end in pair] for pair, _ in of_pad]) - start
        apart = np.ptp(steps, axis=1)
        both = steps.sum(axis=1) - np.array([lean for _, lean in of_pad]) * apart
        return float(np.linalg.norm(both)) <= _UNEVEN * float(np.linalg.norm(apart))


def spread(
    setting: SolveInput,
    middle: Run,
    bands: Sequence[CurveBand],
    ratios: Float,
    pairs: Sequence[tuple[Move, Move]],
    measure: Callable[[SolveInput, Run], dict[str, float]],
) -> Spread:
    """Solve again at both ends of every source, or for draws where those do not add, and measure.

    Raises SolveError when no balance was found.
    """
    gone: list[float] = []

    def push(few: SolveInput, motion: Float, move: Move) -> dict[str, float]:
        pushed = move.on(few)
        found = solve(pushed, move.pads, move.ratios, motion)
        gone.append(float(few.patch.area_mm2[found.strain >= 1.0].sum()))
        return measure(pushed, found)

    few, run = _fewer(setting, middle, bands, ratios, _POINTS)
    motion = run.found.motion
    ends = tuple((push(few, motion, low), push(few, motion, high)) for low, high in pairs)
    middle_pads = CurveTable.of([band.value for band in bands])
    found = Spread(measure(few, run), ends, (), tuple(gone), tuple(_lean(pair, middle_pads) for pair in pairs))
    if len(pairs) < 2 or found.is_even:
        return found
    few, run = _fewer(setting, middle, bands, ratios, _POINTS_DRAWN)
    joint = _Joint(Move(middle_pads, ratios), pairs)
    draws = tuple(push(few, run.found.motion, joint.at(row)) for row in _normal_draws(len(pairs)))
    return Spread(measure(few, run), (), draws, tuple(gone))


def _lean(pair: tuple[Move, Move], middle: CurveTable) -> float | None:
    """Return how much further a source softens its curves than it stiffens them, over the distance; 0 where neither."""
    if any(_asides(end) != _NOTHING_ASIDE for end in pair):
        return None
    stiff = [float(np.log(end.pads.slope_kpa[:, 0] / middle.slope_kpa[:, 0]).mean()) for end in pair]
    apart = abs(stiff[1] - stiff[0])
    return -float(sum(stiff)) / apart if apart > 1e-9 else 0.0


def _normal_draws(count: int) -> Float:
    """Return draws of independent normal numbers (n, count), each number's even in its distribution (Latin hypercube).

    McKay, Beckman & Conover 1979, Technometrics 21:239, cited, not read.
    """
    rng = np.random.default_rng(0)
    place = (np.arange(_DRAWS) + 0.5) / _DRAWS
    return ndtri(np.stack([rng.permutation(place) for _ in range(count)], axis=1)) / NINETY


class _Joint:
    """All sources moved together; factors on stress, layer and load multiply."""

    def __init__(self, base: Move, pairs: Sequence[tuple[Move, Move]]) -> None:
        self.base = base
        self.ratios = np.array([[np.log(end.ratios / base.ratios) for end in pair] for pair in pairs])
        self.factors = np.log([[(end.load, end.flesh_thickness, end.flesh_stress) for end in pair] for pair in pairs])
        self.places = np.array([[(end.heaping, end.narrow, end.evened, *end.mat) for end in pair] for pair in pairs])
        # By how much each source that moves curves does, (sources, 2 ends, k, g).
        grid, own = base.pads.strain, np.maximum(base.pads.stress_kpa, 1e-12)
        kinds, place = np.indices(own.shape)
        self.moving = [number for number, pair in enumerate(pairs) if any(_differ(end.pads, base.pads) for end in pair)]
        self.stress = np.zeros((len(self.moving), 2, *own.shape))
        for row, number in enumerate(self.moving):
            for column, end in enumerate(pairs[number]):
                pads = end.pads
                same = pads.strain is grid or np.array_equal(pads.strain, grid)
                stress = pads.stress_kpa if same else pads.at(grid[place], kinds)[0]
                self.stress[row, column, :, 1:] = np.log(np.maximum(stress, 1e-12) / own)[:, 1:]

    def at(self, place: Float) -> Move:
        """Return each source so far towards its low (-1) or high (1) end."""
        far = np.stack([np.maximum(-place, 0.0), np.maximum(place, 0.0)], axis=1)
        pads = self.base.pads
        if self.moving:
            pads = pads.times(np.exp(np.tensordot(far[self.moving], self.stress, axes=([0, 1], [0, 1]))))
        ratios = self.base.ratios * np.exp(np.einsum("se,sek->k", far, self.ratios))
        load, thickness, stress = np.exp(np.einsum("se,sef->f", far, self.factors)).tolist()
        heaping, narrow, evened, *mat = np.einsum("se,sef->f", far, self.places).tolist()
        heaping = float(np.clip(heaping, -1.0, 1.0))
        return Move(pads, ratios, load, thickness, stress, heaping, narrow, evened, tuple(mat))


def _differ(one: CurveTable, other: CurveTable) -> bool:
    """Return whether two tables hold other curves."""
    return one is not other and not (
        np.array_equal(one.strain, other.strain) and np.array_equal(one.stress_kpa, other.stress_kpa)
    )


def _fewer(
    setting: SolveInput, middle: Run, bands: Sequence[CurveBand], ratios: Float, most: int
) -> tuple[SolveInput, Run]:
    """Return a setting of fewer points, the most strained, most pressed and thinnest among them, and its solve."""
    patch = setting.patch
    count = len(patch.area_mm2)
    if count <= most:
        return setting, middle
    some = setting.order[:: -(-count // most)]
    one = np.isin(np.arange(count), some)
    area = np.where(one, patch.area_mm2, 0.0)
    for number in range(len(bands)):  # each zone keeps its area
        here = patch.zone == number
        if area[here].sum() > 0.0:
            area[here] *= patch.area_mm2[here].sum() / area[here].sum()
    extremes = [np.argmax(middle.strain), np.argmax(middle.pressure), np.argmin(patch.thickness_mm)]
    added = [point for point in extremes if not one[point]]
    area[added] = patch.area_mm2[added]
    keep = np.flatnonzero(one | np.isin(np.arange(count), extremes))
    small = ContactPatch(
        patch.position[keep], area[keep], patch.thickness_mm[keep], patch.zone[keep], patch.press_direction,
        patch.gaps[keep], clay_kpa=None if patch.clay_kpa is None else patch.clay_kpa[:, keep],
        mat_ways=None if patch.mat_ways is None else patch.mat_ways[:, keep],
        firmer=None if patch.firmer is None else patch.firmer[keep],
        evened=None if setting.evened is None else setting.evened[keep],
    )  # fmt: skip
    point = None if patch.press_direction is None else setting.case.point_mm
    if point is None and patch.press_direction is not None:
        point = patch.middle
    few = make_setting(replace(setting.case, point_mm=point), small, bands, setting.names, setting.zone_of)
    narrow = None if setting.narrow is None else setting.narrow.part(keep)
    few = replace(few, force_mn=setting.force_mn, narrow=narrow, is_middle=setting.is_middle)
    motion = middle.found.motion.copy()
    motion[1:] *= few.reach_mm / setting.reach_mm
    return few, solve(few, CurveTable.of([band.value for band in bands]), ratios, motion)
