"""How likely a material makes the readings: residuals, their derivatives, the likeliest point and what is left open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular
from scipy.special import ndtr

from ....base.mesh import Float, Int
from ....base.units import N_PER_KG
from ..fill import curve_points
from ..fill_geometry import relative_density
from ..material_model import UNKNOWNS, MaterialModel
from .coupons import BARE_KG, READ_KG, Coupon
from .held import held_share
from .soft_rows import least_point, left_open, scatter, soft_loss

PRINT_SPREAD = 0.06
"""Standard deviation of the logarithm by which two prints of the same settings, or one structure and fill share against
the law fitted to all, differ in stiffness. Assumed; the misfit between blocks tells when it is too small."""

HEIGHT_SD_MM = 0.3
"""Of a printed block's height against its nominal one (common practice, no source)."""

_TARED_SD_KG = 0.2
"""Of a load that is nothing: the scale was set to zero with block and plank on it. Assumed."""

COUNT = len(UNKNOWNS)
BENT = (UNKNOWNS.index("fill"), UNKNOWNS.index("knee"))
LAW_SD = (0.1, 0.2)
"""Standard deviations of the exponents by which the fill's stiffness, and the strain at which it gives way, depend
otherwise on the solid share than their laws say, about `MIDDLE_SHARE`. Assumed."""

MIDDLE_SHARE = 0.15
LAWS = len(LAW_SD)
HOLD_AT = COUNT + LAWS
_STEP = 0.02
_LATER = 0.5
_REGULAR = 1e-6
"""Added to the prior's covariance, so that a direction an earlier calibration fixed leaves the matrix regular."""


@dataclass(frozen=True, eq=False)
class Pressed:
    """Readings as the fit takes them."""

    order: Int  # (n,); which of the blocks, counted from 0
    load_n: Float  # (n,)
    load_sd_n: Float  # (n,)
    height_mm: Float  # (n,)
    height_sd_mm: Float  # (n,)

    @classmethod
    def of(cls, order: Int, load_kg: Float, height_mm: Float, height_sd_mm: Float) -> Pressed:
        """Return readings in kg, with the error of a bathroom scale."""
        load_sd = np.where(load_kg < BARE_KG, _TARED_SD_KG, READ_KG) * N_PER_KG
        return cls(order, load_kg * N_PER_KG, load_sd, height_mm, height_sd_mm)

    def only(self, use: np.ndarray) -> Pressed:
        """Return some of them, by a mask (n,)."""
        return Pressed(*(getattr(self, name)[use] for name in self.__dataclass_fields__))

    def scattering(self, scale: float) -> Pressed:
        """Return them with errors so many times as large."""
        return Pressed(self.order, self.load_n, self.load_sd_n * scale, self.height_mm, self.height_sd_mm * scale)


@dataclass(frozen=True, eq=False)
class Assumed:
    """What is taken for granted until readings contradict it, as standard deviations."""

    own_sd: Float  # (b,); how far each print may differ
    law_sd: Float  # (2,); `LAW_SD`, or more where the law was let go
    loosened: Float  # (4,); times by which the card's spread of each unknown is taken larger

    @classmethod
    def usual(cls, blocks: int) -> Assumed:
        """Return what is assumed of so many blocks before they are pressed."""
        return cls(np.full(blocks, PRINT_SPREAD), np.array(LAW_SD), np.ones(COUNT))


