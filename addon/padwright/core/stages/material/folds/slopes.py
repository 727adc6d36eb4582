"""The slope at which a folded wall is as stiff as wished."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ....base.mesh import Float
from ..material_model import MaterialModel
from .fold_print import as_printed, bears_as_kpa, bend_at, softening_of
from .law import SOFTENING, stress_kpa
from .softening import Softening
from .walls import Walls

_SOFTEST_KPA = 1e-3  # softer than any wall
_ROUNDS = 14
_STEEPEST = 80.0  # where the law ends
_BENDINGS = 4
"""Rounds in which the law's bend with the slope settles: stress falls by 5 % and more a degree, bends by less than 1 %,
so each round leaves a fifth of what was off at most."""
_CLOSE = 2e-4  # of the stiffness: a tenth of what the table is worth


def slope_for(
    wished_kpa: Float | float,
    strain: Float | float,
    walls: Walls,
    solid_kpa: Float | float,
    poisson: float,
    most_deg: Float | float = 45.0,
    softening: Softening = SOFTENING,
) -> tuple[Float, Float]:
    """Return the slope from upright, degrees (n,), at which walls have a wished secant modulus, and what they reach.

    Both moduli are secants at a nominal `strain` of the core, kPa. All but `poisson` may be arrays (n,). The walls' own
    slope does not count. Where the wish is firmer than upright walls or softer than walls at `most_deg`, the slope is 0
    or `most_deg` and the modulus reached says how far off it is. The level cut is kept: a wall that leans more is
    thinner.
    """
    count = max(len(walls), *(np.size(each) for each in (wished_kpa, strain, solid_kpa, most_deg)))
    walls = walls.at_slope(np.zeros(count))
    wish = np.log(np.broadcast_to(np.asarray(wished_kpa, dtype=np.float64), count))
    solid, pressed, most = (
        np.broadcast_to(np.asarray(each, dtype=np.float64), count) for each in (solid_kpa, strain, most_deg)
    )

    def reached(slope: Float, which: NDArray[np.intp]) -> Float:
        some = walls.at(which).at_slope(slope)
        stress = stress_kpa(some, pressed[which, None], solid[which], poisson, softening)
        return np.asarray(np.log(stress[:, 0] / pressed[which]))

    every = np.arange(count)
    low, high = np.zeros(count), most.copy()
    at_low, at_high = reached(low, every), reached(high, every)
    slope = np.where(wish >= at_low, low, high)
    found = np.where(wish >= at_low, at_low, at_high)
    open_ = np.flatnonzero((wish < at_low) & (wish > at_high))
    side = np.zeros(count)
    for _ in range(_ROUNDS):
        if not len(open_):
            break
        # False position, Illinois' way: the end that stays twice running counts half (Dowell & Jarratt 1971).
        above, below = at_low[open_] - wish[open_], at_high[open_] - wish[open_]
        here = low[open_] + (high[open_] - low[open_]) * np.clip(above / (above - below), 0.02, 0.98)
        now = reached(here, open_)
        slope[open_], found[open_] = here, now
        is_above = now > wish[open_]
        up, down = open_[is_above], open_[~is_above]
        low[up], at_low[up] = here[is_above], now[is_above]
        high[down], at_high[down] = here[~is_above], now[~is_above]
        twice = up[side[up] > 0]
        at_high[twice] = wish[twice] + 0.5 * (at_high[twice] - wish[twice])
        twice = down[side[down] < 0]
        at_low[twice] = wish[twice] + 0.5 * (at_low[twice] - wish[twice])
        side[up], side[down] = 1.0, -1.0
        open_ = open_[np.abs(now - wish[open_]) > _CLOSE]
    return slope, np.exp(found)


def slope_in_print(
    wished_kpa: Float | float, strain: Float | float, walls: Walls, model: MaterialModel, most_deg: Float | float = 45.0
) -> tuple[Float, Float]:
    """Return `slope_for` of a material, as its folds come out of the printer where blocks of them were pressed.

    The slope is the one to ask for: walls that come out leaning more are asked to lean less.
    """
    folds, solid = model.folds, bears_as_kpa(model)
    if folds is None:
        return slope_for(wished_kpa, strain, walls, solid, model.poisson, most_deg)
    more = float(folds.unknowns[2])
    printed = as_printed(walls, width=float(folds.unknowns[1]))
    most = np.clip(np.asarray(most_deg) + more, 0.0, _STEEPEST)
    bend, softening = float(folds.unknowns[5]), softening_of(model)
    slope, factor = np.zeros(1), np.ones(1)
    for _ in range(_BENDINGS):
        found, reached = slope_for(
            np.asarray(wished_kpa) / factor, strain, printed, solid, model.poisson, most, softening
        )
        slope = np.clip(found - more, 0.0, most_deg)
        reached = reached * factor
        factor = np.exp(bend * bend_at(slope))
    return slope, reached


def reached_kpa(walls: Walls, strain: Float | float, model: MaterialModel) -> Float:
    """Return the secant modulus at a nominal strain that walls of a material reach as they stand, kPa (n,)."""
    # The softest they can be where they may lean no further than that.
    return slope_in_print(_SOFTEST_KPA, strain, walls, model, walls.array("slope_deg"))[1]
