"""Folded walls as they were printed: six unknowns beside what was asked for, guessed or told by pressed blocks.

They are those of `job.material_cards.FOLD_UNKNOWNS`: logarithms of factors on the solid's modulus, on the walls' width,
on the law's stress and on the strain at which the solid has softened by half; how many degrees more walls lean; and
how the law bends with the slope, a logarithm of stress for each 10 degrees more than 35.
"""

from __future__ import annotations

import numpy as np

from ....base.mesh import Float
from ..material_model import NINETY, MaterialModel
from .law import stress_kpa
from .softening import HALVED_AT, HALVED_HIGH, HALVED_LOW, Softening
from .walls import Walls

WIDTH_FACTOR = 1.10
"""A wall as printed is this much thinner or thicker, nine times in ten: assumed, until blocks of folds are pressed."""

SLOPE_OFF_DEG = 1.5
"""A wall leans this much more or less than asked, nine times in ten: it sags while it is printed. Assumed."""

BEND_FACTOR = 1.08
"""So many times as much or less the law is off for each 10 degrees that walls lean more, nine times in ten: elements
leave 4 % (docs/models/folds.md), printing adds what nobody has measured. Assumed."""

MIDDLE_DEG, _BEND_DEG = 35.0, 10.0

LAW_FACTOR = 1.25
"""What is left between the law and finite elements, one over and times, nine times in ten."""

_LEAST_DEG, _MOST_DEG = 0.0, 80.0
_WIDEST = 0.95  # of the pitch
_HALVED = (HALVED_LOW, HALVED_AT, HALVED_HIGH)
_LEAST_SOFTENING, _MOST_SOFTENING = np.log(0.5 * HALVED_LOW / HALVED_AT), np.log(2.0 * HALVED_HIGH / HALVED_AT)


def as_printed(walls: Walls, width: Float | float = 0.0, slope_deg: Float | float = 0.0) -> Walls:
    """Return walls with their width times exp(`width`) and so many degrees more slope; numbers or (n,)."""
    wide = np.minimum(walls.array("width_mm") * np.exp(width), _WIDEST * walls.array("pitch_mm"))
    return walls.changed(width_mm=wide, slope_deg=np.clip(walls.array("slope_deg") + slope_deg, _LEAST_DEG, _MOST_DEG))


def printed_kpa(walls: Walls, strain: Float, solid_kpa: float, poisson: float, unknowns: Float) -> Float:
    """Return the stress of walls as printed, kPa (n, m), at strains (m,) of their core; `unknowns` is (6,) or (n, 6).

    Notes
    -----
    The law's tables hold for a few softenings only, so between three of them the logarithm of the stress is a parabola
    over one over the strain at which the solid has softened by half: its first two terms are those of weak softening.
    """
    modulus, width, slope, law, softening, bend = np.moveaxis(np.atleast_2d(unknowns), -1, 0)
    printed = as_printed(walls, width, slope)
    count = len(printed)
    factor = modulus + law + bend * bend_at(walls.array("slope_deg"))
    strain = np.asarray(strain, dtype=np.float64)
    is_pressed = strain > 0.0
    logs = [
        np.log(np.maximum(stress_kpa(printed, strain[is_pressed], solid_kpa, poisson, Softening(halved)), 1e-300))
        for halved in _HALVED
    ]
    nodes = 1.0 / np.array(_HALVED)
    at = np.exp(-np.clip(softening, _LEAST_SOFTENING, _MOST_SOFTENING)) / HALVED_AT
    stress = np.zeros((count, len(strain)))
    for index, log in enumerate(logs):
        others = [nodes[other] for other in range(len(nodes)) if other != index]
        weight = np.prod([(at - other) / (nodes[index] - other) for other in others], axis=0)
        stress[:, is_pressed] += np.broadcast_to(weight, (count,))[:, None] * log
    stress[:, is_pressed] = np.exp(stress[:, is_pressed] + np.broadcast_to(factor, (count,))[:, None])
    return np.asarray(np.maximum.accumulate(stress, axis=1))


def bears_as_kpa(model: MaterialModel) -> float:
    """Return the modulus of the solid with which the law gives what walls bear, kPa: the law's own factor is in it."""
    if model.folds is None:
        return model.solid.value
    return model.modulus_kpa * float(np.exp(model.folds.unknowns[0] + model.folds.unknowns[3]))


def softening_of(model: MaterialModel) -> Softening:
    """Return how the solid softens, as far as it is known."""
    if model.folds is None:
        return Softening()
    return Softening(HALVED_AT * float(np.exp(np.clip(model.folds.unknowns[4], _LEAST_SOFTENING, _MOST_SOFTENING))))


def bend_at(slope_deg: Float) -> Float:
    """Return by how many times the unknown `bend` the logarithm of the stress is moved at slopes asked for."""
    return np.asarray((slope_deg - MIDDLE_DEG) / _BEND_DEG)


def folds_before(model: MaterialModel) -> tuple[Float, Float]:
    """Return the unknowns (6,) and their covariance (6, 6) before any block of folds was pressed.

    The modulus is what the model knows of its solid, on its wider side; of the softening the wider side is taken too.
    """
    widths = np.log([WIDTH_FACTOR, np.exp(SLOPE_OFF_DEG), LAW_FACTOR, HALVED_HIGH / HALVED_AT, BEND_FACTOR]) / NINETY
    unknowns = np.concatenate([model.unknowns[:1], np.zeros(5)])
    return unknowns, np.diag([float(model.covariance_up[0, 0]), *widths**2])
