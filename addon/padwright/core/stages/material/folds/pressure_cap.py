"""How much pressure folded walls let through at most: promised only where blocks of such walls were pressed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ....base.estimate import Estimate
from ..material_model import MaterialModel
from .band import fold_band
from .fold_print import as_printed
from .law import closing_strain
from .walls import Walls

_SLOPE_BEYOND_DEG = 5.0
"""How far beyond the slopes pressed a promise reaches. Own choice: three times what slopes are printed off by."""

_WIDTH_BEYOND = 1.15
"""The same of widths, times. Own choice: less than a bead of three."""

_LEVEL = 1.6
"""Stress at the give over that at half of it up to which pressure counts as leveled off; without leveling it is 2."""

_LEAST_GIVE = 0.1


@dataclass(frozen=True)
class PressureCap:
    """A cap on the pressure under walls, or why none is promised."""

    kpa: Estimate | None  # stress at the give; up to it no more than `high` passes, nine times in ten
    give: float  # strain of the walls' height up to which it holds
    reason: str  # why there is none; "" where there is one

    @property
    def words(self) -> str:
        """What to tell a person."""
        if self.kpa is None:
            return f"no cap on pressure: {self.reason}."
        return (
            f"pressed by up to {100 * self.give:.0f} % of their height they pass at most {self.kpa.value:.3g} "
            f"({self.kpa.low:.3g} to {self.kpa.high:.3g}) kPa."
        )


def pressure_cap(walls: Walls, model: MaterialModel, give: float) -> PressureCap:
    """Return what pressure walls of one place let through up to a give, as share of their height, at most.

    Nothing is promised without calibrated blocks of folds, beyond the slopes, widths and give that were pressed, on
    curved or waved walls, past the touch of neighbors, nor where stress climbs nearly as the give does.
    """
    folds = model.folds
    if folds is None:
        return PressureCap(None, give, "no block of folded walls was pressed (`coupons --folds`)")
    slope, width = float(walls.array("slope_deg")[0]), float(walls.array("width_mm")[0])
    printed = as_printed(walls, float(folds.unknowns[1]), float(folds.unknowns[2]))
    touch = float(closing_strain(printed)[0])
    reason = ""
    if not folds.slopes_deg[0] - _SLOPE_BEYOND_DEG <= slope <= folds.slopes_deg[1] + _SLOPE_BEYOND_DEG:
        reason = f"blocks leaned {folds.slopes_deg[0]:g} to {folds.slopes_deg[1]:g} degrees, these walls {slope:.0f}"
    elif not folds.widths_mm[0] / _WIDTH_BEYOND <= width <= folds.widths_mm[1] * _WIDTH_BEYOND:
        reason = f"blocks had walls of {folds.widths_mm[0]:g} to {folds.widths_mm[1]:g} mm, these have {width:g} mm"
    elif np.isfinite(walls.array("radius_mm")[0]) or walls.array("waver")[0] > 0.0:
        reason = "walls are curved or waved, blocks were straight"
    elif give < _LEAST_GIVE or give > folds.most_strain + 1e-6:
        reason = f"blocks were pressed by {100 * folds.most_strain:.0f} % of their height, asked are {100 * give:.0f} %"
    elif give >= touch:
        reason = f"neighbors touch at {100 * touch:.0f} %"
    band = fold_band(walls, model, give)
    if not reason:
        ratio = float(np.divide(*band.value.stress(np.array([give, 0.5 * give]))))
        reason = (
            f"pressure climbs {ratio:.2f} times from half of the give to the whole, it does not level off"
            if ratio > _LEVEL
            else ""
        )
    if reason:
        return PressureCap(None, give, reason)
    value, low, high = (float(each.stress(np.array(give))) for each in (band.value, band.low, band.high))
    return PressureCap(Estimate(value, low, high, band.basis), give, "")
