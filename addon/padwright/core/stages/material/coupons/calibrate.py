"""From pressed blocks to the material: a robust fit with a prior, and how far its result can be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve, solve_triangular
from scipy.optimize import least_squares
from scipy.special import ndtr
from scipy.stats import chi2

from ....base.errors import InputError, SolveError
from ....base.estimate import Estimate
from ....base.mesh import Float
from ....base.units import N_PER_KG
from ..curves import StressCurve
from ..fill import middle_curve, region_curve
from ..material_model import UNKNOWNS, MaterialModel
from .coupons import READ_KG, READ_MM, Coupon
from .held import held_excess
from .reading_doubts import differences, own_note, unlikely_note
from .readings import Readings

PRINT_SPREAD = 0.06
"""Standard deviation of the logarithm by which two prints of the same settings, or one structure and fill share against
the law fitted to all, differ in stiffness. Assumed; the misfit between blocks tells when it is too small."""

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
_LATER = 0.5
_BARE_KG = 0.5
_LEAST_READINGS = 4
_REGULAR = 1e-6
"""Added to the prior's covariance, so that a direction an earlier calibration fixed leaves the matrix regular."""


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
    differs, each block's height without load, and the true strain at each reading, since height and load both err.
    The largest posterior is sought (Gaussian priors, soft-l1 loss); its curvature's inverse is the covariance.

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
    fit = _Posterior(coupons, readings, prior)
    point = fit.solve()
    scale = fit.noise_scale(point)
    notes = list(readings.notes)
    if scale > 1.0:
        notes.append(
            f"The readings scatter {scale:.1f} times as much as {READ_MM:g} mm and {READ_KG:g} kg would: their error "
            "is taken larger by that."
        )
        fit.inflate(scale)
        point = fit.solve(point)
    residuals, expected = fit.residuals(point)
    full = np.full(len(readings.block), np.nan)
    full[fit.kept] = residuals * scale
    covariance = fit.covariance(point)
    covariance[0, 0] += PRINT_SPREAD**2
    model = MaterialModel(prior.modulus_kpa, prior.poisson, point[:_COUNT], covariance, "measured")
    strange = tuple(
        Strange(int(index), readings.place(index), float(value), float(force) / N_PER_KG)
        for index, value, force in zip(fit.kept, residuals, expected, strict=True)
        if abs(value) > _STRANGE
    )
    notes += fit.notes
    notes += [
        f"{each.place}: block {readings.block[each.index]} under {readings.load_kg[each.index]:g} kg does not fit: "
        f"{each.expected_kg:.1f} kg were expected at {readings.height_mm[each.index]:g} mm. It counts less."
        for each in strange
    ]
    blocks = []
    raw = differences(fit.coupons, readings, model)
    for order, coupon in enumerate(fit.coupons):
        before, after = (_secant(coupon, each) for each in (prior, model))
        own = float(np.exp(point[fit.own_at + order]))
        blocks.append(BlockFit(coupon, before, after, own, int((fit.order == order).sum())))
        notes += own_note(coupon, float(np.log(own)), float(raw[order]))
    notes += unlikely_note(model.solid.value, prior)
    misfit = float(np.sqrt(np.mean((residuals * scale) ** 2)))
    return CalibrationFit(
        model, prior.solid, model.solid, tuple(blocks), misfit, len(fit.kept), full, strange, tuple(notes)
    )


def _secant(coupon: Coupon, model: MaterialModel) -> Estimate:
    band = region_curve(coupon.settings, model, coupon.geometry)
    return Estimate(band.value.secant_kpa(), band.low.secant_kpa(), band.high.secant_kpa(), band.basis)


