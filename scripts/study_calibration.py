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
from padwright.core.stages.material.coupons.calibrate import HEIGHT_SD_MM, PRINT_SPREAD, CalibrationFit, calibrate
from padwright.core.stages.material.coupons.coupons import HEIGHT_MM, CouponSet, CouponWish, plan_coupons
from padwright.core.stages.material.coupons.held import held_excess
from padwright.core.stages.material.coupons.readings import Readings
from padwright.core.stages.material.fill import RegionGeometry, middle_curve, region_curve
from padwright.core.stages.material.material_model import MaterialModel, model_from_card
from padwright.core.stages.material.region_settings import RegionSettings

PROBES = (("gyroid", 15.0, 0), ("gyroid", 20.0, 2), ("honeycomb", 15.0, 1), ("square_grid", 20.0, 0))
CARDS = ("tpu_60a", "tpu_85a", "tpu_95a")
LEAST_SHARE = 0.85
"""What a band of 90 % must hold at least: the model is bent at kinks, so its own share is not exact."""
PAD = RegionGeometry(25.0, 40_000.0, 800.0)
"""A pad of 200 by 200 mm: other fills, contours and sizes than the blocks'."""


@dataclass(frozen=True)
class Bench:
    """Blocks of a card, and what is believed before they are pressed."""

    plan: CouponSet
    prior: MaterialModel


def bench_of(card_name: str) -> Bench:
    """Return the usual blocks of a card."""
    card = load_material(card_name)
    prior = model_from_card(card)
    return Bench(plan_coupons(prior, card, CouponWish()), prior)


def made_up(bench: Bench, rng: np.random.Generator) -> tuple[np.ndarray, Readings]:
    """Return the four true unknowns of a made-up filament and what would be read on its blocks.

    Each print differs, the plates hold between not at all and fully, heights read to 0.1 mm and loads to 1 kg
    (standard deviations). A block is pressed until half its height is gone.
    """
    prior = bench.prior
    unknowns = prior.unknowns + prior.as_far_up(np.linalg.cholesky(prior.covariance) @ rng.normal(size=4))
    hold = rng.uniform()
    strain = np.linspace(0.0, 0.95, 2001)
    rows = []
    for block in bench.plan.blocks:
        coupon = block.coupon
        curve = middle_curve(coupon.settings, prior, coupon.geometry, unknowns)
        held = 1.0 + hold * held_excess(curve, coupon.edge_mm / HEIGHT_MM)
        factor = coupon.geometry.area_mm2 / 1000.0 * held * np.exp(PRINT_SPREAD * rng.normal())
        bare = HEIGHT_MM + HEIGHT_SD_MM * rng.normal()
        for load in (0.0, *block.loads_kg):
            found = float(np.interp(load * N_PER_KG, factor * curve.stress(strain), strain))
            if found > 0.5:
                break
            shown = load + rng.normal() if load > 0.0 else 0.0
            rows.append((coupon.number, max(shown, load * 0.3), bare * (1.0 - found) + 0.1 * rng.normal()))
    block_numbers, loads, heights = np.array(rows).T
    count = len(rows)
    readings = Readings(
        block_numbers.astype(np.int32), loads, heights, np.full(count, 0.1), np.arange(2, count + 2, dtype=np.int32),
        "made-up",
    )  # fmt: skip
    return unknowns, readings


def is_covered(bench: Bench, fit: CalibrationFit, unknowns: np.ndarray, own: float) -> list[bool]:
    """Say for each probe if the band at 10 % strain holds what a new print of it would show."""
    settings: RegionSettings = bench.plan.blocks[0].coupon.settings
    found = []
    for pattern, density, contours in PROBES:
        probe = replace(settings, fill_structure=pattern, solid_share_pct=density, contour_count=contours)
        truth = middle_curve(probe, bench.prior, PAD, unknowns).secant_kpa() * own
        band = region_curve(probe, fit.model, PAD)
        found.append(band.low.secant_kpa() <= truth <= band.high.secant_kpa())
    return found


def coverage(card_name: str, seeds: range) -> tuple[list[int], float]:
    """Return how many seeds' bands hold the truth, per probe, and the median factor of the solid's band."""
    bench = bench_of(card_name)
    hits, factors = [], []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        unknowns, readings = made_up(bench, rng)
        fit = calibrate([block.coupon for block in bench.plan.blocks], readings, bench.prior)
        hits.append(is_covered(bench, fit, unknowns, float(np.exp(PRINT_SPREAD * rng.normal()))))
        factors.append(fit.solid_after.high / fit.solid_after.value)
    return np.sum(hits, axis=0).tolist(), float(np.median(factors))


def study(seeds: range) -> studying.Finding:
    """Probe the bands of each card's made-up filaments."""
    probes = [f"{pattern} {density:g} %, {contours} contours" for pattern, density, contours in PROBES]
    rows, claims = [], []
    for card_name in CARDS:
        hits, factor = coverage(card_name, seeds)
        shares = [f"{100 * count / len(seeds):.1f} %" for count in hits]
        rows.append((card_name, *shares, f"{factor:.2f}"))
        for probe, count, share in zip(probes, hits, shares, strict=True):
            words = f"{card_name}, {probe}: the band holds {share}, asked are {100 * LEAST_SHARE:.0f} %"
            claims.append((words, studying.can_be(count, len(seeds), LEAST_SHARE)))
    return studying.Finding(("filament", *probes, "solid to a factor of"), tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=200, sample=12))
