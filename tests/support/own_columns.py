"""Flesh and pad in series, worked out without the product: explicit laws, a bisection for each column, scipy around it.

A law gives the strain at a pressure, so that a column's give is a sum; the product has stress at a strain, in tables.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, root

from padwright.core.stages.material.curves import StressCurve

REACH_MM = 100.0
"""Length at which turns are measured here."""


@dataclass(frozen=True)
class PadLaw:
    """Strain p/E + (p/P)^n: it gives way the more the nearer p comes to P."""

    modulus: float
    gives_way: float = np.inf
    power: float = 3.0

    def strain(self, pressure):
        return pressure / self.modulus + (pressure / self.gives_way) ** self.power

    def times(self, factor):
        return PadLaw(factor * self.modulus, factor * self.gives_way, self.power)

    def curve(self, poisson=0.0, shut=0.89, knots=3000):
        """Return it as a table; with 3000 knots chords stand off the law by less than 1e-6 of the stress."""
        top = brentq(lambda p: self.strain(p) - 0.9, 0.0, self.modulus)
        fine = np.linspace(0.0, top, 40 * knots)
        strain = np.linspace(0.0, 0.9, knots)
        stress = np.interp(strain, self.strain(fine), fine)
        return StressCurve(strain, stress, shut, poisson)


@dataclass(frozen=True)
class FleshLaw:
    """Squeeze of T ln(1 + b p/E) / b, from stress (E/b) (exp(b strain) - 1) (Fung 1967, cited, not read)."""

    thickness: float
    modulus: float
    stiffening: float = 0.0

    def squeeze(self, pressure):
        if self.stiffening == 0.0:
            return self.thickness * pressure / self.modulus
        return self.thickness * np.log1p(self.stiffening * pressure / self.modulus) / self.stiffening

    def curve(self, knots=6000):
        strain = np.linspace(0.0, 0.9, knots)
        b = self.stiffening
        return StressCurve(strain, self.modulus * (np.expm1(b * strain) / b if b else strain), 0.89, 0.0)


@dataclass(frozen=True, eq=False)
class Places:
    """Columns: place across the press direction, area, length and zone of each."""

    xy: np.ndarray
    area: np.ndarray
    length: np.ndarray
    zone: np.ndarray

    def give(self, pads, pressure, ratio=1.0):
        """Return the pad's strain at a pressure of each column."""
        strain = np.zeros_like(pressure)
        for number, pad in enumerate(pads):
            here = self.zone == number
            strain[here] = pad.strain(pressure[here] / ratio)
        return strain

    def pressures(self, pads, flesh, sinkage, ratio=1.0, halvings=60):
        low, high = np.zeros_like(sinkage), np.full_like(sinkage, 2000.0)
        for _ in range(halvings):
            middle = 0.5 * (low + high)
            is_over = self.length * self.give(pads, middle, ratio) + flesh.squeeze(middle) > sinkage
            low, high = np.where(is_over, low, middle), np.where(is_over, middle, high)
        return np.where(sinkage > 0.0, 0.5 * (low + high), 0.0)

    def press(self, pads, flesh, clay, force, *, gap=0.0, point=None, ratio=1.0, halvings=60):
        """Return motion (1, and 2 turns where the force has a point) and pressures."""
        start = flesh.squeeze(clay) - gap
        if point is None:
            lever = np.ones((len(clay), 1))
        else:
            lever = np.column_stack([np.ones(len(clay)), (self.xy - point) / REACH_MM])
        wanted = np.eye(lever.shape[1])[0]

        def left(motion):
            found = self.pressures(pads, flesh, lever @ motion + start, ratio, halvings)
            return lever.T @ (found * self.area) / force - wanted

        if point is None:
            motion = np.array([brentq(lambda d: left(np.array([d]))[0], -start.max(), 200.0, xtol=1e-7)])
        else:
            found = root(left, np.zeros(3), tol=1e-12)
            motion = found.x
            assert np.abs(found.fun).max() < 1e-8
        return motion, self.pressures(pads, flesh, lever @ motion + start, ratio, halvings)


def swept(inside, slowness, step):
    """Return the least sum of slowness ds to where `inside` ends, by fast sweeping (Zhao 2005, cited, not read)."""
    way = np.where(inside, 1e9, 0.0)
    rows, columns = way.shape
    while True:
        before = way.copy()
        for down in (1, -1):
            for right in (1, -1):
                for i in range(1, rows - 1)[::down]:
                    for j in range(1, columns - 1)[::right]:
                        if inside[i, j]:
                            a, b = min(way[i - 1, j], way[i + 1, j]), min(way[i, j - 1], way[i, j + 1])
                            f = slowness[i, j] * step
                            near = min(a, b) + f
                            if abs(a - b) < f:
                                near = 0.5 * (a + b + np.sqrt(2.0 * f * f - (a - b) ** 2))
                            way[i, j] = min(way[i, j], near)
        if np.abs(way - before).max() < 1e-9:
            return way