class _Posterior:
    """The posterior of one set of readings.

    A point holds the four unknowns, the hold of the plates, each print's own factor (logarithm), each block's height
    against its nominal one, and the true strain at each reading.
    """

    def __init__(self, coupons: Sequence[Coupon], readings: Readings, prior: MaterialModel) -> None:
        read = set(readings.block.tolist())
        self.coupons = [coupon for coupon in coupons if coupon.number in read]
        self.prior = prior
        numbers = np.array([each.number for each in self.coupons])
        order = np.searchsorted(numbers, readings.block)
        self.nominal = np.array([each.geometry.thickness_mm for each in self.coupons])
        shut = np.array([self._curve(each, prior.unknowns).densification for each in self.coupons])
        strain = 1.0 - readings.height_mm / self.nominal[order]
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
        loaded = int((readings.load_kg[self.kept] > _BARE_KG).sum())
        if loaded < _LEAST_READINGS:
            raise InputError(
                f"{readings.source} has {loaded} readings with load that can be used; {_LEAST_READINGS} are the least.",
                hint="Press every block at three loads or more, to less than half of its height.",
            )
        self.height_sd = readings.height_sd_mm[self.kept].copy()
        self.load_sd = np.where(readings.load_kg[self.kept] < _BARE_KG, _TARED_SD_KG, READ_KG) * N_PER_KG
        self.area = np.array([each.geometry.area_mm2 for each in self.coupons]) / 1000.0
        self.own = [np.flatnonzero(self.order == index) for index in range(len(self.coupons))]
        size = len(self.coupons)
        self.own_at = _COUNT + 1
        self.height_at = self.own_at + size
        self.strain_at = self.height_at + size
        self.start = np.concatenate([prior.unknowns, np.zeros(1 + 2 * size), np.clip(strain[self.kept], 0.0, 0.9)])
        spread = np.concatenate([[1.0], np.full(size, PRINT_SPREAD), np.full(size, HEIGHT_SD_MM)])
        factor = np.linalg.cholesky(prior.covariance_up + _REGULAR * np.eye(_COUNT))
        self.whiten = np.zeros((self.strain_at, len(self.start)))
        self.whiten[:_COUNT, :_COUNT] = solve_triangular(factor, np.eye(_COUNT), lower=True)
        self.whiten[range(_COUNT, self.strain_at), range(_COUNT, self.strain_at)] = 1.0 / spread

    def _curve(self, coupon: Coupon, unknowns: Float) -> StressCurve:
        return middle_curve(coupon.settings, self.prior, coupon.geometry, unknowns)

    def force(
        self, point: Float, strain: Float, jacobian: Float | None = None, steps: Float | None = None
    ) -> tuple[Float, Float]:
        """Return force N and its slope over strain at a strain of each reading, both (n,); fills (n, size) on wish.

        Derivatives over the unknowns are differences over `steps` (4,) either way; short ones upward where None.
        """
        force, slope = np.zeros(len(self.load)), np.zeros(len(self.load))
        hold = float(ndtr(point[_COUNT]))
        density = float(np.exp(-0.5 * point[_COUNT] ** 2) / np.sqrt(2.0 * np.pi))
        for index, (coupon, own) in enumerate(zip(self.coupons, self.own, strict=True)):
            curve = self._curve(coupon, point[:_COUNT])
            held = held_excess(curve, coupon.edge_mm / self.nominal[index])
            factor = self.area[index] * float(np.exp(point[self.own_at + index])) * (1.0 + held * hold)
            force[own] = factor * _signed(curve, strain[own])
            slope[own] = factor * curve.slope(np.abs(strain[own]))
            if jacobian is None:
                continue
            jacobian[own, 0] = force[own]  # all of a curve goes with the solid's modulus
            for axis in _moving(coupon):
                step = np.zeros(_COUNT)
                step[axis] = _STEP if steps is None else steps[axis]
                above = factor * _signed(self._curve(coupon, point[:_COUNT] + step), strain[own])
                if steps is None:
                    jacobian[own, axis] = (above - force[own]) / _STEP
                else:
                    below = factor * _signed(self._curve(coupon, point[:_COUNT] - step), strain[own])
                    jacobian[own, axis] = (above - below) / (2.0 * steps[axis])
            jacobian[own, _COUNT] = force[own] * held * density / (1.0 + held * hold)
            jacobian[own, self.own_at + index] = force[own]
        if jacobian is not None:
            rows = np.arange(len(self.load))
            jacobian[rows, self.strain_at + rows] = slope
        return force, slope

    def _rows(self, point: Float, steps: Float | None = None) -> tuple[Float, Float]:
        """Return the residuals (load, height, prior), each over its error, and their Jacobian."""
        count = len(self.load)
        strain = point[self.strain_at :]
        by_load, by_height = np.zeros((count, len(point))), np.zeros((count, len(point)))
        force, _ = self.force(point, strain, by_load, steps)
        bare = self.nominal[self.order] + point[self.height_at + self.order]
        rows = np.arange(count)
        by_height[rows, self.height_at + self.order] = 1.0 - strain
        by_height[rows, self.strain_at + rows] = -bare
        residuals = [
            (force - self.load) / self.load_sd,
            (bare * (1.0 - strain) - self.height) / self.height_sd,
            self.whiten @ (point - self.start),
        ]
        stacked = [by_load / self.load_sd[:, None], by_height / self.height_sd[:, None], self.whiten]
        return np.concatenate(residuals), np.vstack(stacked)

    def solve(self, start: Float | None = None) -> Float:
        """Return the point of the largest posterior.

        Walls give way at kinks, so there can be more than one peak: without a start, three are tried (the prior's
        middle, and fill or contours giving way later) and the best is kept.
        """
        if start is not None:
            return self._solve_from(start)
        shifts = np.zeros((3, len(self.start)))
        shifts[1, UNKNOWNS.index("knee")] = shifts[2, UNKNOWNS.index("wrinkle")] = _LATER
        points = [self._solve_from(self.start + shift) for shift in shifts]
        return min(points, key=lambda point: float(self._loss(self._rows(point)[0] ** 2)[0].sum()))

    def _solve_from(self, start: Float) -> Float:
        kept: dict[bytes, tuple[Float, Float]] = {}

        def rows(point: Float) -> tuple[Float, Float]:
            mark = point.tobytes()
            if mark not in kept:
                kept.clear()
                kept[mark] = self._rows(point)
            return kept[mark]

        found = least_squares(
            lambda point: rows(point)[0], start, jac=lambda point: rows(point)[1],
            loss=self._loss, ftol=1e-5, xtol=1e-4, gtol=1e-4, max_nfev=200,
        )  # fmt: skip
        if found.status <= 0:
            raise SolveError(
                "The fit of the readings does not settle.", hint="Look for readings that cannot be, block by block."
            )
        return np.asarray(found.x)

    def _loss(self, squared: Float) -> Float:
        """Return rho, rho', rho'' of the squared residuals: soft l1 for readings, plain for the prior."""
        count = 2 * len(self.load)
        rho = np.stack([squared, np.ones_like(squared), np.zeros_like(squared)])
        z = 1.0 + squared[:count] / _SOFT**2
        rho[0, :count] = 2.0 * _SOFT**2 * (np.sqrt(z) - 1.0)
        rho[1, :count] = 1.0 / np.sqrt(z)
        rho[2, :count] = -0.5 / _SOFT**2 * z**-1.5
        return rho

    def residuals(self, point: Float) -> tuple[Float, Float]:
        """Return measured minus expected force over its error (n,), and the expected force, N, at the height read.

        The error of the height counts through the slope of the curve (effective variance).
        """
        bare = self.nominal[self.order] + point[self.height_at + self.order]
        force, slope = self.force(point, 1.0 - self.height / bare)
        return (self.load - force) / np.hypot(self.load_sd, slope / bare * self.height_sd), force

    def _inverse(self, point: Float, steps: Float | None = None) -> tuple[Float, Float]:
        residuals, jacobian = self._rows(point, steps)
        weight = self._loss(residuals**2)[1]
        return cho_solve(cho_factor((jacobian * weight[:, None]).T @ jacobian), np.eye(len(point))), weight

    def noise_scale(self, point: Float) -> float:
        """Return how much more the readings scatter than their errors say; 1 where chance explains it (95 %)."""
        residuals, jacobian = self._rows(point)
        inverse, weight = self._inverse(point)
        count = 2 * len(self.load)
        spent = float(np.einsum("ij,jk,ik,i->", jacobian[:count], inverse, jacobian[:count], weight[:count]))
        free = max(count - spent, 1.0)
        total = float((weight[:count] * residuals[:count] ** 2).sum())
        return float(np.sqrt(total / free)) if total > chi2.ppf(0.95, free) else 1.0

    def inflate(self, scale: float) -> None:
        """Take the readings' errors larger."""
        self.height_sd, self.load_sd = self.height_sd * scale, self.load_sd * scale

    def covariance(self, point: Float) -> Float:
        """Return the covariance of the four unknowns, all others left free.

        Walls give way at a kink, where slopes say too much or too little: they are taken over a standard deviation
        either way, found in two rounds.
        """
        part = self._inverse(point)[0][:_COUNT, :_COUNT]
        for _ in range(2):
            part = self._inverse(point, np.sqrt(np.diag(part)))[0][:_COUNT, :_COUNT]
        return 0.5 * (part + part.T)


def _moving(coupon: Coupon) -> tuple[int, ...]:
    """Return which unknowns beside the modulus a block's curve depends on."""
    if coupon.settings.fill_structure == "solid":
        return ()
    return (1, 2) if coupon.settings.contour_count == 0 else (1, 2, 3)


def _signed(curve: StressCurve, strain: Float) -> Float:
    """Return the stress; below zero strain the straight line goes on, so that noise at no load pulls nothing."""
    return np.where(strain < 0.0, curve.small_strain_kpa * strain, curve.stress(strain))