class Posterior:
    """The posterior of one set of readings.

    A point holds the four unknowns, how the law bends with the solid share (`LAW_SD`), the hold of the plates, each
    print's own factor (logarithm), each block's height against its nominal one, and the true strain at each reading.
    """

    def __init__(self, coupons: Sequence[Coupon], pressed: Pressed, prior: MaterialModel, assumed: Assumed) -> None:
        self.coupons = tuple(coupons)
        self.pressed = pressed
        self.prior = prior
        self.nominal = np.array([each.geometry.thickness_mm for each in coupons])
        self.area = np.array([each.geometry.area_mm2 for each in coupons]) / 1000.0
        self.mine = [np.flatnonzero(pressed.order == index) for index in range(len(coupons))]
        size = len(coupons)
        self.assumed = assumed
        self.share = np.array([_share(each) for each in coupons])
        self.own_at = HOLD_AT + 1
        self.height_at = self.own_at + size
        self.strain_at = self.height_at + size
        strain = 1.0 - pressed.height_mm / self.nominal[pressed.order]
        self.start = np.concatenate([prior.unknowns, np.zeros(LAWS + 1 + 2 * size), np.clip(strain, 0.0, 0.9)])
        spread = np.concatenate([assumed.law_sd, [1.0], assumed.own_sd, np.full(size, HEIGHT_SD_MM)])
        loose = prior.covariance_up * np.outer(assumed.loosened, assumed.loosened)
        factor = np.linalg.cholesky(loose + _REGULAR * np.eye(COUNT))
        self.whiten = np.zeros((self.strain_at, len(self.start)))
        self.whiten[:COUNT, :COUNT] = solve_triangular(factor, np.eye(COUNT), lower=True)
        self.whiten[range(COUNT, self.strain_at), range(COUNT, self.strain_at)] = 1.0 / spread

    def variances(self, assumed: Assumed | None = None) -> Float:
        """Return the variance that each of a point has before the readings, up to the blocks' heights."""
        given = self.assumed if assumed is None else assumed
        unknowns = np.diag(self.prior.covariance_up) * given.loosened**2 + _REGULAR
        size = len(self.coupons)
        return np.concatenate([unknowns, given.law_sd**2, [1.0], given.own_sd**2, np.full(size, HEIGHT_SD_MM**2)])

    def force(
        self, point: Float, strain: Float, jacobian: Float | None = None, steps: Float | None = None
    ) -> tuple[Float, Float]:
        """Return force N and its slope over strain at a strain of each reading, both (n,); fills (n, size) on wish.

        Derivatives over the unknowns are differences over `steps` (4,) either way; short ones upward where None.
        """
        force, slope = np.zeros(len(strain)), np.zeros(len(strain))
        hold = float(ndtr(point[HOLD_AT]))
        density = float(np.exp(-0.5 * point[HOLD_AT] ** 2) / np.sqrt(2.0 * np.pi))
        for index, (coupon, mine) in enumerate(zip(self.coupons, self.mine, strict=True)):
            axes = _moving(coupon) if jacobian is not None else ()
            far = np.full(COUNT, _STEP) if steps is None else steps
            moves = [np.eye(COUNT)[axis] * far[axis] for axis in axes]
            if steps is not None:
                moves += [-move for move in moves]
            bent = np.array([0.0, *(self.share[index] * point[COUNT:HOLD_AT]), 0.0])
            asked = point[:COUNT] + bent + np.array([np.zeros(COUNT), *moves])
            found = curve_points(coupon.settings, self.prior, coupon.geometry, asked)
            held = held_share(found.poisson, float(found.wall_share[0]), coupon.edge_mm / self.nominal[index])
            factor = self.area[index] * float(np.exp(point[self.own_at + index])) * (1.0 + held * hold)
            stress, slopes = _along(found.strain, found.stress_kpa, strain[mine])
            force[mine], slope[mine] = factor * stress[0], factor * slopes
            if jacobian is None:
                continue
            jacobian[mine, 0] = force[mine]  # all of a curve goes with the solid's modulus
            for place, axis in enumerate(axes, 1):
                below, span = (0, far[axis]) if steps is None else (place + len(axes), 2.0 * far[axis])
                jacobian[mine, axis] = factor * (stress[place] - stress[below]) / span
                if axis in BENT:
                    jacobian[mine, COUNT + BENT.index(axis)] = self.share[index] * jacobian[mine, axis]
            jacobian[mine, HOLD_AT] = force[mine] * held * density / (1.0 + held * hold)
            jacobian[mine, self.own_at + index] = force[mine]
        if jacobian is not None:
            rows = np.arange(len(strain))
            jacobian[rows, self.strain_at + rows] = slope
        return force, slope

    def _rows(self, point: Float, steps: Float | None = None) -> tuple[Float, Float]:
        """Return the residuals (load, height, prior), each over its error, and their Jacobian."""
        read = self.pressed
        count = len(read.load_n)
        strain = point[self.strain_at :]
        by_load, by_height = np.zeros((count, len(point))), np.zeros((count, len(point)))
        force, _ = self.force(point, strain, by_load, steps)
        bare = self.nominal[read.order] + point[self.height_at + read.order]
        rows = np.arange(count)
        by_height[rows, self.height_at + read.order] = 1.0 - strain
        by_height[rows, self.strain_at + rows] = -bare
        residuals = [
            (force - read.load_n) / read.load_sd_n,
            (bare * (1.0 - strain) - read.height_mm) / read.height_sd_mm,
            self.whiten @ (point - self.start),
        ]
        stacked = [by_load / read.load_sd_n[:, None], by_height / read.height_sd_mm[:, None], self.whiten]
        return np.concatenate(residuals), np.vstack(stacked)

    def solve(self, start: Float | None = None) -> Float:
        """Return the point of the largest posterior.

        Walls give way at kinks, so there can be more than one peak: without a start, three are tried (the prior's
        middle, and from there fill or contours giving way later) and the best is kept. Raises SolveError when the fit
        does not end.
        """
        if start is not None:
            return self._solve_from(start)
        points = [self._solve_from(self.start)]
        for name in ("knee", "wrinkle"):
            shifted = points[0].copy()
            shifted[UNKNOWNS.index(name)] += _LATER
            points.append(self._solve_from(shifted))
        return min(points, key=self.cost)

    def with_strains(self, head: Float) -> Float:
        """Return a point that begins so, with the strains as read."""
        return np.concatenate([head, self.start[self.strain_at :]])

    def cost(self, point: Float) -> float:
        """Return minus twice the logarithm of the posterior, up to a constant."""
        return float(soft_loss(self._rows(point)[0] ** 2, self._soft)[0].sum())

    def _solve_from(self, start: Float) -> Float:
        return least_point(self._rows, start, self._soft, (1e-5, 1e-3), 1e-4)

    @property
    def _soft(self) -> int:
        return 2 * len(self.pressed.load_n)

    def residuals(self, point: Float) -> tuple[Float, Float]:
        """Return measured minus expected force over its error (n,), and the expected force, N, at the height read.

        The error of the height counts through the slope of the curve (effective variance). Of the point only what
        comes before the strains is asked for.
        """
        read = self.pressed
        bare = self.nominal[read.order] + point[self.height_at + read.order]
        force, slope = self.force(point, 1.0 - read.height_mm / bare)
        return (read.load_n - force) / np.hypot(read.load_sd_n, slope / bare * read.height_sd_mm), force

    def inverse(self, point: Float, steps: Float | None = None) -> Float:
        """Return the covariance of all of a point, (size, size)."""
        return left_open(*self._rows(point, steps), self._soft)

    def noise_scale(self, point: Float) -> float:
        """Return how much more the readings scatter than their errors say; 1 where chance explains it (95 %)."""
        return scatter(*self._rows(point), self._soft, self._soft)

    def covariance(self, point: Float) -> Float:
        """Return the covariance of the four unknowns, all others left free.

        Walls give way at a kink, where slopes say too much or too little: they are taken over a standard deviation
        either way, found in two rounds.
        """
        part = self.inverse(point)[:COUNT, :COUNT]
        for _ in range(2):
            part = self.inverse(point, np.sqrt(np.diag(part)))[:COUNT, :COUNT]
        return np.asarray(0.5 * (part + part.T))


