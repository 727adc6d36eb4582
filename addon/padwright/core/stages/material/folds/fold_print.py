"""What coupons of folded walls say of a printer and a filament: three unknowns with their spread."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ....base.errors import InputError
from ....base.frozen import hold
from ....base.mesh import Float
from ..material_model import MaterialModel
from .walls import Walls

FOLD_UNKNOWNS = ("modulus", "width", "law")
"""Logarithms of three factors: of the solid's modulus, over `MaterialModel.modulus_kpa`; of a wall's width in a level
cut, printed over asked; of the stress that the law gives. All are 0 where nothing is known better."""


@dataclass(frozen=True, eq=False)
class FoldPrint:
    """What was fitted on coupons of folded walls.

    Raises InputError when the covariance is none.
    """

    unknowns: Float = field(default_factory=lambda: np.zeros(len(FOLD_UNKNOWNS)))  # (3,); best values
    covariance: Float = field(default_factory=lambda: np.zeros((len(FOLD_UNKNOWNS), len(FOLD_UNKNOWNS))))  # (3, 3)
    basis: str = "measured"  # as in `estimate.BASES`

    def __post_init__(self) -> None:
        size = len(FOLD_UNKNOWNS)
        unknowns = np.array(self.unknowns, dtype=np.float64)
        covariance = np.array(self.covariance, dtype=np.float64)
        if unknowns.shape != (size,) or covariance.shape != (size, size):
            raise InputError(f"Folded walls have {size} unknowns; got {unknowns.shape} and {covariance.shape}.")
        is_even = np.allclose(covariance, covariance.T, atol=1e-12)
        if not is_even or float(np.linalg.eigvalsh(covariance).min()) < -1e-9:
            raise InputError("The covariance of folded walls is none: it is uneven or has a negative value.")
        hold(self, unknowns=unknowns, covariance=covariance)

    def solid_kpa(self, model: MaterialModel) -> float:
        """Return the solid's modulus that the fit found, kPa."""
        return model.modulus_kpa * float(np.exp(self.unknowns[0]))

    def printed(self, walls: Walls) -> Walls:
        """Return walls asked for as they come out."""
        return scaled_width(walls, float(np.exp(self.unknowns[1])))

    @property
    def stress_factor(self) -> float:
        """What the law's stress is to be multiplied with."""
        return float(np.exp(self.unknowns[2]))


def scaled_width(walls: Walls, factor: float) -> Walls:
    """Return walls so many times as wide, at most so that some air is left between them."""
    width = np.minimum(walls.array("width_mm") * factor, 0.95 * walls.array("pitch_mm"))
    return walls.changed(width_mm=width)
