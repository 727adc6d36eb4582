"""The pad as columns side by side, alone or in series with flesh, and a rigid body balanced on them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ...base.mesh import Bool, Float, Int
from ..material.curves import StressCurve
from .curve_table import CurveTable
from .flesh import Flesh

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

    @staticmethod
    def of(pads: CurveTable, flesh: StressCurve) -> _Series:
        # A level stretch gets a slope of a millionth of the mean, so that every stress has one strain.
        strain, soft = np.append(pads.strain, _FAR), np.append(flesh.strain, _FAR)
        end = pads.stress_kpa[:, -1] + pads.last_kpa * (_FAR - pads.strain[-1])
        stress = np.column_stack([pads.stress_kpa, end]) + 1e-6 * pads.stress_kpa[:, -1:] * strain
        hard = np.append(flesh.stress_kpa, flesh.stress(np.array(_FAR))) + 1e-6 * flesh.stress_kpa[-1] * soft
        return _Series(strain, stress, _energy(strain, stress), soft, hard, _energy(soft, hard))

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
            flesh = np.interp(factor * self.stress[kind, middle], self.flesh_stress, self.flesh_strain)
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
        return None if self.flesh is None else _Series.of(self.pads, self.flesh.curve)

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


@dataclass(frozen=True, eq=False)
class Balance:
    """Where the body came to rest."""

    motion: Float  # (q,); along the press direction, then what it turns (mm at the length the levers are given in)
    is_balanced: bool
    residual: float  # largest part of the load that is left unbalanced
    iterations: int


def balance(
    columns: Columns,
    area: Float,
    gap: Float,
    lever: Float,
    force: float,
    start: Float,
    *,
    tolerance: float = 1e-9,
    most: int = 100,
) -> Balance:
    """Find the rigid motion at which the columns carry the load.

    Area is (n,), mm2, gap (n,), mm, force mN; the lever, (n, q), is what each column sinks by for each unit of motion,
    its first column 1, and the start is such a motion, (q,). The tolerance is of force, and of moments over the lever
    length; after `most` iterations it gives up.

    Notes
    -----
    Least of energy stored minus work done, convex because stresses never fall. Newton's method in a trust region, at
    first a fifth of the mean thickness wide, with steps shortened until the energy falls enough (Armijo's rule;
    Nocedal & Wright 2006, Numerical Optimization, chapters 3 and 4).
    """
    motion = np.array(start, dtype=np.float64)
    load = np.zeros(len(motion))
    load[0] = force
    radius = 0.2 * float(columns.thickness @ area / area.sum())
    if columns.flesh is not None:
        radius += 0.2 * columns.flesh.thickness_mm

    def look(at: Float) -> tuple[float, Float, Float]:
        stress, stiffness, energy, _ = columns.respond(lever @ at - gap)
        stored = area * energy
        return float(stored.sum() - load @ at), (area * stress) @ lever - load, area * stiffness

    value, slope, weight = look(motion)
    for iteration in range(most):
        residual = float(np.abs(slope).max()) / force
        if residual <= tolerance:
            return Balance(motion, True, residual, iteration)
        step = _newton_step(lever.T @ (weight[:, None] * lever), slope, radius)
        descent = float(slope @ step)
        share = 1.0
        for _ in range(40):
            tried = look(motion + share * step)
            rounding = 1e-13 * (abs(value) + abs(float(load @ motion)))
            if tried[0] <= value + 1e-4 * share * descent + rounding:
                break
            steeper = float(tried[1] @ step)
            share *= float(np.clip(descent / (descent - steeper), 0.1, 0.5)) if steeper > 0.0 else 0.5
        else:
            return Balance(motion, residual <= 1e-6, residual, iteration)
        length = float(np.linalg.norm(step))
        radius = max(radius, 2.0 * length) if share == 1.0 else 2.0 * share * length
        motion = motion + share * step
        value, slope, weight = tried
    residual = float(np.abs(slope).max()) / force
    return Balance(motion, residual <= 1e-6, residual, most)


def _newton_step(matrix: Float, slope: Float, radius: float) -> Float:
    """Return the step to the least of the quadratic model no further away than the radius.

    With eigenvectors the step for a shift t of the matrix is -sum v (v . slope) / (w + t); t is found by halving, so
    that the step is as long as the radius.
    """
    stiff, vectors = np.linalg.eigh(matrix)
    along = vectors.T @ slope
    steep = float(np.linalg.norm(slope)) / radius
    stiff = np.maximum(stiff, 1e-14 * max(float(stiff[-1]), steep))

    def step(shift: float) -> Float:
        return -along / (stiff + shift)

    low, high = 0.0, steep
    if float(np.linalg.norm(step(0.0))) <= radius:
        high = 0.0
    for _ in range(30 if high else 0):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if float(np.linalg.norm(step(middle))) > radius else (low, middle)
    return np.asarray(vectors @ step(high))


def is_inside(levers: Float, is_used: Bool) -> bool:
    """Return whether the origin lies within the outline (convex hull) of the used points (n, 2)."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        hull = ConvexHull(levers[is_used])
    except QhullError:  # all on one line
        return False
    return bool((hull.equations[:, -1] <= 1e-9 * np.abs(levers).max()).all())
