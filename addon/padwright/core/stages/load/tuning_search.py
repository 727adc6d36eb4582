"""The search behind tuning: a small contact patch, curves between the rungs of a ladder, a pattern search."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from ...base.mesh import Float
from ..material.choosing import Chosen
from ..material.curves import StressCurve
from ..material.region_settings import RegionSettings
from .load_case import ContactPatch
from .zone_sides import zone_borders

Takes = Callable[[RegionSettings], tuple[float, float]]
"""Mass in g and hours of a zone printed with settings."""

FEW = 1000
"""Points of the contact patch that the search presses; the outcome is checked on all of them."""

_THINNEST = 4
"""So many of the thinnest points of each zone are always among them: they bottom out first."""

_GRID = np.concatenate([np.linspace(0.0, 0.2, 41), np.linspace(0.22, 0.96, 38)])
NEARBY = 0.2
"""Logarithm of a modulus: how far about a place found the second search goes."""

_FIRST_STEP = 0.4
_LAST_STEP = 0.01
"""Logarithms of moduli: from a half more down to 1 %, finer than the fill share is rounded to."""


def smaller_patch(patch: ContactPatch, zone_count: int) -> ContactPatch:
    """Return about `FEW` of a patch's points that stand for all: each zone keeps its area and its thinnest places."""
    if len(patch.position) <= FEW:
        return patch
    stride = -(-len(patch.position) // FEW)
    chosen = [np.arange(0, len(patch.position), stride)]
    for number in range(zone_count):
        here = np.flatnonzero(patch.zone == number)
        chosen.append(here[np.argsort(patch.thickness_mm[here], kind="stable")[:_THINNEST]])
    index = np.unique(np.concatenate(chosen))
    area = patch.area_mm2[index].copy()
    for number in range(zone_count):
        is_zone = patch.zone[index] == number
        if area[is_zone].sum() > 0.0:
            area[is_zone] *= patch.area_mm2[patch.zone == number].sum() / area[is_zone].sum()
    return ContactPatch(
        patch.position[index], area, patch.thickness_mm[index], patch.zone[index], patch.press_direction,
        patch.gaps[index], border_mm=zone_borders(patch, zone_count),
        clay_kpa=None if patch.clay_kpa is None else patch.clay_kpa[:, index],
        mat_ways=None if patch.mat_ways is None else patch.mat_ways[:, index],
        firmer=None if patch.firmer is None else patch.firmer[index],
        evened=None if patch.evened is None else patch.evened[index],
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Ladder:
    """Stress curves of one zone over its modulus, between the softest and the firmest it can be printed."""

    log_kpa: Float  # (r,); logarithms of the secant moduli reached, rising
    curves: Sequence[StressCurve]
    taken: Float  # (r, 2); mass in g and hours

    @staticmethod
    def of(choose: Callable[[float], Chosen], takes: Takes, rungs: int = 7) -> Ladder:
        """Return the ladder of a zone, `choose` giving the settings for a modulus in kPa, `takes` what they take."""
        soft, firm = choose(1e-3), choose(1e9)
        between = np.geomspace(soft.reached_kpa, firm.reached_kpa, rungs)[1:-1]
        every = [soft, *(choose(float(kpa)) for kpa in between), firm]
        return Ladder._rising(every, takes)

    @staticmethod
    def near(choose: Callable[[float], Chosen], takes: Takes, log_kpa: float, rungs: int = 3) -> Ladder:
        """Return the ladder about one modulus, up to `NEARBY` either way: finer than the whole one."""
        offs = np.linspace(-NEARBY, NEARBY, rungs)
        return Ladder._rising([choose(float(np.exp(log_kpa + off))) for off in offs], takes)

    @staticmethod
    def _rising(every: Sequence[Chosen], takes: Takes) -> Ladder:
        kept: list[Chosen] = []
        for each in sorted(every, key=lambda each: each.reached_kpa):
            if not kept or each.reached_kpa > kept[-1].reached_kpa * 1.001:
                kept.append(each)
        return Ladder(
            np.log([each.reached_kpa for each in kept]),
            [_regridded(each.curve.value) for each in kept],
            np.array([takes(each.settings) for each in kept]),
        )

    def takes(self, log_kpa: float) -> Float:
        """Return mass in g and hours at a modulus, (2,)."""
        return np.array([np.interp(log_kpa, self.log_kpa, self.taken[:, column]) for column in (0, 1)])

    def curve(self, log_kpa: float) -> StressCurve:
        """Return the curve at a modulus: the neighbors' stresses mixed along the logarithm, other numbers straight."""
        last = len(self.curves) - 1
        if last == 0:
            return self.curves[0]
        index = int(np.clip(np.searchsorted(self.log_kpa, log_kpa) - 1, 0, last - 1))
        low, high = self.curves[index], self.curves[index + 1]
        share = (log_kpa - self.log_kpa[index]) / (self.log_kpa[index + 1] - self.log_kpa[index])
        share = float(np.clip(share, 0.0, 1.0))
        if low.poisson != high.poisson:  # a fill and a solid: nothing lies between them
            return low if share < 0.5 else high
        stress = low.stress_kpa ** (1.0 - share) * high.stress_kpa**share
        plain = [each.name for each in fields(StressCurve) if each.name not in ("strain", "stress_kpa", "poisson")]
        mixed = {name: getattr(low, name) * (1.0 - share) + getattr(high, name) * share for name in plain}
        return replace(low, stress_kpa=stress, **mixed)


def _regridded(curve: StressCurve) -> StressCurve:
    stress = np.maximum.accumulate(curve.stress(_GRID))
    return replace(curve, strain=_GRID, stress_kpa=stress)


def pattern_search(
    cost: Callable[[Float], float],
    start: Float,
    low: Float,
    high: Float,
    groups: Sequence[Sequence[int]],
    *,
    first_step: float = _FIRST_STEP,
    last_step: float = _LAST_STEP,
) -> tuple[Float, float, int]:
    """Return the least place of a cost that a pattern search finds between bounds, its cost, and how often it asked.

    Places and bounds are (k,); the coordinates of a group are also tried together.

    Notes
    -----
    Hooke & Jeeves 1961 (J. ACM 8:212, cited, not read): try each direction both ways, repeat a move that helped, halve
    the step when none does. No derivative is asked for, as peaks and limits have kinks; the same start gives the same
    end.
    """
    asked = 0
    at = np.clip(start, low, high)
    best = cost(at)
    asked += 1
    directions = [np.eye(len(start))[index] for index in range(len(start))]
    for group in groups:
        direction = np.zeros(len(start))
        direction[list(group)] = 1.0
        if len(group) > 1 and not any(np.array_equal(direction, other) for other in directions):
            directions.append(direction)
    step = first_step
    while step >= last_step:
        before = at
        for direction in directions:
            for sign in (1.0, -1.0):
                tried = np.clip(at + sign * step * direction, low, high)
                if np.array_equal(tried, at):
                    continue
                value = cost(tried)
                asked += 1
                if value < best - 1e-9:
                    at, best = tried, value
                    break
        if np.array_equal(at, before):
            step *= 0.5
            continue
        tried = np.clip(2.0 * at - before, low, high)
        value = cost(tried)
        asked += 1
        if value < best - 1e-9:
            at, best = tried, value
    return at, best, asked
