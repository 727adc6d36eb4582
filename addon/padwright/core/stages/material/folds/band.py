"""The stress curve of a place of folded walls, with low and high from what is not known."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ....base.estimate import weaker
from ....base.mesh import Float
from ..curves import LEVEL_STRAIN, CurveBand, StressCurve
from ..material_model import NINETY, MaterialModel
from .fold_print import FoldPrint, scaled_width
from .law import SOFTENING, closing_strain, stress_kpa
from .softening import HALVED_HIGH, HALVED_LOW, Softening
from .walls import Walls

WIDTH_FACTOR = 1.10
"""A wall as printed is this much thinner or thicker, nine times in ten: assumed, until coupons of folds are read."""

SLOPE_OFF_DEG = 1.5
"""A wall leans this much more or less than asked, nine times in ten: it sags while it is printed. Assumed."""

LAW_FACTOR = 1.25
"""What is left between the law and finite elements, one over and times, nine times in ten."""

_RISES = np.array([1.0, 3.0, 1.0])  # powers with which stress goes up with modulus, width and law, roughly

_STRAIN = np.concatenate([[0.0, 0.001, 0.003, 0.006], np.linspace(0.01, 0.2, 20), np.linspace(0.22, 0.9, 35)])
_LEAST_DEG, _MOST_DEG = 0.0, 80.0


def fold_band(
    walls: Walls, model: MaterialModel, at: float = LEVEL_STRAIN, fold_print: FoldPrint | None = None
) -> CurveBand:
    """Return the curve of one place, as `fold_bands` gives it for many."""
    return fold_bands(walls, model, at, fold_print)[0]


def fold_bands(
    walls: Walls, model: MaterialModel, at: float = LEVEL_STRAIN, fold_print: FoldPrint | None = None
) -> list[CurveBand]:
    """Return the stress-strain curve of each place (k,), with low and high; `shared` has the same sources in all.

    Sources, in this order: modulus of the solid (as the model knows it, wider upward where it says so), width of the
    walls as printed, the law itself, their slope as printed, how the solid softens under large strain. Where coupons
    of folded walls were read, their fit takes the place of the first three, by its principal axes. `low` and `high` are
    the middle curve over and times the root of the sum of squares of the sources' logarithms at the strain `at`.
    """
    middle, *ends = _stresses(walls, model, fold_print)

    def secant(stress: Float) -> Float:
        return np.array([np.interp(at, _STRAIN, each) for each in stress])

    start = secant(middle)
    far = np.array([np.log(np.maximum(secant(each), 1e-12) / start) for each in ends]).reshape(-1, 2, len(walls))
    down = np.sqrt((np.minimum(far.min(axis=1), 0.0) ** 2).sum(axis=0))
    up = np.sqrt((np.maximum(far.max(axis=1), 0.0) ** 2).sum(axis=0))
    shut = np.clip(closing_strain(walls if fold_print is None else fold_print.printed(walls)), 0.02, 0.89)
    basis = weaker(model.basis, "model") if fold_print is None else weaker(fold_print.basis, "model")
    return [
        CurveBand(
            _curve(middle, place, shut),
            _curve(middle * np.exp(-down)[:, None], place, shut),
            _curve(middle * np.exp(up)[:, None], place, shut),
            basis,
            shared=tuple(
                (_curve(low, place, shut), _curve(high, place, shut))
                for low, high in zip(ends[::2], ends[1::2], strict=True)
            ),
            at=at,
        )
        for place in range(len(walls))
    ]


def _curve(stress: Float, place: int, shut: Float) -> StressCurve:
    return StressCurve(_STRAIN, stress[place], float(shut[place]), 0.0)


def _stresses(walls: Walls, model: MaterialModel, fold_print: FoldPrint | None) -> Iterator[Float]:
    """Yield the stresses (k, m) at the middle and at the low and high end of each source, softer end first."""

    def stress(walls: Walls, modulus: float, law: Softening = SOFTENING) -> Float:
        return stress_kpa(walls, _STRAIN, modulus, model.poisson, law)

    if fold_print is None:
        solid = model.solid
        built, modulus, factor = walls, solid.value, 1.0
        middle = stress(built, modulus)
        yield middle
        yield middle * (solid.low / solid.value)
        yield middle * (solid.high / solid.value)
        for wider in (1.0 / WIDTH_FACTOR, WIDTH_FACTOR):
            yield stress(scaled_width(built, wider), modulus)
        yield middle / LAW_FACTOR
        yield middle * LAW_FACTOR
    else:
        built, modulus, factor = fold_print.printed(walls), fold_print.solid_kpa(model), fold_print.stress_factor
        middle = factor * stress(built, modulus)
        yield middle
        for axis in _axes(fold_print):
            for sign in (-1.0, 1.0):
                moved = FoldPrint(fold_print.unknowns + sign * axis, basis=fold_print.basis)
                yield moved.stress_factor * stress(moved.printed(walls), moved.solid_kpa(model))
    for off in (SLOPE_OFF_DEG, -SLOPE_OFF_DEG):
        slope = np.clip(built.array("slope_deg") + off, _LEAST_DEG, _MOST_DEG)
        yield factor * stress(built.at_slope(slope), modulus)
    for halved in (HALVED_LOW, HALVED_HIGH):
        yield factor * stress(built, modulus, Softening(halved))


def _axes(fold_print: FoldPrint) -> list[Float]:
    """Return the principal axes of a fit, each as far as its 95th percentile, pointing to where stress rises."""
    variance, axes = np.linalg.eigh(fold_print.covariance)
    found = []
    for size, axis in zip(variance, axes.T, strict=True):
        if size > 1e-12:
            rises = axis @ _RISES
            found.append(NINETY * float(np.sqrt(size)) * axis * (-1.0 if rises < 0.0 else 1.0))
    return found
