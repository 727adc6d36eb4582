"""From pressed blocks to the material: a robust fit with a prior, and how far its result can be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.linalg import cho_factor, cho_solve, solve_triangular
from scipy.optimize import least_squares
from scipy.special import ndtr
from scipy.stats import chi2

from ..errors import InputError, SolveError
from ..estimate import Estimate
from ..mesh import Float
from ..units import N_PER_KG
from .coupons import READ_KG, Coupon
from .curves import StressCurve
from .fill import middle_curve, region_curve
from .held import held_ratio
from .material_model import UNKNOWNS, MaterialModel
from .readings import Readings

PRINT_SPREAD = 0.06
"""Standard deviation of the logarithm by which two prints of the same settings, or one pattern and density against the
law fitted to all, differ in stiffness. Assumed; the misfit between blocks tells when it is too small."""

HEIGHT_SD_MM = 0.3
"""Of a printed block's height against its nominal one (common practice, no source)."""

_TARED_SD_KG = 0.2
"""Of a load that is nothing: the scale was set to zero with block and plank on it. Assumed."""

_SOFT = 2.0
"""Residuals up to two standard deviations count nearly as plain least squares, larger ones by their size only
(soft-l1 loss of scipy's least_squares)."""

_STRANGE = 3.5
"""Readings farther off than so many standard deviations are named."""

_SHUT_SHARE = 0.85
"""Readings past this share of the strain at which cells shut say little of the fill and are left out."""

_COUNT = len(UNKNOWNS)
_STEP = 0.02


@dataclass(frozen=True)
class Strange:
    """A reading that does not fit.

    Attributes
    ----------
    index : int
        In the readings.
    place : str
        file:line.
    deviations : float
        How many of its own standard deviations it is off; positive: more load than the fit says.
    expected_kg : float
    """

    index: int
    place: str
    deviations: float
    expected_kg: float


@dataclass(frozen=True)
class BlockFit:
    """What the fit says of one block.

    Attributes
    ----------
    coupon : Coupon
    before, after : Estimate
        Secant modulus at 10 % strain, kPa, free to spread, by the card and by the fit.
    own_factor : float
        How much stiffer this print is than the law fitted to all.
    readings : int
    """

    coupon: Coupon
    before: Estimate
    after: Estimate
    own_factor: float
    readings: int


@dataclass(frozen=True, eq=False)
class CalibrationFit:
    """The material as the blocks show it.

    Attributes
    ----------
    model : MaterialModel
        Basis "measured"; its covariance holds what a new print may differ by.
    solid_before, solid_after : Estimate
        Modulus of the solid, kPa.
    blocks : tuple of BlockFit
    misfit : float
        Root mean square of the residuals in units of the readings' error; about 1 when all is well.
    used : int
        Readings in the fit.
    residuals : (n,) float
        Per reading, in units of its error; NaN where it was left out.
    strange : tuple of Strange
    notes : tuple of str
    """

    model: MaterialModel
    solid_before: Estimate
    solid_after: Estimate
    blocks: tuple[BlockFit, ...]
    misfit: float
    used: int
    residuals: Float
    strange: tuple[Strange, ...]
    notes: tuple[str, ...]


