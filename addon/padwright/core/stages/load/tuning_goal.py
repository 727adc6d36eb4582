"""What tuning aims for and what must hold, what came of a zone, and by how much a load check misses the aim."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float
from ..material.choosing import Chosen
from .contact import LoadResult
from .load_case import ContactPatch


@dataclass(frozen=True)
class Goal:
    """What is aimed for and what must hold.

    Attributes
    ----------
    relieve : tuple of int
        Zones to relieve; none: pressure as even as can be. None of them gets firmer than its level.
    relief_share : float
        They carry at most so much of what an even pad would give them, and no more than with the levels as they are.
    sinkage_limit_mm, least_bottoming_margin : float
    greatest_modulus_ratio : float
        Between neighbors.
    level_step_limit : float
        Between neighbors, in firmness levels.
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
class TunedZone:
    """What came of a zone.

    Attributes
    ----------
    name : str
    before_kpa, after_kpa : float
        Secant moduli, as levels have them.
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
    whole = result.peak_pressure_kpa.value / result.evenness.value  # the mean on all that the body covers
    mean = whole * share / area
    return max(result.zones[number].peak_pressure_kpa.value for number in others) / mean


def excess(
    result: LoadResult,
    log_kpa: Float,
    even: Float,
    neighbors: Sequence[tuple[int, int]],
    goal: Goal,
    kept: Mapping[int, float],
) -> dict[str, float]:
    """Return for every limit by how much it is exceeded, as a share of itself; 0 where it holds.

    Parameters
    ----------
    result : LoadResult
    log_kpa, even : (k,) float
        Logarithms of the zones' moduli; their shares on an even pad.
    neighbors : sequence of (int, int)
    goal : Goal
    kept : mapping of int to float
        What the zones to relieve carry with the levels as they are: no more than that.
    """
    steps = goal.level(log_kpa)
    ratio = max((abs(float(log_kpa[a] - log_kpa[b])) for a, b in neighbors), default=0.0)
    step = max((abs(float(steps[a] - steps[b])) for a, b in neighbors), default=0.0)
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
        if kept.get(number, 0.0) > 0.0:
            found[f"spared {number}"] = result.zones[number].share.value / kept[number] - 1.0
    return {name: max(value, 0.0) for name, value in found.items()}