def _moving(coupon: Coupon) -> tuple[int, ...]:
    """Return which unknowns beside the modulus a block's curve depends on."""
    if coupon.settings.fill_structure == "solid":
        return ()
    return (1, 2) if coupon.settings.contour_count == 0 else (1, 2, 3)


def _share(coupon: Coupon) -> float:
    """Return the logarithm of a block's solid share over the middle one, 0 of a solid."""
    given = coupon.settings
    if given.fill_structure in ("solid", "none"):
        return 0.0
    density = relative_density(
        given.fill_structure, given.solid_share_pct, given.fill_cell_mm, given.bead_width_mm, given.layer_thickness_mm
    )
    return float(np.log(density / MIDDLE_SHARE))


def _along(strain: Float, stress: Float, at: Float) -> tuple[Float, Float]:
    """Return the stress of k curves (k, m) at strains (n,), and the slope of the first; both ends go on straight.

    So noise at no load pulls nothing. All curves are looked up as one, each behind the one before it.
    """
    rows, count = strain.shape
    apart = _APART * np.arange(rows)[:, None]
    inner = (strain[:, 1:-1] + apart).ravel()
    place = (
        np.searchsorted(inner, np.clip(at, -1.0, 1.0) + apart, side="right") - (count - 2) * np.arange(rows)[:, None]
    )
    row = np.arange(rows)[:, None]
    left, low = strain[row, place], stress[row, place]
    slope = (stress[row, place + 1] - low) / (strain[row, place + 1] - left)
    return low + slope * (at - left), slope[0]


_APART = 4.0
