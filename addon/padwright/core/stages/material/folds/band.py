"""The stress curve of a place of folded walls, with low and high from what is not known."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ....base.estimate import weaker
from ....base.mesh import Float
from ..curves import LEVEL_STRAIN, CurveBand, StressCurve
from ..material_model import MaterialModel
from .law import closing_strain, stress_kpa
from .softening import HALVED_HIGH, HALVED_LOW, Softening
from .walls import Walls

WIDTH_FACTOR = 1.10
"""A wall as printed is this much thinner or thicker, nine times in ten: assumed, until coupons of folds are read."""

SLOPE_OFF_DEG = 1.5
"""A wall leans this much more or less than asked, nine times in ten: it sags while it is printed. Assumed."""

LAW_FACTOR = 1.25
"""What is left between the law and finite elements, one over and times, nine times in ten."""

_STRAIN = np.concatenate([[0.0, 0.001, 0.003, 0.006], np.linspace(0.01, 0.2, 20), np.linspace(0.22, 0.9, 35)])
_LEAST_DEG, _MOST_DEG = 0.0, 80.0


def fold_band(walls: Walls, model: MaterialModel, at: float = LEVEL_STRAIN) -> CurveBand:
    """Return the curve of one place, as `fold_bands` gives it for many."""
    return fold_bands(walls, model, at)[0]


def fold_bands(walls: Walls, model: MaterialModel, at: float = LEVEL_STRAIN) -> list[CurveBand]:
    """Return the stress-strain curve of each place (k,), with low and high; `shared` has the same sources in all.

    Sources, in this order: modulus of the solid (as the model knows it, wider upward where it says so), the wall's
    width as printed, its slope as printed, the law itself, how the solid softens under large strain. `low` and `high`
    are the middle curve over and times the root of the sum of squares of their logarithms at the strain `at`.
    """
    middle, *ends = _stresses(walls, model)
    step = int(np.searchsorted(_STRAIN, at))
    far = np.array([np.log(np.maximum(each[:, step], 1e-12) / middle[:, step]) for each in ends])  # (2 sources, k)
    pairs = far.reshape(-1, 2, len(walls))
    down = np.sqrt((np.minimum(pairs.min(axis=1), 0.0) ** 2).sum(axis=0))
    up = np.sqrt((np.maximum(pairs.max(axis=1), 0.0) ** 2).sum(axis=0))
    shut = np.clip(closing_strain(walls), 0.02, 0.89)
    basis = weaker(model.basis, "model")
    bands = []
    for place in range(len(walls)):

        def curve(stress: Float, place: int = place) -> StressCurve:
            return StressCurve(_STRAIN, stress[place], float(shut[place]), 0.0)

        value = curve(middle)
        shared = tuple((curve(low), curve(high)) for low, high in zip(ends[::2], ends[1::2], strict=True))
        bands.append(
            CurveBand(
                value,
                value.scaled(float(np.exp(-down[place]))),
                value.scaled(float(np.exp(up[place]))),
                basis,
                shared=shared,
                at=at,
            )
        )
    return bands


def _stresses(walls: Walls, model: MaterialModel) -> Iterator[Float]:
    """Yield the stresses (k, m) at the middle and at the low and high end of each source, softer end first."""
    solid = model.solid

    def stress(walls: Walls, modulus: float, law: Softening | None = None) -> Float:
        return stress_kpa(walls, _STRAIN, modulus, model.poisson, law or Softening())

    middle = stress(walls, solid.value)
    yield middle
    yield middle * (solid.low / solid.value)
    yield middle * (solid.high / solid.value)
    for factor in (1.0 / WIDTH_FACTOR, WIDTH_FACTOR):
        width = np.minimum(walls.array("width_mm") * factor, 0.95 * walls.array("pitch_mm"))
        yield stress(walls.changed(width_mm=width), solid.value)
    for off in (SLOPE_OFF_DEG, -SLOPE_OFF_DEG):
        slope = np.clip(walls.array("slope_deg") + off, _LEAST_DEG, _MOST_DEG)
        yield stress(walls.at_slope(slope), solid.value)
    yield middle / LAW_FACTOR
    yield middle * LAW_FACTOR
    for halved in (HALVED_LOW, HALVED_HIGH):
        yield stress(walls, solid.value, Softening(halved))
