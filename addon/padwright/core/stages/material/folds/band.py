"""The stress curve of a place of folded walls, with low and high from what is not known."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ....base.estimate import weaker
from ....base.mesh import Float
from ..curves import LEVEL_STRAIN, CurveBand, StressCurve
from ..material_model import NINETY, FoldsAsPrinted, MaterialModel
from .fold_print import LAW_FACTOR, SLOPE_OFF_DEG, WIDTH_FACTOR, as_printed, printed_kpa
from .law import SOFTENING, closing_strain, stress_kpa
from .softening import HALVED_HIGH, HALVED_LOW, Softening
from .walls import Walls

_RISES = np.array([1.0, 3.0, -0.05, 1.0, 0.1, 0.0])
"""Powers with which stress goes up with modulus, width, slope (a degree), law, softening and bend, roughly."""

_STRAIN = np.concatenate([[0.0, 0.001, 0.003, 0.006], np.linspace(0.01, 0.2, 20), np.linspace(0.22, 0.9, 35)])


def fold_band(walls: Walls, model: MaterialModel, at: float = LEVEL_STRAIN) -> CurveBand:
    """Return the curve of one place, as `fold_bands` gives it for many."""
    return fold_bands(walls, model, at)[0]


def fold_bands(walls: Walls, model: MaterialModel, at: float = LEVEL_STRAIN) -> list[CurveBand]:
    """Return the stress-strain curve of each place (k,), with low and high; `shared` has the same sources in all.

    Sources, in this order: modulus of the solid (as the model knows it, wider upward where it says so), the wall's
    width as printed, the law itself, its slope as printed, how the solid softens under large strain. Where blocks of
    folds were pressed, what they told stands in place of these: the principal axes of what they left open. `low` and
    `high` are the middle curve over and times the root of the sum of squares of the sources' logarithms at the strain
    `at`.
    """
    folds = model.folds
    middle, *ends = _stresses(walls, model) if folds is None else _pressed(walls, model, folds)
    printed = walls if folds is None else as_printed(walls, float(folds.unknowns[1]), float(folds.unknowns[2]))

    def secant(stress: Float) -> Float:
        return np.array([np.interp(at, _STRAIN, each) for each in stress])

    start = secant(middle)
    far = np.array([np.log(np.maximum(secant(each), 1e-12) / start) for each in ends]).reshape(-1, 2, len(walls))
    down = np.sqrt((np.minimum(far.min(axis=1), 0.0) ** 2).sum(axis=0))
    up = np.sqrt((np.maximum(far.max(axis=1), 0.0) ** 2).sum(axis=0))
    shut = np.clip(closing_strain(printed), 0.02, 0.89)
    basis = weaker(model.basis if folds is None else "measured", "model")
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


def _stresses(walls: Walls, model: MaterialModel) -> Iterator[Float]:
    """Yield the stresses (k, m) at the middle and at the low and high end of each source, softer end first."""
    solid = model.solid

    def stress(walls: Walls, modulus: float, law: Softening = SOFTENING) -> Float:
        return stress_kpa(walls, _STRAIN, modulus, model.poisson, law)

    middle = stress(walls, solid.value)
    yield middle
    yield middle * (solid.low / solid.value)
    yield middle * (solid.high / solid.value)
    for wider in (1.0 / WIDTH_FACTOR, WIDTH_FACTOR):
        yield stress(as_printed(walls, width=float(np.log(wider))), solid.value)
    yield middle / LAW_FACTOR
    yield middle * LAW_FACTOR
    for off in (SLOPE_OFF_DEG, -SLOPE_OFF_DEG):
        yield stress(as_printed(walls, slope_deg=off), solid.value)
    for halved in (HALVED_LOW, HALVED_HIGH):
        yield stress(walls, solid.value, Softening(halved))


def _pressed(walls: Walls, model: MaterialModel, folds: FoldsAsPrinted) -> Iterator[Float]:
    """Yield the stresses (k, m) at the middle and at both ends of each principal axis of what blocks left open."""

    def stress(unknowns: Float) -> Float:
        return printed_kpa(walls, _STRAIN, model.modulus_kpa, model.poisson, unknowns)

    yield stress(folds.unknowns)
    for axis in _axes(folds):
        yield stress(folds.unknowns - axis)
        yield stress(folds.unknowns + axis)


def _axes(folds: FoldsAsPrinted) -> list[Float]:
    """Return the principal axes of a fit, each as far as its 95th percentile, pointing to where stress rises."""
    variance, axes = np.linalg.eigh(folds.covariance)
    found = []
    for size, axis in zip(variance, axes.T, strict=True):
        if size > 1e-12:
            rises = axis @ _RISES
            found.append(NINETY * float(np.sqrt(size)) * axis * (-1.0 if rises < 0.0 else 1.0))
    return found
