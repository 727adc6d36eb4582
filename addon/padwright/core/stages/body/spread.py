"""Low and high of what pressing a body into virtual clay gives, from what is not known of flesh, clay and load."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from ...base.estimate import Estimate
from ...base.mesh import Float
from .center_doubt import CenterDoubt
from .press_clay import BodyOnClay, Imprint

_TOLD: dict[str, Callable[[Imprint], float]] = {
    "strength_kpa": lambda one: one.strength_kpa,
    "deepest_mm": lambda one: one.deepest_mm,
    "contact_cm2": lambda one: one.contact_cm2,
    "mean_kpa": lambda one: one.mean_kpa,
    "peak_kpa": lambda one: one.peak_kpa,
    "flesh_squeezed_mm": lambda one: one.flesh_squeezed_mm,
    "force_n": lambda one: one.force_n,
    "tilt_deg": lambda one: one.tilt_deg,
}


@dataclass(frozen=True)
class ImprintSpread:
    """Each number with its bounds, and how far the imprint's shape may be off."""

    numbers: dict[str, Estimate]
    shape_mm: float  # root mean square over the contact, from all sources together
    flesh_shape_mm: float  # the same from the flesh alone
    centers: CenterDoubt  # where load centers would lie otherwise


def spread_of(
    body: BodyOnClay,
    found: Imprint,
    press: Callable[[BodyOnClay], Imprint],
    *,
    basis: str,
    heaping: tuple[float, float],
    load_factor: float,
) -> ImprintSpread:
    """Return low and high of an imprint, the 5th and 95th percentile over independent sources.

    Each source is put to its low and to its high alone, on every second place of the grid; what that moves is added up
    in squares, as for the load check. `press` is how the body was pressed; `heaping` has the ends of how clay bears.
    """
    rough = body.coarser()
    middle = press(rough)
    ups, downs = (dict.fromkeys(_TOLD, 0.0) for _ in range(2))
    shape, of_flesh = 0.0, 0.0
    left = body.thickness_mm - middle.depth_mm
    others: list[tuple[float, Float]] = []
    for is_flesh, other in _moves(rough, heaping, load_factor):
        one = press(other)
        for name, told in _TOLD.items():
            moved = told(one) - told(middle)
            side = ups if moved > 0.0 else downs
            side[name] += moved**2
        others.append((0.5, body.thickness_mm - one.depth_mm))
        off = _apart(middle, one)
        # Low and high of one source are one spread: half of the sum of both.
        shape += 0.5 * off**2
        of_flesh += 0.5 * off**2 if is_flesh else 0.0
    numbers = {}
    for name, told in _TOLD.items():
        value = told(found)
        low, high = value - float(np.sqrt(downs[name])), value + float(np.sqrt(ups[name]))
        numbers[name] = Estimate(value, max(low, 0.0), high, basis)
    centers = CenterDoubt(rough.bed, left, rough.height_mm, tuple(others))
    return ImprintSpread(numbers, float(np.sqrt(shape)), float(np.sqrt(of_flesh)), centers)


def _moves(body: BodyOnClay, heaping: tuple[float, float], load_factor: float) -> Iterator[tuple[bool, BodyOnClay]]:
    """Yield the body with one source at its low or its high, and whether that is the flesh."""
    if body.flesh is not None:
        for low_or_high in (0, 1):
            for thickness, stress in (
                (body.flesh.thickness_factors[low_or_high], 1.0),
                (1.0, body.flesh.stress_factors[low_or_high]),
            ):
                if (thickness, stress) != (1.0, 1.0):
                    yield True, replace(body, flesh=body.flesh.scaled(thickness, stress))
    for end in heaping:
        if end != body.heaping:
            yield False, replace(body, heaping=end)
    if load_factor > 1.0:
        for times in (1.0 / load_factor, load_factor):
            yield False, replace(body, force_n=body.force_n * times)


def _apart(first: Imprint, second: Imprint) -> float:
    """Return how far two imprints are apart over what both touch, mm, where they lie alike on the whole."""
    is_both = first.is_touched & second.is_touched
    if not is_both.any():
        return 0.0
    apart: Float = first.depth_mm[is_both] - second.depth_mm[is_both]
    return float(np.sqrt(np.square(apart).mean()))