def calibrate(coupons: Sequence[Coupon], readings: Readings, prior: MaterialModel) -> CalibrationFit:
    """Fit the material's four unknowns to the readings.

    Unknown beside them: how much the plates hold the blocks (even between slipping and sticking), how much each print
    differs, and each block's height without load. The largest posterior is sought (Gaussian priors, soft-l1 loss on
    the readings); the covariance is the inverse of its curvature. Errors of height count through the slope of the
    curve (effective variance: Orear 1982, Am. J. Phys. 50, 912, from memory).

    Parameters
    ----------
    coupons : sequence of Coupon
    readings : Readings
    prior : MaterialModel
        From the card.

    Raises
    ------
    InputError
        When fewer than 4 readings with load are left, or all are from one block with one load.
    SolveError
        When the fit does not end.
    """
    fit = _Fit(coupons, readings, prior)
    point = fit.solve()
    scale = fit.noise_scale(point)
    notes = list(readings.notes)
    if scale > 1.0:
        notes.append(
            f"The readings scatter {scale:.1f} times as much as {fit.reading_words} would: their error is taken larger "
            "by that."
        )
        fit.inflate(scale)
        point = fit.solve(point)
    residuals, _ = fit.residuals(point)
    full = np.full(len(readings.block), np.nan)
    full[fit.kept] = residuals * scale
    covariance = fit.covariance(point)
    covariance[0, 0] += PRINT_SPREAD**2
    model = MaterialModel(prior.modulus_kpa, prior.poisson, point[:_COUNT], covariance, "measured")
    strange = tuple(
        Strange(int(index), readings.place(index), float(value), float(expected))
        for index, value, expected in zip(fit.kept, residuals, fit.expected_kg(point), strict=True)
        if abs(value) > _STRANGE
    )
    notes += fit.notes
    notes += [
        f"{each.place}: block {readings.block[each.index]} under {readings.load_kg[each.index]:g} kg does not fit: "
        f"{each.expected_kg:.1f} kg were expected at {readings.height_mm[each.index]:g} mm. It counts less."
        for each in strange
    ]
    blocks = []
    for order, coupon in enumerate(fit.coupons):
        before, after = (_secant(coupon, each) for each in (prior, model))
        own = float(np.exp(point[_COUNT + 1 + order]))
        blocks.append(BlockFit(coupon, before, after, own, int((fit.order == order).sum())))
        if abs(np.log(own)) > 2.5 * PRINT_SPREAD:
            notes.append(
                f"Block {coupon.number} ({coupon.words}) is {100 * (own - 1):+.0f} % off what the others say: look at "
                "it for missing walls or strings, weigh it, and press it again."
            )
    misfit = float(np.sqrt(np.mean((residuals * scale) ** 2)))
    return CalibrationFit(
        model, prior.solid, model.solid, tuple(blocks), misfit, len(fit.kept), full, strange, tuple(notes)
    )


def _secant(coupon: Coupon, model: MaterialModel) -> Estimate:
    band = region_curve(coupon.settings, model, coupon.geometry)
    return Estimate(band.value.secant_kpa(), band.low.secant_kpa(), band.high.secant_kpa(), band.basis)


