"""The soft part of the body between bone and pad: one layer, squeezed in series with the pad's columns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.errors import InputError
from ..material.curves import StressCurve

_MOST_STRAIN = 0.9
"""Strain to which a layer's curve is written out; beyond it goes on with its last slope."""


@dataclass(frozen=True, eq=False)
class Flesh:
    """A layer of flesh, unloaded.

    Attributes
    ----------
    thickness_mm : float
    curve : StressCurve
        As it is squeezed on the spot, between bone and pad; taken as it is, without the stiffening of a wide layer.
    """

    thickness_mm: float
    curve: StressCurve

    def __post_init__(self) -> None:
        if not (np.isfinite(self.thickness_mm) and self.thickness_mm > 0.0):
            raise InputError(f"A flesh layer of {self.thickness_mm:g} mm is none.", hint="Leave it out, or give mm.")


def flesh_layer(thickness_mm: float, modulus_kpa: float, stiffening: float = 0.0) -> Flesh:
    """Return a layer with a modulus at small strain, linear or stiffening, taken as known exactly.

    Parameters
    ----------
    thickness_mm, modulus_kpa : float
    stiffening : float
        0: linear; else b of stress = (E/b) (exp(b strain) - 1).

    Notes
    -----
    The exponential is the usual form for soft tissue (Fung 1967, Am. J. Physiol. 213:1532, cited, not read).
    """
    if not (np.isfinite(modulus_kpa) and modulus_kpa > 0.0 and 0.0 <= stiffening <= 50.0):
        raise InputError(f"Flesh of {modulus_kpa:g} kPa with a stiffening of {stiffening:g} makes no sense.")
    strain = np.linspace(0.0, _MOST_STRAIN, 46 if stiffening else 2)
    stress = modulus_kpa * (np.expm1(stiffening * strain) / stiffening if stiffening else strain)
    return Flesh(thickness_mm, StressCurve(strain, stress, _MOST_STRAIN, 0.0))
