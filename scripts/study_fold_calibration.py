"""How often folded walls calibrated on blocks hold the truth: made-up printers and filaments, fitted without the truth.

The table stands in docs/models/calibration.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import numpy as np

import studying
from padwright.core.base.errors import PadwrightError
from padwright.core.job.material_cards import MaterialCard, load_material
from padwright.core.stages.material.coupons.coupons import CouponSet, CouponWish
from padwright.core.stages.material.coupons.fold_coupons import FoldWish, plan_fold_coupons
from padwright.core.stages.material.coupons.fold_fit import FoldFit, calibrate_folds
from padwright.core.stages.material.folds.band import fold_bands
from padwright.core.stages.material.folds.walls import Walls
from padwright.core.stages.material.material_model import MaterialModel, model_from_card
from support.pressed_folds import TruePrint, drawn, pressed, true_kpa

CARDS = ("tpu_60a", "tpu_85a", "tpu_95a")
PROBES = Walls([20.0, 12.0, 20.0, 24.0], [1.35, 0.9, 1.8, 1.35], [6.0, 6.0, 8.0, 6.0], [35.0, 30.0, 20.0, 45.0])
"""Other heights, slopes and widths than the blocks'."""

PRINT_SPREAD = 0.06
LEAST_SHARE, MOST_SHARE = 0.85, 0.97
"""Of bands of 90 %: the law is bent, and what a new print may differ by is told with the blocks' own."""

AT_STRAIN = 0.1


@dataclass(frozen=True)
class Case:
    """How readings differ from what the fit assumes."""

    weighed: bool = True
    step_mm: float = 0.1
    misread: float = 0.0
    odd: float = 1.0  # times as much as it should one block bears
    # `TruePrint.bend` beyond what was drawn, and `steps`: how the law is wrong.
    bend: float = 0.0
    steps: float = 0.0

    @property
    def is_law_true(self) -> bool:
        """Whether the law is off by no more than is believed."""
        return self.bend == 0.0 and self.steps == 0.0


CASES = {
    "as the model says": Case(),
    "not weighed": Case(weighed=False),
    "ruler of 0.5 mm": Case(step_mm=0.5),
    "10 % misread": Case(misread=0.1),
    "one block 1.6 times": Case(odd=1.6),
    "law bends 10 % for each 10 degrees": Case(bend=0.1),
    "3 beads bear 20 % more than the law": Case(steps=0.18),
}


@dataclass(frozen=True)
class Bench:
    """Blocks of a card, and what is believed before they are pressed."""

    card: MaterialCard
    prior: MaterialModel
    plan: CouponSet


def bench_of(name: str) -> Bench:
    """Return the usual blocks of a card."""
    card = load_material(name)
    prior = model_from_card(card)
    return Bench(card, prior, plan_fold_coupons(prior, card, FoldWish(CouponWish())))


def fitted(bench: Bench, case: Case, seed: int) -> tuple[TruePrint, FoldFit, int] | None:
    """Return a made-up print, what its blocks tell, and the odd block's number (0: none); None where it was refused."""
    rng = np.random.default_rng(seed)
    true = drawn(rng, len(bench.plan.blocks), bench.prior)
    if not case.is_law_true:
        true = replace(true, bend=case.bend, steps=case.steps)
    folded = [at for at, block in enumerate(bench.plan.blocks) if hasattr(block.coupon, "shape")]
    number = 0
    if case.odd != 1.0:
        at = int(rng.choice(folded))
        own = list(true.own)
        own[at] *= case.odd
        true, number = replace(true, own=tuple(own)), bench.plan.blocks[at].coupon.number
    kpa, poisson = bench.prior.modulus_kpa, bench.card.poisson
    readings = pressed(
        bench.plan.blocks, kpa, poisson, true, rng, density_g_cm3=bench.card.density_g_cm3, weighed=case.weighed,
        step_mm=case.step_mm, misread=case.misread,
    )  # fmt: skip
    coupons = [block.coupon for block in bench.plan.blocks]
    try:
        return true, calibrate_folds(coupons, readings, bench.prior, bench.card.density_g_cm3), number
    except PadwrightError:
        return None


def study(seeds: range) -> studying.Finding:
    """Probe the bands of each card's made-up prints."""
    rows, claims = [], []
    for name in CARDS:
        bench = bench_of(name)
        for words, case in CASES.items():
            found = [each for seed in seeds if (each := fitted(bench, case, seed)) is not None]
            count = len(found)
            held = np.zeros((count, 2 + len(PROBES)), dtype=bool)
            factors, widths, named, others = [], [], 0, 0
            for at, (true, fit, odd) in enumerate(found):
                rng = np.random.default_rng(10_000 + at)
                told = fit.folds
                off = np.abs(told.unknowns - true.unknowns()) / np.sqrt(np.diag(told.covariance))
                held[at, :2] = off[:2] <= 1.6449
                bands = fold_bands(PROBES, replace(bench.prior, folds=told))
                shown = true_kpa(PROBES, np.array([AT_STRAIN]), bench.prior.modulus_kpa, bench.card.poisson, true)
                shown = shown[:, 0] / AT_STRAIN * np.exp(PRINT_SPREAD * rng.normal(size=len(PROBES)))
                ends = np.array([[band.low.secant_kpa(), band.high.secant_kpa()] for band in bands])
                held[at, 2:] = (ends[:, 0] <= shown) & (shown <= ends[:, 1])
                factors.append(float(np.sqrt(ends[0, 1] / ends[0, 0])))
                widths.append(float(np.exp(1.6449 * np.sqrt(told.covariance[1, 1]))))
                named += odd in fit.odd
                others += any(number != odd for number in fit.odd)
            shares = [f"{100 * share:.0f} %" for share in held.mean(axis=0)]
            rows.append(
                (
                    name, words, *shares, f"{np.median(factors):.2f}", f"{np.median(widths):.2f}",
                    f"{100 * named / count:.0f} %" if case.odd != 1.0 else "", f"{100 * others / count:.0f} %",
                    f"{100 * (len(seeds) - count) / len(seeds):.0f} %",
                )
            )  # fmt: skip
            said = f"{name}, {words}"
            claims.append((f"{said}: {count} of {len(seeds)} made a card", studying.can_be(count, len(seeds), 0.93)))
            least = LEAST_SHARE if case.is_law_true else 0.75
            for probe, share in zip(range(held.shape[1]), held.mean(axis=0), strict=True):
                hits = int(held[:, probe].sum())
                claims.append(
                    (f"{said}, column {probe}: {100 * share:.0f} % held", studying.can_be(hits, count, least))
                )
                if case == Case() and probe >= 2:
                    most = studying.can_be(count - hits, count, 1.0 - MOST_SHARE)
                    claims.append((f"{said}, column {probe}: {100 * share:.0f} % held, too many", most))
            if case.odd == 1.0 and case.is_law_true:
                right = studying.can_be(count - others, count, 0.93)
                claims.append((f"{said}: {others} of {count} right sets have a block named", right))
    head = (
        "filament", "readings", "modulus", "width", "H 20, w 1.35, 35°", "H 12, w 0.9, 30°", "H 20, w 1.8, 20°",
        "H 24, w 1.35, 45°", "a new print to a factor of", "width to a factor of", "its block named",
        "another block named", "asked or refused",
    )  # fmt: skip
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=40, sample=2))
