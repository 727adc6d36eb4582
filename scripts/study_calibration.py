"""How often the calibrated band holds the truth: made-up filaments, made-up readings, fitted without the truth.

The table stands in docs/models/calibration.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import numpy as np

import studying
from padwright.core.base.units import N_PER_KG
from padwright.core.job.material_cards import load_material
from padwright.core.stages.material.coupons.calibrate import CalibrationFit, calibrate
from padwright.core.stages.material.coupons.coupon_outline import area_of, notched_square, perimeter_of
from padwright.core.stages.material.coupons.coupons import HEIGHT_MM, Coupon, CouponSet, CouponWish, plan_coupons
from padwright.core.stages.material.coupons.held import held_excess
from padwright.core.stages.material.coupons.posterior import HEIGHT_SD_MM, PRINT_SPREAD
from padwright.core.stages.material.coupons.reading_notes import height_sd, rounding
from padwright.core.stages.material.coupons.readings import Readings
from padwright.core.stages.material.curves import StressCurve
from padwright.core.stages.material.fill import RegionGeometry, middle_curve, region_curve
from padwright.core.stages.material.material_model import MaterialModel, model_from_card
from padwright.core.stages.material.region_settings import RegionSettings

PROBES = (("gyroid", 15.0, 0), ("gyroid", 20.0, 2), ("honeycomb", 15.0, 1), ("square_grid", 20.0, 0))
CARDS = ("tpu_60a", "tpu_85a", "tpu_95a")
LEAST_SHARE = 0.85
"""What a band of 90 % must hold at least: the model is bent at kinks, so its own share is not exact."""
MOST_SHARE = 0.95
"""And at most, where the model is true: wider than that it would promise too little."""
PAD = RegionGeometry(25.0, 40_000.0, 800.0)
"""A pad of 200 by 200 mm: other fills, contours and sizes than the blocks'."""


@dataclass(frozen=True)
class Truth:
    """How a made-up filament and who presses it differ from what the fit assumes.

    Attributes
    ----------
    exponent, knee_exponent : float
        Of the solid share over `pivot`, on the fill's stiffness and on the strain at which it gives way.
    step_mm : float
        To which heights are rounded; 0 is not at all.
    misread : float
        Share of the loaded readings that are misread: half of them by 1 to 3 mm, half as 0.6 or 1.5 times the load.
    edges : dict of block to edge, mm
        Blocks printed in another size.
    times : dict of block to a factor
        Blocks that bear so much more while they are read: pressed too fast.
    swapped : pair of blocks
        Under each other's number.
    """

    exponent: float = 0.0
    knee_exponent: float = 0.0
    pivot: float = 0.15
    step_mm: float = 0.0
    misread: float = 0.0
    edges: tuple[tuple[int, float], ...] = ()
    times: tuple[tuple[int, float], ...] = ()
    swapped: tuple[int, int] = (0, 0)

    def unknowns(self, unknowns: np.ndarray, settings: RegionSettings) -> np.ndarray:
        """Return the four unknowns (4,) of one fill."""
        if settings.fill_structure == "solid":
            return unknowns
        far = np.log(settings.solid_share_pct / 100.0 / self.pivot)
        return unknowns + far * np.array([0.0, self.exponent, self.knee_exponent, 0.0])


TRUTHS = {
    "as the model says": Truth(),
    "ruler of 0.5 mm": Truth(step_mm=0.5),
    "10 % misread": Truth(misread=0.1),
    "exponent +0.5 about 15 %": Truth(exponent=0.5),
    "exponent +0.5 from the solid on": Truth(exponent=0.5, pivot=1.0),
    "gives way by share^1": Truth(knee_exponent=1.0),
    "gives way by share^-1": Truth(knee_exponent=-1.0),
}
MODEL_HOLDS = 3
"""So many of them, from the first, leave the model true."""


@dataclass(frozen=True)
class Bench:
    """Blocks of a card, and what is believed before they are pressed."""

    plan: CouponSet
    prior: MaterialModel

    @property
    def coupons(self) -> list[Coupon]:
        """The blocks as planned."""
        return [block.coupon for block in self.plan.blocks]


def bench_of(card_name: str) -> Bench:
    """Return the usual blocks of a card."""
    card = load_material(card_name)
    prior = model_from_card(card)
    return Bench(plan_coupons(prior, card, CouponWish()), prior)


@dataclass(frozen=True)
class _Block:
    """A block as it stands under the board: what presses it by how much."""

    curve: StressCurve
    newtons: float

    def strain(self, load_kg: float) -> float:
        strain = np.linspace(0.0, 0.95, 2001)
        return float(np.interp(load_kg * N_PER_KG, self.newtons * self.curve.stress(strain), strain))


def _printed(bench: Bench, coupon: Coupon, unknowns: np.ndarray, truth: Truth, hold: float, own: float) -> _Block:
    edge = dict(truth.edges).get(coupon.number, coupon.edge_mm)
    outline = notched_square(edge, coupon.number)
    geometry = RegionGeometry(HEIGHT_MM, area_of(outline), perimeter_of(outline))
    curve = middle_curve(coupon.settings, bench.prior, geometry, truth.unknowns(unknowns, coupon.settings))
    held = 1.0 + hold * held_excess(curve, edge / HEIGHT_MM)
    return _Block(curve, geometry.area_mm2 / 1000.0 * held * own * dict(truth.times).get(coupon.number, 1.0))


