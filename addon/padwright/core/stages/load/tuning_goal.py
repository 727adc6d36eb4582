"""What tuning aims for and what must hold, what came of a zone, and by how much a pad misses the aim."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float
from ..material.choosing import Chosen
from .load_case import ContactPatch
from .tuning_press import Borne

_PENALTIES = {"ratio": 400.0, "step": 400.0, "margin": 80.0, "sinkage": 80.0, "spared": 80.0, "cap": 80.0}
_RELIEF_PENALTY = 20.0
"""What exceeding a limit wholly (by its own size) costs against the logarithm of peak over mean. Limits come before
evenness; where they fight, neighbors that would shear past each other weigh most, then bottoming, sinkage, the most
pressure under a zone and that a zone to be relieved bears no more than it did, then how far it is relieved."""

CAP_ROOM = 0.03
"""A most pressure is aimed at with so much to spare: settings are rounded, which moves a modulus by up to 2 %, and the
search presses some of the points."""


@dataclass(frozen=True)
class Goal:
    """What is aimed for and what must hold."""

    # Zones to relieve. None of them gets firmer than its level.
    relieve: tuple[int, ...] = ()
    # They carry at most so much of what an even pad would give them, and no more than with the levels as they are.
    relief_share: float = 0.5
    sinkage_limit_mm: float = 1e9
    least_bottoming_margin: float = 0.0
    # Between neighbors; where the levels chosen for two of them lie further apart, these two may.
    greatest_modulus_ratio: float = 1e9
    level_step_limit: float = 1e9
    level_moduli_kpa: tuple[float, ...] = (1.0, 10.0)  # of the levels 1, 2, ...
    # (zone, kPa): the high bound of the zone's peak pressure is no more.
    caps: tuple[tuple[int, float], ...] = ()
    # Whether the levels asked for are kept as far as the limits allow, and evenness is a lesser wish.
    keeps_levels: bool = False
    # How many percent higher the peak may get for 10 % less mass, and for 10 % less time.
    peak_for_mass_pct: float = 0.5
    peak_for_time_pct: float = 0.5
    loads: str = "worst"  # of several: the "first" alone, the "worst" of all, or their "mean" by weight

    @property
    def is_relief(self) -> bool:
        """Whether the levels as they are stay where all limits hold."""
        return self.keeps_levels or bool(self.relieve)

    def level(self, log_kpa: Float) -> Float:
        """Return the firmness level of a modulus, carried on beyond the ends with the end's slope."""
        known = np.log(self.level_moduli_kpa)
        index = np.clip(np.searchsorted(known, log_kpa) - 1, 0, len(known) - 2)
        return np.asarray(1.0 + index + (log_kpa - known[index]) / (known[index + 1] - known[index]))


@dataclass(frozen=True, eq=False)
class PairLimits:
    """How far neighbors may lie apart: as the goal says, or as the levels chosen for them do if these are further."""

    pairs: Sequence[tuple[int, int]]
    log_ratio: Float  # (p,)
    step: Float  # (p,) levels
    is_own: Sequence[bool]  # (p,) whether it is the chosen levels that lie further apart than the goal allows

    @staticmethod
    def of(pairs: Sequence[tuple[int, int]], goal: Goal, *log_kpa: Float) -> PairLimits:
        """Return the limits of pairs; `log_kpa` are moduli of the levels chosen, as wished and as printed."""
        one, two = (np.array([pair[end] for pair in pairs], dtype=np.intp) for end in (0, 1))
        ratio = np.full(len(pairs), np.log(goal.greatest_modulus_ratio))
        step = np.full(len(pairs), goal.level_step_limit)
        own_ratio = np.max([np.abs(each[one] - each[two]) for each in log_kpa], axis=0)
        own_step = np.max([np.abs(goal.level(each)[one] - goal.level(each)[two]) for each in log_kpa], axis=0)
        is_own = (own_ratio > ratio) | (own_step > step)
        # Where it is their own the ratio alone holds: levels are not as far apart in ratio everywhere.
        return PairLimits(pairs, np.where(is_own, own_ratio, ratio), np.where(is_own, np.inf, step), is_own.tolist())

    def excess(self, log_kpa: Float, goal: Goal) -> tuple[Float, Float]:
        """Return by how much each pair lies too far apart: as a logarithm, and in steps as a share of the limit."""
        level = goal.level(log_kpa)
        apart = np.array([abs(float(log_kpa[a] - log_kpa[b])) for a, b in self.pairs])
        steps = np.array([abs(float(level[a] - level[b])) for a, b in self.pairs])
        return apart - self.log_ratio, steps / self.step - 1.0


