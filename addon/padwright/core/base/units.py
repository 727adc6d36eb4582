"""Lengths in files and what one of their units is in mm; loads on a scale and what they weigh."""

from __future__ import annotations

from .errors import InputError

MM_PER_UNIT: dict[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
"""Exact; the inch is 25.4 mm by the international yard and pound agreement of 1959 (also ISO 80000-3)."""

N_PER_KG = 9.80665
"""Standard gravity, m/s2 (third General Conference on Weights and Measures, 1901): what a scale's kg weigh, N."""


def mm_per_unit(unit: str) -> float:
    """Return how many mm one `unit` ("mm", "cm", "m", "in") is.

    Raises InputError when the unit is not one of the four.
    """
    try:
        return MM_PER_UNIT[unit]
    except KeyError:
        raise InputError(f'Unit "{unit}" is not known.', hint="Use one of mm, cm, m, in.") from None
