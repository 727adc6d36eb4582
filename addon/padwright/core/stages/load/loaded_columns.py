"""The pad as columns side by side, alone or in series with flesh."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.cached import cached_property
from ...base.mesh import Float, Int
from ..body.flesh import Flesh
from ..material.curves import StressCurve
from .curve_table import CurveTable

_FAR = 100.0
"""Strain to which curves are carried on with their last slope where they are added in series."""


@dataclass(frozen=True, eq=False)
class _Series:
    """Pads of k kinds in series with flesh; all curves are straight between their points."""

    strain: Float  # (g,); of the pads
    stress: Float  # (k, g)
    energy: Float  # (k, g); for each volume, up to each point
    flesh_strain: Float  # (f,)
    flesh_stress: Float  # (f,); rising
    flesh_energy: Float  # (f,)
    squeezed: Float | None  # (k, g); strain of the flesh at each point of the pads; None where columns of a kind differ

    @staticmethod
    def of(pads: CurveTable, flesh: StressCurve, factor: Float | None) -> _Series:
        """Return the series; the factor on each kind's stress, (k,), or None where columns have their own."""
        # A level stretch gets a slope of a millionth of the mean, so that every stress has one strain.
        strain, soft = np.append(pads.strain, _FAR), np.append(flesh.strain, _FAR)
        end = pads.stress_kpa[:, -1] + pads.last_kpa * (_FAR - pads.strain[-1])
        stress = np.column_stack([pads.stress_kpa, end]) + 1e-6 * pads.stress_kpa[:, -1:] * strain
        hard = np.append(flesh.stress_kpa, flesh.stress(np.array(_FAR))) + 1e-6 * flesh.stress_kpa[-1] * soft
        squeezed = None if factor is None else np.interp(factor[:, None] * stress, hard, soft)
        return _Series(strain, stress, _energy(strain, stress), soft, hard, _energy(soft, hard), squeezed)

    def solve(
        self, sinkage: Float, thickness: Float, kind: Int, factor: Float, flesh_mm: float
    ) -> tuple[Float, Float, Float, Float]:
        """Return stress, stiffness, energy per area and the pad's strain at each sinkage of the bone.

        Notes
        -----
        Both give the more the further each has come along its curve, so the stretch of the pad's curve is found by
        halving, then that of the flesh's within it; on both stretches all is straight.
        """
        low = np.zeros(len(sinkage), dtype=np.intp)
        high = np.full(len(sinkage), len(self.strain) - 1)
        while (high - low > 1).any():
            middle = (low + high) // 2
            if self.squeezed is None:
                flesh = np.interp(factor * self.stress[kind, middle], self.flesh_stress, self.flesh_strain)
            else:
                flesh = self.squeezed[kind, middle]
            is_above = thickness * self.strain[middle] + flesh_mm * flesh <= sinkage
            low, high = np.where(is_above, middle, low), np.where(is_above, high, middle)
        first, last = factor * self.stress[kind, low], factor * self.stress[kind, low + 1]
        pad, wide = self.strain[low], self.strain[low + 1] - self.strain[low]
        rise = last - first
        slow = np.divide(wide, rise, out=np.zeros(len(rise)), where=rise > 0.0)  # strain of the pad for a kPa
        most = len(self.flesh_stress) - 1
        start = np.minimum(np.searchsorted(self.flesh_stress, first, side="right") - 1, most - 1)
        end = np.clip(np.searchsorted(self.flesh_stress, last, side="left"), start + 1, most)
        while (end - start > 1).any():
            middle = (start + end) // 2
            at = self.flesh_stress[middle]
            is_above = thickness * (pad + slow * (at - first)) + flesh_mm * self.flesh_strain[middle] <= sinkage
            is_above &= end - start > 1
            start, end = np.where(is_above, middle, start), np.where(is_above | (end - start <= 1), end, middle)
        soft, hard = self.flesh_strain[start], self.flesh_stress[start]
        gives = (self.flesh_strain[start + 1] - soft) / (self.flesh_stress[start + 1] - hard)
        low_kpa, high_kpa = np.maximum(first, hard), np.minimum(last, self.flesh_stress[start + 1])
        is_level = rise <= 0.0  # a column that bears nothing gives alone
        step = np.where(is_level, 0.0, high_kpa - low_kpa)
        own = np.where(is_level, wide, slow * step)
        at_low = pad + slow * (low_kpa - first)
        flesh = soft + gives * (low_kpa - hard)
        width = thickness * own + flesh_mm * gives * step
        share = (sinkage - thickness * at_low - flesh_mm * flesh) / width
        stress, strain = low_kpa + share * step, at_low + share * own
        squeezed = flesh + share * gives * step
        energy = thickness * (factor * self.energy[kind, low] + 0.5 * (first + stress) * (strain - pad))
        energy += flesh_mm * (self.flesh_energy[start] + 0.5 * (hard + stress) * (squeezed - soft))
        return stress, step / width, energy, strain


def _energy(strain: Float, stress: Float) -> Float:
    """Return the energy for each volume up to each point of curves (..., g)."""
    steps = 0.5 * (stress[..., 1:] + stress[..., :-1]) * np.diff(strain)
    return np.concatenate([np.zeros((*stress.shape[:-1], 1)), np.cumsum(steps, axis=-1)], axis=-1)


@dataclass(frozen=True, eq=False)
class Columns:
    """Columns of a thickness and a kind each."""

    thickness: Float  # (n,), mm
    zone: Int  # (n,); the kind
    pads: CurveTable  # a curve for each kind
    ratios: Float  # (k,); factor on each curve's stress: what standing in a layer adds
    flesh: Flesh | None = None
    own: Float | None = None  # (n,); factor on each column's stress; None: 1

    @cached_property
    def _series(self) -> _Series | None:
        if self.flesh is None:
            return None
        return _Series.of(self.pads, self.flesh.curve, np.asarray(self.ratios) if self.own is None else None)

    @cached_property
    def factor(self) -> Float:
        """Factor on each column's stress, (n,)."""
        ratio = np.asarray(self.ratios)[self.zone]
        return ratio if self.own is None else ratio * self.own

    def part(self, index: Int) -> Columns:
        """Return some of the columns."""
        own = None if self.own is None else self.own[index]
        return Columns(self.thickness[index], self.zone[index], self.pads, self.ratios, self.flesh, own)

    def respond(self, sinkage: Float) -> tuple[Float, Float, Float, Float]:
        """Return stress kPa, stiffness kPa/mm, energy kPa mm and the pad's strain for each column, (n,) each.

        The sinkage, (n,), mm, is how far the body (or the bone, with flesh) has come; nothing pulls where it is
        negative.
        """
        sinkage = np.maximum(sinkage, 0.0)
        if self._series is not None and self.flesh is not None:
            found = self._series.solve(sinkage, self.thickness, self.zone, self.factor, self.flesh.thickness_mm)
            return found[0], np.where(sinkage > 0.0, found[1], 0.0), found[2], found[3]
        strain = sinkage / self.thickness
        stress, slope, energy = self.pads.at(strain, self.zone)
        stiffness = np.where(sinkage > 0.0, self.factor * slope / self.thickness, 0.0)
        return self.factor * stress, stiffness, self.factor * energy * self.thickness, strain

    def first_step(self, area: Float) -> float:
        """Return how far a first step of a balance may go, mm: a fifth of what gives."""
        own = 0.2 * float(self.thickness @ area / area.sum())
        return own if self.flesh is None else own + 0.2 * self.flesh.thickness_mm