class _Fit:
    """The posterior of one set of readings. A point is (unknowns, hold of the plates, own factors, own heights)."""

    reading_words = f"0.1 mm and {READ_KG:g} kg"

    def __init__(self, coupons: Sequence[Coupon], readings: Readings, prior: MaterialModel) -> None:
        read = set(readings.block.tolist())
        self.coupons = [coupon for coupon in coupons if coupon.number in read]
        self.prior = prior
        order = np.array([[each.number for each in self.coupons].index(int(number)) for number in readings.block])
        nominal = np.array([each.geometry.thickness_mm for each in self.coupons])
        shut = np.array([self._curve(each, prior.unknowns).densification for each in self.coupons])
        strain = 1.0 - readings.height_mm / nominal[order]
        is_shut = strain > _SHUT_SHARE * shut[order]
        self.kept = np.flatnonzero(~is_shut)
        self.notes = [
            f"{readings.place(index)}: block {readings.block[index]} is pressed by {100 * strain[index]:.0f} %, its "
            "cells are shut; the reading is left out."
            for index in np.flatnonzero(is_shut)
        ]
        self.order = order[self.kept]
        self.height = readings.height_mm[self.kept]
        self.load = readings.load_kg[self.kept] * N_PER_KG
        loaded = int((self.load > 0.5 * N_PER_KG).sum())
        if loaded < 4:
            raise InputError(
                f"{readings.source} has {loaded} readings with load that can be used; 4 are the least.",
                hint="Press every block at three loads or more, to less than half of its height.",
            )
        self.height_sd = readings.height_sd_mm[self.kept].copy()
        self.load_sd = np.where(readings.load_kg[self.kept] < 0.5, _TARED_SD_KG, READ_KG) * N_PER_KG
        self.nominal = nominal
        self.area = np.array([each.geometry.area_mm2 for each in self.coupons]) / 1000.0
        self.own = [np.flatnonzero(self.order == index) for index in range(len(self.coupons))]
        size = len(self.coupons)
        self.middle = np.concatenate([prior.unknowns, np.zeros(1 + 2 * size)])
        spread = np.concatenate([[1.0], np.full(size, PRINT_SPREAD), np.full(size, HEIGHT_SD_MM)])
        # A direction that an earlier calibration fixed keeps a hundredth, so that the matrix stays regular.
        factor = np.linalg.cholesky(prior.covariance + 1e-4 * np.eye(_COUNT))
        self.whiten = np.zeros((len(self.middle), len(self.middle)))
        self.whiten[:_COUNT, :_COUNT] = solve_triangular(factor, np.eye(_COUNT), lower=True)
        self.whiten[range(_COUNT, len(self.middle)), range(_COUNT, len(self.middle))] = 1.0 / spread

    def _curve(self, coupon: Coupon, unknowns: Float) -> StressCurve:
        return middle_curve(coupon.settings, self.prior, coupon.geometry, unknowns)

    def predict(self, point: Float) -> tuple[Float, Float, Float]:
        """Return force N (n,), its slope over the height without load N/mm (n,), and its Jacobian (n, size)."""
        force, slope = np.zeros(len(self.load)), np.zeros(len(self.load))
        jacobian = np.zeros((len(self.load), len(point)))
        size = len(self.coupons)
        hold = float(ndtr(point[_COUNT]))
        density = float(np.exp(-0.5 * point[_COUNT] ** 2) / np.sqrt(2.0 * np.pi))
        for index, (coupon, own) in enumerate(zip(self.coupons, self.own, strict=True)):
            height = self.nominal[index] + point[_COUNT + 1 + size + index]
            strain = 1.0 - self.height[own] / height
            curve = self._curve(coupon, point[:_COUNT])
            held = held_ratio(curve.poisson, coupon.edge_mm / self.nominal[index]) - 1.0
            factor = self.area[index] * float(np.exp(point[_COUNT + 1 + index])) * (1.0 + held * hold)
            force[own] = factor * _signed(curve, strain)
            slope[own] = factor * curve.slope(np.abs(strain)) / height
            for axis in range(_COUNT):
                moved = point[:_COUNT].copy()
                moved[axis] += _STEP
                jacobian[own, axis] = (factor * _signed(self._curve(coupon, moved), strain) - force[own]) / _STEP
            jacobian[own, _COUNT] = force[own] * held * density / (1.0 + held * hold)
            jacobian[own, _COUNT + 1 + index] = force[own]
            jacobian[own, _COUNT + 1 + size + index] = slope[own] * self.height[own] / height
        return force, slope, jacobian

    def error(self, slope: Float) -> Float:
        """Return the standard deviation of measured minus predicted force, N."""
        return np.asarray(np.hypot(self.load_sd, slope * self.height_sd))

    def residuals(self, point: Float) -> tuple[Float, Float]:
        """Return measured minus predicted force over its error, and the error, N."""
        force, slope, _ = self.predict(point)
        error = self.error(slope)
        return (self.load - force) / error, error

    def expected_kg(self, point: Float) -> Float:
        """Return the load that the fit expects at each height, kg."""
        return np.asarray(self.predict(point)[0] / N_PER_KG)

    def solve(self, start: Float | None = None) -> Float:
        """Return the point of the largest posterior; the errors follow the slope in a few rounds."""
        point = self.middle if start is None else start
        for _ in range(3):
            error = self.error(self.predict(point)[1])
            kept: dict[bytes, tuple[Float, Float]] = {}

            def both(at: Float, error: Float = error, kept: dict[bytes, Any] = kept) -> tuple[Float, Float]:
                mark = at.tobytes()
                if mark not in kept:
                    force, _, jacobian = self.predict(at)
                    rows = np.concatenate([(force - self.load) / error, self.whiten @ (at - self.middle)])
                    kept[mark] = rows, np.vstack([jacobian / error[:, None], self.whiten])
                return kept[mark]

            found = least_squares(
                lambda at, both=both: both(at)[0], point, jac=lambda at, both=both: both(at)[1], loss=self._loss,
                ftol=1e-6, xtol=1e-5, gtol=1e-6, max_nfev=60,
            )  # fmt: skip
            if found.status <= 0 and found.optimality > 1.0:
                raise SolveError(
                    "The fit of the readings does not settle.", hint="Look for readings that cannot be, block by block."
                )
            is_done = float(np.abs(found.x - point).max()) < 1e-3
            point = np.asarray(found.x)
            if is_done:
                break
        return point

    def _loss(self, squared: Float) -> Float:
        """Return rho, rho', rho'' of the squared residuals: soft l1 for readings, plain for the prior."""
        count = len(self.load)
        rho = np.stack([squared, np.ones_like(squared), np.zeros_like(squared)])
        z = 1.0 + squared[:count] / _SOFT**2
        rho[0, :count] = 2.0 * _SOFT**2 * (np.sqrt(z) - 1.0)
        rho[1, :count] = 1.0 / np.sqrt(z)
        rho[2, :count] = -0.5 / _SOFT**2 * z**-1.5
        return rho

    def noise_scale(self, point: Float) -> float:
        """Return by how much the readings scatter more than their errors say; 1 where chance explains it (95 %)."""
        residuals, error = self.residuals(point)
        rows = self.predict(point)[2] / error[:, None]
        weight = 1.0 / np.sqrt(1.0 + (residuals / _SOFT) ** 2)
        inverse = np.linalg.inv((rows * weight[:, None]).T @ rows + self.whiten.T @ self.whiten)
        spent = float(np.einsum("ij,jk,ik,i->", rows, inverse, rows, weight))
        free = max(len(residuals) - spent, 1.0)
        total = float((weight * residuals**2).sum())
        return float(np.sqrt(total / free)) if total > chi2.ppf(0.95, free) else 1.0

    def inflate(self, scale: float) -> None:
        """Take the readings' errors larger."""
        self.height_sd = self.height_sd * scale
        self.load_sd = self.load_sd * scale

    def covariance(self, point: Float) -> Float:
        """Return the covariance of the four unknowns, all others left free."""
        residuals, error = self.residuals(point)
        rows = self.predict(point)[2] / error[:, None]
        weight = 1.0 / np.sqrt(1.0 + (residuals / _SOFT) ** 2)
        curvature = (rows * weight[:, None]).T @ rows + self.whiten.T @ self.whiten
        whole = cho_solve(cho_factor(curvature), np.eye(len(point)))
        part = whole[:_COUNT, :_COUNT]
        return 0.5 * (part + part.T)


def _signed(curve: StressCurve, strain: Float) -> Float:
    """Return the stress; below zero strain the straight line goes on, so that noise at no load pulls nothing."""
    return np.where(strain < 0.0, curve.small_strain_kpa * strain, curve.stress(strain))


def without_block(readings: Readings, number: int) -> Readings:
    """Return the readings without one block's, to see what it changes."""
    kept = readings.block != number
    return replace(
        readings,
        block=readings.block[kept], load_kg=readings.load_kg[kept], height_mm=readings.height_mm[kept],
        height_sd_mm=readings.height_sd_mm[kept], line=readings.line[kept],
    )  # fmt: skip
