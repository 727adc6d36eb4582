"""How likely folded walls as printed make the readings on blocks of them: residuals, and the likeliest point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular
from scipy.special import ndtr

from ....base.cached import cached_property
from ....base.mesh import Float, Int
from ....base.units import N_PER_KG
from ....job.material_cards import FOLD_UNKNOWNS
from ..fill import middle_curve
from ..folds.fold_print import bend_at, folds_before, printed_kpa
from ..folds.walls import Walls
from ..material_model import UNKNOWNS, MaterialModel
from .coupons import READ_KG, Coupon
from .fold_coupons import FoldCoupon, load_sd_kg, planned_fold_mass_g
from .held import held_excess
from .posterior import HEIGHT_SD_MM
from .soft_rows import least_point, left_open, scatter, soft_loss

COUNT = len(FOLD_UNKNOWNS)
DENSITY_AT, HOLD_AT, OWN_AT = COUNT, COUNT + 1, COUNT + 2
DENSITY_SD = 0.02
"""Standard deviation of the logarithm of the filament's density against its card's: moisture, color. Assumed."""

MASS_SD_G, MASS_SD = 0.5, 0.01
"""Of a block's weight: a kitchen scale's marks, and how evenly the printer feeds. Assumed."""

_TARED_KG = 0.2
_STRAIN = np.concatenate([np.linspace(0.0, 0.1, 21), np.linspace(0.11, 0.9, 80)])
_STEPS = np.array([0.0, 0.02, 0.3, 0.0, 0.1, 0.0])
"""Of width, slope and softening, for their derivatives; the others are factors."""


@dataclass(frozen=True, eq=False)
class FoldReadings:
    """Readings as the fit takes them; weights by the block's place in the set."""

    order: Int  # (n,); which of the blocks, counted from 0
    load_kg: Float  # (n,)
    height_mm: Float  # (n,)
    height_sd_mm: Float  # (n,)
    mass_g: Mapping[int, float]
    scale: float = 1.0  # times their usual error

    def only(self, use: np.ndarray, scale: float = 1.0) -> FoldReadings:
        """Return some of them, by a mask (n,), with errors so many times as large."""
        order, load, height, spread = self.order[use], self.load_kg[use], self.height_mm[use], self.height_sd_mm[use]
        return FoldReadings(order, load, height, spread, self.mass_g, scale)


