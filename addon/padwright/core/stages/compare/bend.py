"""Warp of the print as a whole: how far its ends rise or dip, apart from its size."""

from __future__ import annotations

import numpy as np

from ...base.estimate import Estimate
from ...base.mesh import Float
from ...base.notes import to_look_at
from .fit import PartOnBed, PrintFit
from .records import Bend
from .scale import NORMAL_90

_CLEAR_ERRORS, _CLEAR_MM = 3.0, 0.3
"""A bend is told where it is so many standard errors, and lifts the ends by so much: less is texture (common
practice, no source)."""

_WAYS = ("along x", "along y", "twist")


def found_bend(fit: PrintFit, part: PartOnBed) -> Bend:
    """Return how far the ends lie above the middle, as the part lies on the bed."""
    reach = _reach(part)
    lift, error = fit.values[3:] * reach, np.sqrt(np.diag(fit.covariance)[3:]) * reach
    told = {
        way: Estimate(float(value), float(value - NORMAL_90 * each), float(value + NORMAL_90 * each), "measured")
        for way, value, each in zip(_WAYS, lift, error, strict=True)
    }
    clear = [
        (way, float(value))
        for way, value, each in zip(_WAYS, lift, error, strict=True)
        if abs(value) > max(_CLEAR_ERRORS * each, _CLEAR_MM)
    ]
    if not clear:
        least = max(_CLEAR_MM, float(_CLEAR_ERRORS * error.max()))
        return Bend(told, False, f"No bend is seen; one that lifts the ends by {least:.1f} mm or more would be.")
    words = [
        f"two opposite corners lie {abs(value):.1f} mm {'above' if value > 0 else 'below'} the middle, the others not"
        if way == "twist"
        else f"the ends of {way[-1]} lie {abs(value):.1f} mm {'above' if value > 0 else 'below'} the middle"
        for way, value in clear
    ]
    note = to_look_at(
        f"The print is bent: {'; '.join(words)}. It is not counted as shrinkage. A scan program may bend what it "
        "shows, too: see whether the print rocks or gaps on its base."
    )
    return Bend(told, True, note)


def _reach(part: PartOnBed) -> Float:
    x, y, _ = part.half
    return np.array([0.5 * x * x, 0.5 * y * y, x * y])


def sliding_errors(fit: PrintFit, part: PartOnBed) -> Float:
    """Return the covariance, (3, 3), of the sizes for not knowing which layer of a bent print kept its length.

    A bend k makes a layer z off that one longer or shorter by k z; where in the part's height it lies is not known
    (uniform law over half of the height).
    """
    sliding = np.abs(fit.values[3:5]) * part.half[2] / np.sqrt(12.0)
    return np.diag([*np.square(sliding), 0.0])
