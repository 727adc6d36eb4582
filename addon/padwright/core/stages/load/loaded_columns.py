"""The pad as columns side by side, alone or in series with flesh, and a rigid body balanced on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ...base.mesh import Bool, Float, Int
from ..material.curves import StressCurve
from .flesh import Flesh

_FAR = 100.0
"""Strain to which curves are carried on with their last slope where they are added in series."""


@dataclass(frozen=True, eq=False)
class _Series:
    """Curves of k kinds of pad and one of flesh on one grid of stress; all are straight between its points."""

    stress: Float  # (g,)
    pad: Float  # (k, g)
    flesh: Float  # (g,)

    @staticmethod
    def of(pads: Sequence[StressCurve], flesh: StressCurve, ratios: Float) -> _Series:
        knots = []
        for curve, factor in (*zip(pads, ratios, strict=True), (flesh, 1.0)):
            strain = np.append(curve.strain, _FAR)
            stress = factor * np.append(curve.stress_kpa, curve.stress(np.array(_FAR)))
            # A level stretch gets a slope of a millionth of the mean, so that every stress has one strain.
            stress = stress + 1e-6 * factor * curve.stress_kpa[-1] * strain
            knots.append((strain, stress))
        top = min(stress[-1] for _, stress in knots)
        grid = np.unique(np.concatenate([stress for _, stress in knots]))
        grid = grid[grid <= top]
        strains = [np.interp(grid, stress, strain) for strain, stress in knots]
        return _Series(grid, np.array(strains[:-1]), strains[-1])

    @cached_property
    def _steps(self) -> tuple[Float, Float, Float]:
        """Rises of stress and of both strains between the points of the grid."""
        return np.diff(self.stress), np.diff(self.pad), np.diff(self.flesh)

    @cached_property
    def _energies(self) -> tuple[Float, Float]:
        """Energy of pad, (k, g - 1), and flesh for each volume, up to each point of the grid but the last, kPa."""
        mean = 0.5 * (self.stress[1:] + self.stress[:-1])
        pad, flesh = (np.cumsum(mean * step, axis=-1) for step in self._steps[1:])
        return np.pad(pad[:, :-1], ((0, 0), (1, 0))), np.append(0.0, flesh[:-1])

    def solve(self, sinkage: Float, thickness: Float, kind: Int, flesh_mm: float) -> tuple[Float, Float, Float, Float]:
        """Return stress, stiffness, energy per area and the pad's strain at each sinkage of the bone."""
        low = np.zeros(len(sinkage), dtype=np.intp)
        high = np.full(len(sinkage), len(self.stress) - 1)
        while (high - low > 1).any():
            middle = (low + high) // 2
            is_above = thickness * self.pad[kind, middle] + flesh_mm * self.flesh[middle] <= sinkage
            low, high = np.where(is_above, middle, low), np.where(is_above, high, middle)
        steps, energies = self._steps, self._energies
        step, pad_step, flesh_step = steps[0][low], steps[1][kind, low], steps[2][low]
        first, pad = self.stress[low], self.pad[kind, low]
        width = thickness * pad_step + flesh_mm * flesh_step
        share = (sinkage - thickness * pad - flesh_mm * self.flesh[low]) / width
        stress = first + share * step
        energy = thickness * energies[0][kind, low] + flesh_mm * energies[1][low]
        return stress, step / width, energy + 0.5 * (first + stress) * share * width, pad + share * pad_step


@dataclass(frozen=True, eq=False)
class _Bare:
    """Curves of k kinds of pad on one grid of strain; all are straight between its points."""

    strain: Float  # (g,); from 0
    stress: Float  # (k, g)
    slope: Float  # (k, g); from each point on, past the last too
    energy: Float  # (k, g); for each volume, up to each point

    @staticmethod
    def of(pads: Sequence[StressCurve], ratios: Float) -> _Bare:
        grid = np.unique(np.concatenate([curve.strain for curve in pads]))
        both = zip(pads, ratios, strict=True)
        rows = [[ratio * each(grid) for each in (curve.stress, curve.slope, curve.energy)] for curve, ratio in both]
        return _Bare(grid, *(np.array(each) for each in zip(*rows, strict=True)))

    def solve(self, sinkage: Float, thickness: Float, kind: Int) -> tuple[Float, Float, Float, Float]:
        """Return stress, stiffness, energy per area and the pad's strain at each sinkage of the body."""
        strain = sinkage / thickness
        low = np.searchsorted(self.strain, strain, side="right") - 1  # strains begin with 0: never below 0
        step, slope, first = strain - self.strain[low], self.slope[kind, low], self.stress[kind, low]
        stress = first + slope * step
        energy = self.energy[kind, low] + 0.5 * step * (first + stress)
        return stress, slope / thickness, energy * thickness, strain


@dataclass(frozen=True, eq=False)
class Columns:
    """Columns of a thickness and a kind each."""

    thickness: Float  # (n,), mm
    zone: Int  # (n,); the kind
    curves: Sequence[StressCurve]  # one for each kind
    ratios: Float  # (k,); factor on each curve's stress: what standing in a layer adds
    flesh: Flesh | None = None

    @cached_property
    def _series(self) -> _Series | None:
        return None if self.flesh is None else _Series.of(self.curves, self.flesh.curve, self.ratios)

    @cached_property
    def _bare(self) -> _Bare:
        return _Bare.of(self.curves, self.ratios)

    def part(self, index: Int) -> Columns:
        """Return some of the columns."""
        return Columns(self.thickness[index], self.zone[index], self.curves, self.ratios, self.flesh)

    def respond(self, sinkage: Float) -> tuple[Float, Float, Float, Float]:
        """Return stress kPa, stiffness kPa/mm, energy kPa mm and the pad's strain for each column, (n,) each.

        The sinkage, (n,), mm, is how far the body (or the bone, with flesh) has come; nothing pulls where it is
        negative.
        """
        sinkage = np.maximum(sinkage, 0.0)
        if self._series is not None and self.flesh is not None:
            found = self._series.solve(sinkage, self.thickness, self.zone, self.flesh.thickness_mm)
        else:
            found = self._bare.solve(sinkage, self.thickness, self.zone)
        return found[0], np.where(sinkage > 0.0, found[1], 0.0), found[2], found[3]


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