class FoldPosterior:
    """The posterior of one set of readings on blocks of folds, and a solid one beside them.

    A point holds the six unknowns of folds as printed, the density's logarithm against the card, the hold of the
    plates on a solid block, and of each block its own factor (logarithm) and its height against the nominal one, mm.
    """

    def __init__(
        self, coupons: Sequence[Coupon], read: FoldReadings, prior: MaterialModel, density_g_cm3: float, own_sd: Float
    ) -> None:
        self.coupons, self.read, self.prior, self.own_sd = tuple(coupons), read, prior, own_sd
        self.density = density_g_cm3
        size = len(coupons)
        self.height_at = OWN_AT + size
        self.nominal = np.array([each.geometry.thickness_mm for each in coupons])
        self.pressed = np.array([each.pressed_mm for each in coupons])
        self.area = np.array([each.geometry.area_mm2 for each in coupons]) / 1000.0
        self.is_bare = read.load_kg < np.array([each.bare_kg for each in coupons])[read.order]
        self.folded = [index for index, each in enumerate(coupons) if isinstance(each, FoldCoupon)]
        before, covariance = folds_before(prior)
        self.start = np.concatenate([before, np.zeros(2 + 2 * size)])
        factor = np.linalg.cholesky(covariance + 1e-9 * np.eye(COUNT))
        self.whiten = np.diag(
            1.0 / np.concatenate([np.ones(COUNT), [DENSITY_SD, 1.0], own_sd, np.full(size, HEIGHT_SD_MM)])
        )
        self.whiten[:COUNT, :COUNT] = solve_triangular(factor, np.eye(COUNT), lower=True)
        self.walls = [each.walls for each in coupons if isinstance(each, FoldCoupon)]

    def curves(self, point: Float) -> tuple[Float, Float]:
        """Return each block's stress, kPa (b, m), over strains (m,), and the derivatives of its logarithm (b, 5, m)."""
        size = len(self.coupons)
        stress, slopes = np.zeros((size, len(_STRAIN))), np.zeros((size, COUNT, len(_STRAIN)))
        slopes[:, UNKNOWNS.index("modulus")] = 1.0
        if self.folded:
            moves = point[:COUNT] + np.vstack([np.zeros(COUNT), np.diag(_STEPS)[_STEPS > 0.0]])
            rows = len(moves)
            names = ("height_mm", "width_mm", "pitch_mm", "slope_deg")
            walls = Walls(*(np.repeat([float(each.array(name)[0]) for each in self.walls], rows) for name in names))
            asked = np.tile(moves, (len(self.walls), 1))
            found = printed_kpa(walls, _STRAIN, self.prior.modulus_kpa, self.prior.poisson, asked)
            found = found.reshape(len(self.walls), rows, -1)
            stress[self.folded] = found[:, 0]
            floor = np.maximum(found, 1e-12)
            moved = np.log(floor[:, 1:] / floor[:, :1]) / _STEPS[_STEPS > 0.0][None, :, None]
            slopes[np.ix_(np.array(self.folded), np.flatnonzero(_STEPS > 0.0))] = moved
            slopes[self.folded, FOLD_UNKNOWNS.index("law")] = 1.0
            leans = np.array([float(each.array("slope_deg")[0]) for each in self.walls])
            slopes[self.folded, FOLD_UNKNOWNS.index("bend")] = bend_at(leans)[:, None]
            slopes[:, :, 0] = slopes[:, :, 1]  # at no strain: the first interval's, which goes on below
        hold = float(ndtr(point[HOLD_AT]))
        for index, coupon in enumerate(self.coupons):
            if index in self.folded:
                continue
            unknowns = np.concatenate([point[:1], self.prior.unknowns[1:]])
            curve = middle_curve(coupon.settings, self.prior, coupon.geometry, unknowns)
            held = held_excess(curve, coupon.edge_mm / coupon.geometry.thickness_mm)
            stress[index] = curve.stress(_STRAIN) * (1.0 + held * hold)
        return stress, slopes

    def expected(self, point: Float) -> tuple[Float, Float, Float]:
        """Return load, kg, its slope over height, kg/mm, and its derivatives over the unknowns, each reading: (n, ...).

        Below no strain the curve goes on straight, so that noise at no load pulls nothing.
        """
        stress, slopes = self.curves(point)
        order = self.read.order
        tall = self.nominal + point[self.height_at :]
        strain = (tall[order] - self.read.height_mm) / self.pressed[order]
        place = np.clip(np.searchsorted(_STRAIN, strain, side="right") - 1, 0, len(_STRAIN) - 2)
        low, high = stress[order, place], stress[order, place + 1]
        tilt = (high - low) / (_STRAIN[place + 1] - _STRAIN[place])
        factor = self.area[order] * np.exp(point[OWN_AT + order]) / N_PER_KG
        load = factor * (low + tilt * (strain - _STRAIN[place]))
        share = np.clip((strain - _STRAIN[place]) / (_STRAIN[place + 1] - _STRAIN[place]), 0.0, 1.0)
        moved = (1.0 - share)[:, None] * slopes[order, :, place] + share[:, None] * slopes[order, :, place + 1]
        return load, factor * tilt / self.pressed[order], load[:, None] * moved

    def _errors(self, slope: Float) -> Float:
        """Return each reading's error in kg: of the load, and of the height through the curve's slope."""
        is_folded = np.isin(self.read.order, self.folded)
        load_sd = np.where(is_folded, load_sd_kg(self.read.load_kg), READ_KG)
        load_sd = np.where(self.is_bare & ~is_folded, _TARED_KG, load_sd)
        return np.asarray(self.read.scale * np.hypot(load_sd, slope * self.read.height_sd_mm))

    def rows(self, point: Float) -> tuple[Float, Float]:
        """Return the residuals (readings, weights, prior), each over its error, and their derivatives."""
        load, slope, moved = self.expected(point)
        error, order, count = self._errors(slope), self.read.order, len(load)
        jacobian = np.zeros((count, len(point)))
        jacobian[:, :COUNT] = moved
        rows = np.arange(count)
        jacobian[rows, OWN_AT + order] = load
        jacobian[rows, self.height_at + order] = slope
        for index, coupon in enumerate(self.coupons):
            if index in self.folded:
                continue
            held = self._held_slope(coupon, point)
            mine = order == index
            jacobian[mine, HOLD_AT] = load[mine] * held
        masses, tilts = self._masses(point)
        return (
            np.concatenate([(load - self.read.load_kg) / error, masses, self.whiten @ (point - self.start)]),
            np.vstack([jacobian / error[:, None], tilts, self.whiten]),
        )

    def _held_slope(self, coupon: Coupon, point: Float) -> float:
        hold, density = float(ndtr(point[HOLD_AT])), float(np.exp(-0.5 * point[HOLD_AT] ** 2) / np.sqrt(2.0 * np.pi))
        curve = middle_curve(coupon.settings, self.prior, coupon.geometry)
        held = held_excess(curve, coupon.edge_mm / coupon.geometry.thickness_mm)
        return held * density / (1.0 + held * hold)

    def _masses(self, point: Float) -> tuple[Float, Float]:
        found, tilts = [], []
        for index in self.folded:
            mass, coupon = self.read.mass_g.get(index), self.coupons[index]
            if mass is None or not isinstance(coupon, FoldCoupon):
                continue
            width, density = float(point[1]), self.density * float(np.exp(point[DENSITY_AT]))
            planned = planned_fold_mass_g(coupon, density, width)
            error = float(np.hypot(MASS_SD_G, MASS_SD * mass))
            walls = planned - planned_fold_mass_g(coupon, density, -np.inf)
            tilt = np.zeros(len(point))
            tilt[1], tilt[DENSITY_AT] = walls / error, planned / error
            found.append((planned - mass) / error)
            tilts.append(tilt)
        return np.array(found), np.reshape(tilts, (len(found), len(point)))

    @cached_property
    def _soft(self) -> int:
        return len(self.read.load_kg) + len(self._masses(self.start)[0])

    def solve(self, start: Float | None = None) -> Float:
        """Return the point of the largest posterior.

        Raises SolveError when the fit does not end.
        """
        return least_point(self.rows, self.start if start is None else start, self._soft, (1e-6, 1e-3), 1e-5)

    def cost(self, point: Float) -> float:
        """Return minus twice the logarithm of the posterior, up to a constant."""
        return float(soft_loss(self.rows(point)[0] ** 2, self._soft)[0].sum())

    def residuals(self, point: Float) -> tuple[Float, Float]:
        """Return measured minus expected load over its error, and the expected load, kg, both (n,)."""
        load, slope, _ = self.expected(point)
        return (self.read.load_kg - load) / self._errors(slope), load

    def inverse(self, point: Float) -> Float:
        """Return the covariance of all of a point, (size, size)."""
        return left_open(*self.rows(point), self._soft)

    def noise_scale(self, point: Float) -> float:
        """Return how much more the readings scatter than their errors say; 1 where chance explains it (95 %)."""
        return scatter(*self.rows(point), self._soft, len(self.read.load_kg))