@dataclass(frozen=True, eq=False)
class TunedZone:
    """What came of a zone."""

    name: str
    before_kpa: float  # secant moduli, as levels have them
    after_kpa: float
    # Shares of the first load; the last on an even pad.
    share_before: float | None
    share_after: float
    share_even: float
    chosen: Chosen


def even_shares(patch: ContactPatch, count: int) -> Float:
    """Return the share of the load that each zone would carry if pressure were the same everywhere: its area's."""
    area = np.bincount(patch.zone, patch.area_mm2, count)
    return np.asarray(area / area.sum())


def unevenness(borne: Borne, even: Float, goal: Goal) -> float:
    """Return peak over mean pressure; where zones are to be relieved, over the others."""
    if not goal.relieve:
        return borne.evenness
    others = [number for number in range(len(even)) if number not in goal.relieve and even[number] > 0.0]
    area, share = float(even[others].sum()), float(borne.share[others].sum())
    if area <= 0.0 or share <= 0.0:
        return borne.evenness
    mean = borne.peak_kpa / borne.evenness * share / area  # the first two: the mean on all that the body covers
    return float(borne.zone_peak_kpa[others].max()) / mean


def served_unevenness(borne: Sequence[Borne], scales: Float, weights: Float, even: Float, goal: Goal) -> float:
    """Return peak over mean of the worst load, or the mean over the loads.

    Each load's is taken times its force over the greatest (`scales`): what is compared is pressure, so a light load
    that lies unevenly is not the worst for that.
    """
    each = np.array([unevenness(one, even, goal) for one in borne]) * scales
    return float(weights @ each / weights.sum()) if goal.loads == "mean" else float(each.max())


def excess(borne: Borne, even: Float, goal: Goal, kept: Mapping[int, float], cap_room: float = 0.0) -> dict[str, float]:
    """Return for every limit on a load by how much it is exceeded, as a share of itself; 0 where it holds.

    `even`, (z,), are the shares of an even pad. `kept` is what the zones to relieve carry with the levels as they
    are: no more than that; `cap_room` is the share of a most pressure that is left to spare.
    """
    found = {
        "sinkage": borne.sinkage_mm / goal.sinkage_limit_mm - 1.0,
        "margin": goal.least_bottoming_margin - borne.margin,
    }
    for number in goal.relieve:
        if even[number] > 0.0:
            found[f"relief {number}"] = float(borne.share[number]) / (goal.relief_share * even[number]) - 1.0
        if kept.get(number, 0.0) > 0.0:
            found[f"spared {number}"] = float(borne.share[number]) / kept[number] - 1.0
    for number, most in goal.caps:
        found[f"cap {number}"] = float(borne.zone_high_kpa[number]) / (most * (1.0 - cap_room)) - 1.0
    return {name: max(value, 0.0) for name, value in found.items()}


def broken_cost(over: Sequence[Mapping[str, float]], pairs: tuple[Float, Float]) -> float:
    """Return what exceeding limits costs: each as the worst load exceeds it, and the worst pair of neighbors."""
    cost = sum(_PENALTIES.get(name.split()[0], _RELIEF_PENALTY) * max(each[name] for each in over) for name in over[0])
    ratio, step = (max(float(each.max(initial=0.0)), 0.0) for each in pairs)
    return cost + _PENALTIES["ratio"] * ratio + _PENALTIES["step"] * step
