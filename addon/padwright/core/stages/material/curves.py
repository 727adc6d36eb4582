"""Stress against strain under compression, as one curve that never falls, and a band of three of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...base.cached import cached_property
from ...base.errors import InputError
from ...base.estimate import Estimate
from ...base.frozen import hold
from ...base.mesh import Float

LEVEL_STRAIN = 0.10
"""A modulus is the secant at this strain where no load says at which (our definition)."""


@dataclass(frozen=True, eq=False)
class StressCurve:
    """Nominal compressive stress over nominal strain.

    Raises InputError when the points are no such curve.
    """

    strain: Float  # (m,); from 0, strictly increasing, below 1
    # (m,); from 0, never falling. Between two points it is linear; past the last it goes on with three times the last
    # slope, so that a solver never finds a way through a pad that has nothing left to give.
    stress_kpa: Float
    densification: float  # strain from which the cells are shut
    poisson: float  # of the cellular solid as a whole; it sets how much stiffer a wide layer is than a free block
    # share of the stiffness at small strain that contours carry. They swell into the fill beside them, so standing in a
    # layer stiffens them less.
    wall_share: float = 0.0

    def __post_init__(self) -> None:
        strain = np.array(self.strain, dtype=np.float64)
        stress = np.array(self.stress_kpa, dtype=np.float64)
        if strain.ndim != 1 or strain.shape != stress.shape or len(strain) < 2:
            raise InputError(f"A stress curve needs two equal rows of numbers; got {strain.shape} and {stress.shape}.")
        if not (np.isfinite(strain).all() and np.isfinite(stress).all()):
            raise InputError("A stress curve holds a value that is not a number.")
        if strain[0] != 0.0 or stress[0] != 0.0 or (np.diff(strain) <= 0).any() or strain[-1] >= 1.0:
            raise InputError(f"A stress curve's strain must rise from 0 to below 1; it runs to {strain[-1]:g}.")
        if (np.diff(stress) < 0).any() or stress[-1] <= 0.0:
            place = strain[int(np.argmin(np.diff(stress)))]
            raise InputError(f"A stress curve must not fall; this one does after a strain of {place:.3f}.")
        if not 0.0 <= self.wall_share <= 1.0:
            raise InputError(f"Walls cannot carry {self.wall_share:g} of the stiffness; give 0 to 1.")
        if not 0.0 < self.densification < 1.0 or not 0.0 <= self.poisson < 0.5:
            raise InputError(
                f"Densification at {self.densification:g} or Poisson's ratio {self.poisson:g} is out of range."
            )
        hold(self, strain=strain, stress_kpa=stress)

    @cached_property
    def _slopes(self) -> Float:
        slopes = np.diff(self.stress_kpa) / np.diff(self.strain)
        return np.append(slopes, 3.0 * max(slopes[-1], self.stress_kpa[-1] / self.strain[-1]))

    @cached_property
    def _energies(self) -> Float:
        mean = 0.5 * (self.stress_kpa[1:] + self.stress_kpa[:-1])
        return np.concatenate([[0.0], np.cumsum(mean * np.diff(self.strain))])

    def _interval(self, strain: Float) -> tuple[Float, np.ndarray]:
        strain = np.maximum(np.asarray(strain, dtype=np.float64), 0.0)
        return strain, np.searchsorted(self.strain, strain, side="right") - 1  # strains begin with 0: never below 0

    def stress(self, strain: Float) -> Float:
        """Return the stress at each strain, kPa; 0 where the strain is negative (nothing pulls)."""
        strain, index = self._interval(strain)
        return np.asarray(self.stress_kpa[index] + self._slopes[index] * (strain - self.strain[index]))

    def slope(self, strain: Float) -> Float:
        """Return the tangent modulus at each strain, kPa; 0 where the strain is negative."""
        _, index = self._interval(strain)
        return np.where(np.asarray(strain) < 0.0, 0.0, self._slopes[index])

    def energy(self, strain: Float) -> Float:
        """Return the integral of stress over strain up to each strain, kPa (= mJ/cm3)."""
        strain, index = self._interval(strain)
        step = strain - self.strain[index]
        return np.asarray(self._energies[index] + step * (self.stress_kpa[index] + 0.5 * self._slopes[index] * step))

    def secant_kpa(self, at: float = LEVEL_STRAIN) -> float:
        """Return stress over strain at one strain, kPa."""
        return float(self.stress(np.array(at))) / at

    @property
    def small_strain_kpa(self) -> float:
        """Modulus of the first interval, kPa."""
        return float(self._slopes[0])

    def scaled(self, factor: float) -> StressCurve:
        """Return the curve with every stress times a positive factor."""
        return replace(self, stress_kpa=self.stress_kpa * factor)


@dataclass(frozen=True, eq=False)
class CurveBand:
    """The curve expected and the two it will lie between."""

    # value, low, high: low and high are the 5th and 95th percentile of the spread of material, fill law and print.
    value: StressCurve
    low: StressCurve
    high: StressCurve
    basis: str  # as in `estimate.BASES`
    notes: tuple[str, ...] = ()
    # the curve at the 5th and 95th percentile of each independent source of error that all regions of one material
    # share, in one order for all. Empty: low and high are the one such source.
    shared: tuple[tuple[StressCurve, StressCurve], ...] = ()
    # what this region has of its own: its stress lies between 1 over and times this factor, nine times in ten.
    own_factor: float = 1.0
    at: float = LEVEL_STRAIN  # strain at which low and high are those percentiles, and at which the modulus is told

    @property
    def modulus_kpa(self) -> Estimate:
        """Secant modulus at the band's strain."""
        value, low, high = (each.secant_kpa(self.at) for each in (self.value, self.low, self.high))
        return Estimate(value, low, high, self.basis)


def constrained_ratio(poisson: float | Float) -> Float:
    """Return M/E, how much stiffer a layer is that cannot spread sideways.

    Notes
    -----
    M/E = (1 - nu) / ((1 + nu)(1 - 2 nu)) for an isotropic solid (Johnson 1985, Contact Mechanics, section 5.8, cited,
    not read). It holds where the loaded width is at least the thickness and nu is at most 0.37: plane-strain finite
    elements of a rigid cylinder on a bonded layer then come within 8 % (own computation). For a nearly
    incompressible solid it is 2 to 60 times too stiff; see `bulging_layers`.
    """
    nu = np.asarray(poisson, dtype=np.float64)
    return np.asarray((1.0 - nu) / ((1.0 + nu) * (1.0 - 2.0 * nu)))


WALL_POISSON = 0.48
"""Of the walls' solid, for `layered_ratio`; common practice, no source."""


def layered_ratio(curve: StressCurve) -> float:
    """Return how much stiffer a curve's region is in a wide layer than as a free block.

    Notes
    -----
    The fill shows M/E (`constrained_ratio`); a contour cannot grow along its length but swells into the soft fill, so
    it shows the plate's 1/(1 - nu^2), 1.30 (plane strain; Timoshenko, cited, not read). Weighted by what each carries
    at small strain, where a body's weight on a wide pad lies.
    """
    wall = 1.0 / (1.0 - WALL_POISSON**2)
    return (1.0 - curve.wall_share) * float(constrained_ratio(curve.poisson)) + curve.wall_share * wall
