"""Flesh on clay that gives way: what bears a body that is pressed into virtual clay, place by place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.cached import cached_property
from ...base.mesh import Float
from .flesh import Flesh

RAMP_MM = 0.05
"""Over so much of a way a body without flesh, and flesh that was squeezed before, come to bear: a jump has no balance.
It rounds the imprint's edge by no more, below the noise of two scans. Our choice."""


@dataclass(frozen=True, eq=False)
class FleshOnClay:
    """Flesh between bone and clay that bears no more than moves it.

    `flesh` None is a body as hard as stone.
    """

    flesh: Flesh | None
    most_kpa: Float  # (n,); pressure at which the clay gives way
    squeezed_mm: float = 0.0  # how far the flesh was squeezed already when it was scanned

    @cached_property
    def gives_mm(self) -> Float:
        """How far the flesh is squeezed beyond its scanned shape where the clay gives way, (n,), mm."""
        if self.flesh is None:
            return np.full(len(self.most_kpa), RAMP_MM)
        beyond = self.flesh.squeezed_mm(self.most_kpa) - self.squeezed_mm
        if self.squeezed_mm == 0.0:
            return beyond
        return np.where(beyond > RAMP_MM, beyond, RAMP_MM * np.minimum(self.most_kpa / self._ramp_kpa, 1.0))

    @cached_property
    def _ramp_kpa(self) -> float:
        """What flesh that was squeezed before bears at the end of its ramp."""
        assert self.flesh is not None
        return float(self.flesh.curve.stress(np.array((RAMP_MM + self.squeezed_mm) / self.flesh.thickness_mm)))

    def respond(self, sinkage: Float) -> tuple[Float, Float, Float, Float]:
        """Return stress kPa, stiffness kPa/mm, energy kPa mm and the depth of the imprint, mm, at each place, (n,).

        The sinkage, (n,), mm, is how far the body as scanned would reach below the clay as laid.
        """
        sinkage = np.maximum(sinkage, 0.0)
        squeezed = np.minimum(sinkage, self.gives_mm)
        stress, slope, energy = self._flesh_at(squeezed)
        imprint = sinkage - squeezed
        is_whole = imprint > 0.0
        stress = np.where(is_whole, self.most_kpa, stress)
        slope = np.where(is_whole | (sinkage <= 0.0), 0.0, slope)
        return stress, slope, energy + self.most_kpa * imprint, imprint

    def _flesh_at(self, squeezed: Float) -> tuple[Float, Float, Float]:
        if self.flesh is None:
            slope = self.most_kpa / RAMP_MM
            return slope * squeezed, slope, 0.5 * slope * squeezed**2
        curve, thick, before = self.flesh.curve, self.flesh.thickness_mm, self.squeezed_mm
        strain = (squeezed + before) / thick
        if before == 0.0:
            return curve.stress(strain), curve.slope(strain) / thick, thick * curve.energy(strain)
        ramp = self._ramp_kpa / RAMP_MM
        is_ramp = squeezed < RAMP_MM
        past = thick * (curve.energy(strain) - curve.energy(np.array((RAMP_MM + before) / thick)))
        return (
            np.where(is_ramp, ramp * squeezed, curve.stress(strain)),
            np.where(is_ramp, ramp, curve.slope(strain) / thick),
            np.where(is_ramp, 0.5 * ramp * squeezed**2, 0.5 * ramp * RAMP_MM**2 + past),
        )
