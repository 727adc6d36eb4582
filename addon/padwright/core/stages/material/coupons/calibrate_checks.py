"""When readings make no card: a block that did not move, or readings that no material of the model would give."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ....base.errors import InputError
from .calibrate import CalibrationFit
from .coupons import Coupon
from .fold_fit import FoldFit
from .posterior import HEIGHT_SD_MM
from .readings import Readings

_LEAST_MOVE_ERRORS = 2.5
"""A height that changed by less than so many of its standard deviations may not have changed at all."""
_MOST_MISFIT = 3.0
"""Root mean square of what is left, over the readings' error. Below, the spread is widened and the card holds; heights
that scatter by 0.8 mm are not read but guessed, or of other blocks. A choice of ours, no source."""


def refuse_unmoved(coupons: Sequence[Coupon], readings: Readings) -> None:
    """Refuse blocks whose height did not change under load by more than can be read: they say nothing of stiffness.

    Raises InputError with each such block, its heights and its largest load.
    """
    known = {coupon.number: coupon for coupon in coupons}
    faults = []
    for number in np.unique(readings.block).tolist():
        own = np.flatnonzero(readings.block == number)
        least = known[number].bare_kg
        bare, loaded = own[readings.load_kg[own] < least], own[readings.load_kg[own] >= least]
        if len(loaded) == 0:
            continue
        height, error = known[number].geometry.thickness_mm, HEIGHT_SD_MM
        if len(bare):
            height = float(readings.height_mm[bare].mean())
            error = float(readings.height_sd_mm[bare].mean()) / float(np.sqrt(len(bare)))
        lowest = int(loaded[np.argmin(readings.height_mm[loaded])])
        moved = height - float(readings.height_mm[lowest])
        if moved < _LEAST_MOVE_ERRORS * float(np.hypot(error, readings.height_sd_mm[lowest])):
            most = float(readings.load_kg[loaded].max())
            faults.append(
                f"Block {number} did not move: {height:.1f} mm high without load{'' if len(bare) else ' by its size'}, "
                f"{readings.height_mm[lowest]:.1f} mm at the lowest under up to {most:g} kg "
                f"({readings.place(lowest)}); {abs(moved):.1f} mm is within what can be read."
            )
    if faults:
        raise InputError(
            "\n".join(faults),
            hint="Press harder until it gives 1 mm or more, read heights with calipers that show 0.01 mm, or take the "
            "block's rows out.",
        )


def refuse_misfit(readings: Readings, fit: CalibrationFit | FoldFit) -> None:
    """Refuse a fit that the readings contradict.

    Raises InputError with the misfit, the block that fits worst, its worst reading, and what to do.
    """
    if fit.misfit <= _MOST_MISFIT:
        return
    used = np.isfinite(fit.residuals)
    blocks = [block.coupon.number for block in fit.blocks]
    off = [float(np.sqrt(np.mean(fit.residuals[used & (readings.block == number)] ** 2))) for number in blocks]
    worst = int(np.argmax(off))
    mine = np.flatnonzero(used & (readings.block == blocks[worst]))
    # A reading without load only says how tall the block is: it is no load that could be far off.
    loaded = mine[readings.load_kg[mine] > 0.0]
    mine = loaded if len(loaded) else mine
    reading = int(mine[np.argmax(np.abs(fit.residuals[mine]))])
    more = "more" if fit.residuals[reading] > 0 else "less"
    raise InputError(
        f"The readings fit no filament: they lie {fit.misfit:.1f} times their error off the best one; "
        f"{_MOST_MISFIT:g} is the most. Block {blocks[worst]} fits worst, {off[worst]:.1f} times: "
        f"{readings.place(reading)}, {readings.load_kg[reading]:g} kg at {readings.height_mm[reading]:.1f} mm is far "
        f"{more} load than the others make likely.",
        hint="Are blocks swapped, is a load in another unit, or was it still sinking? Press that block again, or take "
        "its rows out.",
    )
