"""The strain at which each zone's level is met: the one that it has under its own load."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from ...base.errors import SolveError
from ...base.mesh import Float
from ..material.choosing import Chosen
from ..material.curves import LEVEL_STRAIN
from .contact import press_load
from .contact_solve import Run
from .level_basis import LevelStrains
from .load_case import ContactPatch, LoadCase
from .tuning_search import smaller_patch

FIRST_STRAIN = 0.02
"""Where the search starts: what a body's weight makes of a wide printed pad (our own load checks)."""

LEAST_STRAIN, MOST_STRAIN = 0.001, 0.3
"""Below, a curve is straight; above, cells begin to shut and a modulus says little (our choice)."""

_MOST_ROUNDS = 8
_SETTLED = 0.03
"""Logarithm of a strain. A fill's secant modulus moves by less than half of that, within what a fill share is rounded
to."""

Choose = Callable[[Mapping[int, float]], dict[int, Chosen]]
"""From a strain for each zone to its settings."""


def without_load(numbers: Sequence[int]) -> LevelStrains:
    """Return the strains where no load says any."""
    return LevelStrains(dict.fromkeys(numbers, LEVEL_STRAIN))


def settle(
    case: LoadCase, patch: ContactPatch, numbers: Sequence[int], choose: Choose
) -> tuple[LevelStrains, dict[int, Chosen]]:
    """Choose and press in turn until settings and strains belong together; return the strains and what was chosen.

    `numbers` are the zones that have a region; the patch's zones are among them. A zone's strain is the mean over the
    area of it that bears. From the second round on the next strain is the geometric mean of that chosen for and that
    found: a softer choice gives more, so plain steps could swing. About 1000 points of the patch are pressed, without
    spread. Where the pad cannot carry the load with what was chosen, all strains go up to 10 %; where it cannot so
    either, that is where it stays.
    """
    count = max(numbers) + 1
    few = smaller_patch(patch, count)
    strains = dict.fromkeys(numbers, FIRST_STRAIN)
    bearing: frozenset[int] = frozenset()
    chosen: dict[int, Chosen] = {}
    for number in range(1, _MOST_ROUNDS + 1):
        chosen = choose(strains)
        some = next(iter(chosen.values())).curve.value
        curves = [chosen[zone].curve.value if zone in chosen else some for zone in range(count)]
        try:
            run, _ = press_load(case, few, curves)
        except SolveError:
            if min(strains.values()) >= LEVEL_STRAIN:
                return LevelStrains(strains, bearing, number, False), chosen
            strains = {zone: max(strain, LEVEL_STRAIN) for zone, strain in strains.items()}
            continue
        found, bearing = mean_strains(few, few.area_mm2, run, numbers)
        if max(abs(np.log(found[zone] / strains[zone])) for zone in numbers) <= _SETTLED:
            return LevelStrains(strains, bearing, number), chosen
        if number < _MOST_ROUNDS:
            share = 1.0 if number == 1 else 0.5
            strains = {zone: float(strains[zone] ** (1.0 - share) * found[zone] ** share) for zone in numbers}
    return LevelStrains(strains, bearing, _MOST_ROUNDS, False), chosen


def mean_strains(
    patch: ContactPatch, area_mm2: Float, run: Run, numbers: Sequence[int]
) -> tuple[dict[int, float], frozenset[int]]:
    """Return each zone's strain where it bears, mean over area (n,), and which zones do."""
    area = np.where(run.pressure > 0.0, area_mm2, 0.0)
    mean = float(area @ run.strain) / float(area.sum())
    found, bearing = {}, set()
    for number in numbers:
        own = np.where(patch.zone == number, area, 0.0)
        if own.sum() > 0.0:
            bearing.add(number)
        strain = float(own @ run.strain) / float(own.sum()) if own.sum() > 0.0 else mean
        found[number] = float(np.clip(strain, LEAST_STRAIN, MOST_STRAIN))
    return found, frozenset(bearing)
