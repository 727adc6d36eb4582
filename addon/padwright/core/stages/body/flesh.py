"""The soft part of the body between bone and pad: one layer, squeezed in series with the pad's columns."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Float
from ...job.cards import Family
from ...job.schema import Body
from ..material.curves import StressCurve

_MOST_STRAIN = 0.9
"""Strain to which a layer's curve is written out; beyond it goes on as `StressCurve` does."""


@dataclass(frozen=True, eq=False)
class Flesh:
    """A layer of flesh, unloaded, and how well it is known."""

    thickness_mm: float
    # As it is squeezed on the spot, between bone and pad; taken as it is, without the stiffening of a wide layer.
    curve: StressCurve
    # Low and high: 5th and 95th percentile over the value, of thickness and of stress at a strain; (1, 1): exact.
    thickness_factors: tuple[float, float] = (1.0, 1.0)
    stress_factors: tuple[float, float] = (1.0, 1.0)

    def __post_init__(self) -> None:
        if not (np.isfinite(self.thickness_mm) and self.thickness_mm > 0.0):
            raise InputError(f"A flesh layer of {self.thickness_mm:g} mm is none.", hint="Leave it out, or give mm.")
        for low, high in (self.thickness_factors, self.stress_factors):
            if not 0.0 < low <= 1.0 <= high:
                raise InputError(f"Factors of {low:g} to {high:g} do not hold the flesh's own value.")

    def scaled(self, thickness: float, stress: float) -> Flesh:
        """Return a layer so many times as thick, whose stress at each strain is so many times as much."""
        curve = replace(self.curve, stress_kpa=stress * self.curve.stress_kpa)
        return replace(self, thickness_mm=thickness * self.thickness_mm, curve=curve)

    def squeezed_mm(self, pressure_kpa: Float) -> Float:
        """Return how far the layer is squeezed under a pressure of 0 or more, mm, element by element."""
        strain, stress = self.curve.strain, self.curve.stress_kpa
        beyond = np.maximum(pressure_kpa - stress[-1], 0.0) / self.curve.slope(strain[-1])
        return self.thickness_mm * (np.interp(pressure_kpa, stress, strain) + beyond)


def flesh_layer(thickness_mm: float, modulus_kpa: float, stiffening: float = 0.0) -> Flesh:
    """Return a layer with a modulus at small strain, linear or stiffening, taken as known exactly.

    Notes
    -----
    With stiffening b > 0 stress = (E/b) (exp(b strain) - 1), the usual form for soft tissue (Fung 1967, Am. J. Physiol.
    213:1532, cited, not read); with 0 it is linear.
    """
    if not (np.isfinite(modulus_kpa) and modulus_kpa > 0.0 and 0.0 <= stiffening <= 50.0):
        raise InputError(f"Flesh of {modulus_kpa:g} kPa with a stiffening of {stiffening:g} makes no sense.")
    strain = np.linspace(0.0, _MOST_STRAIN, 91 if stiffening else 2)
    stress = modulus_kpa * (np.expm1(stiffening * strain) / stiffening if stiffening else strain)
    return Flesh(thickness_mm, StressCurve(strain, stress, _MOST_STRAIN, 0.0))


def flesh_of(body: Body, family: Family) -> Flesh | None:
    """Return the flesh where the body bears: the family's, as thick as the body's is said to be; None: a rigid body."""
    if body.rigid:
        return None
    card = family.flesh
    thickness, factors = card.thickness_mm[1], (card.thickness_mm[0], card.thickness_mm[2])
    if body.flesh_thickness_mm is not None:
        thickness, factors = body.flesh_thickness_mm, (body.flesh_thickness_mm,) * 2
    low, modulus, high = card.modulus_kpa
    return replace(
        flesh_layer(thickness, modulus, card.stiffening),
        thickness_factors=(factors[0] / thickness, factors[1] / thickness),
        stress_factors=(low / modulus, high / modulus),
    )