def made_up(
    bench: Bench, rng: np.random.Generator, truth: Truth = TRUTHS["as the model says"]
) -> tuple[np.ndarray, Readings]:
    """Return the four true unknowns of a made-up filament and what would be read on its blocks.

    Each print differs, the plates hold between not at all and fully, heights read to 0.1 mm and loads to 1 kg
    (standard deviations). A block that the first load presses by more than 30 % gets half of each load, or a quarter; a
    block is pressed until half its height is gone.
    """
    prior = bench.prior
    unknowns = prior.unknowns + prior.as_far_up(np.linalg.cholesky(prior.covariance) @ rng.normal(size=4))
    hold = rng.uniform()
    rows = []
    for planned in bench.plan.blocks:
        coupon = planned.coupon
        block = _printed(bench, coupon, unknowns, truth, hold, float(np.exp(PRINT_SPREAD * rng.normal())))
        bare = HEIGHT_MM + HEIGHT_SD_MM * rng.normal()
        lighter = 1.0
        while block.strain(lighter * planned.loads_kg[0]) > 0.3:
            lighter *= 0.5
        for load in (0.0, *(lighter * each for each in planned.loads_kg)):
            found = block.strain(load)
            if found > 0.5:
                break
            shown = load + rng.normal() if load > 0.0 else 0.0
            height = bare * (1.0 - found) + 0.1 * rng.normal()
            if load > 0.0 and rng.uniform() < truth.misread:
                by_height, sign = rng.uniform() < 0.5, rng.choice([-1.0, 1.0])
                height += sign * rng.uniform(1.0, 3.0) if by_height else 0.0
                shown *= 1.0 if by_height else 1.05 + 0.45 * sign
            if truth.step_mm:
                height = truth.step_mm * round(height / truth.step_mm)
            rows.append((coupon.number, max(shown, load * 0.3), height))
    numbers, loads, heights = np.array(rows).T
    one, two = truth.swapped
    numbers = np.where(numbers == one, two, np.where(numbers == two, one, numbers)) if one else numbers
    count, step = len(rows), rounding(heights) if truth.step_mm else 0.1
    readings = Readings(
        numbers.astype(np.int32), loads, heights, np.full(count, height_sd(step, 1)),
        np.arange(2, count + 2, dtype=np.int32), "made-up", step_mm=step,
    )  # fmt: skip
    return unknowns, readings


def is_covered(
    bench: Bench, fit: CalibrationFit, unknowns: np.ndarray, own: float, truth: Truth = Truth()
) -> list[bool]:
    """Say for each probe if the band at 10 % strain holds what a new print of it would show."""
    settings: RegionSettings = bench.plan.blocks[0].coupon.settings
    found = []
    for pattern, density, contours in PROBES:
        probe = replace(settings, fill_structure=pattern, solid_share_pct=density, contour_count=contours)
        shown = middle_curve(probe, bench.prior, PAD, truth.unknowns(unknowns, probe)).secant_kpa() * own
        band = region_curve(probe, fit.model, PAD)
        found.append(band.low.secant_kpa() <= shown <= band.high.secant_kpa())
    return found


def is_seen(fit: CalibrationFit) -> bool:
    """Say if the person is told that readings and model part."""
    return bool(fit.suspicions) or any("differ by" in note or "scatter" in note for note in fit.notes)


@dataclass(frozen=True)
class Coverage:
    """Seeds whose band holds the truth, per probe; the median factor of a gyroid's band; seeds told a misfit."""

    hits: list[int]
    factor: float
    seen: int


def coverage(bench: Bench, truth: Truth, seeds: range) -> Coverage:
    """Fit made-up readings of each seed."""
    settings = replace(bench.plan.blocks[0].coupon.settings, fill_structure="gyroid", solid_share_pct=20.0)
    hits, factors, seen = [], [], 0
    for seed in seeds:
        rng = np.random.default_rng(seed)
        unknowns, readings = made_up(bench, rng, truth)
        fit = calibrate(bench.coupons, readings, bench.prior)
        hits.append(is_covered(bench, fit, unknowns, float(np.exp(PRINT_SPREAD * rng.normal())), truth))
        band = region_curve(settings, fit.model, PAD)
        factors.append(band.high.secant_kpa() / band.value.secant_kpa())
        seen += is_seen(fit)
    return Coverage(np.sum(hits, axis=0).tolist(), float(np.median(factors)), seen)


def study(seeds: range) -> studying.Finding:
    """Probe the bands of each card's made-up filaments."""
    probes = [f"{pattern} {density:g} %, {contours} contours" for pattern, density, contours in PROBES]
    rows, claims = [], []
    draws = len(seeds)
    for card_name in CARDS:
        bench = bench_of(card_name)
        for place, (words, truth) in enumerate(TRUTHS.items()):
            found = coverage(bench, truth, seeds)
            shares = [f"{100 * count / draws:.1f} %" for count in found.hits]
            rows.append((card_name, words, *shares, f"{found.factor:.2f}", f"{100 * found.seen / draws:.0f} %"))
            for probe, count, share in zip(probes, found.hits, shares, strict=True):
                said = f"{card_name}, {words}, {probe}: the band holds {share}"
                claims.append(
                    (f"{said}, asked are {100 * LEAST_SHARE:.0f} %", studying.can_be(count, draws, LEAST_SHARE))
                )
                if place < MODEL_HOLDS:
                    most = studying.can_be(draws - count, draws, 1.0 - MOST_SHARE)
                    claims.append((f"{said}, {100 * MOST_SHARE:.0f} % are the most", most))
    return studying.Finding(
        ("filament", "readings", *probes, "gyroid 20 % to a factor of", "misfit said"), tuple(rows), tuple(claims)
    )


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=200, sample=3))
