"""What was read on printed blocks, as a card and as lines for the person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ..core.base.text import counted

if TYPE_CHECKING:
    from ..core.job.material_cards import MaterialCard
    from ..core.stages.material.coupons.coupons import Coupon
    from ..core.stages.material.coupons.readings import Readings


def fill_card(
    card: MaterialCard, coupons: Sequence[Coupon], readings: Readings, source: str, *, is_trusted: bool
) -> tuple[MaterialCard, list[str]]:
    """Return the card with what blocks of fills told, and lines for the person.

    Raises InputError when the readings cannot be used; SolveError when the fit does not settle.
    """
    from ..core.job.material_cards import UNKNOWNS, Calibration
    from ..core.stages.material.coupons.calibrate import calibrate
    from ..core.stages.material.coupons.calibrate_checks import refuse_misfit
    from ..core.stages.material.coupons.coupon_weights import right_weight, weighed
    from ..core.stages.material.coupons.reading_doubts import ask_for_slips
    from ..core.stages.material.material_model import model_from_card
    from ..core.stages.packing.sidecar import run_time_utc

    sized = right_weight(coupons, readings.mass_g, card.density_g_cm3)
    coupons, heavier = weighed(coupons, readings.mass_g, card.density_g_cm3)
    prior = model_from_card(card)
    if not is_trusted:
        ask_for_slips(coupons, readings, prior)
    fit = calibrate(coupons, readings, prior, is_trusted=is_trusted, sized=sized)
    refuse_misfit(readings, fit)
    found = Calibration(
        date=run_time_utc()[:10],
        made_from=f"{len(fit.blocks)} {source}",
        readings=fit.used,
        misfit=round(fit.misfit, 4),
        names=UNKNOWNS,
        unknowns=tuple(float(value) for value in fit.model.unknowns),
        covariance=tuple(float(value) for value in fit.model.covariance.ravel()),
        doubts=fit.notes[: len(fit.suspicions)],
    )
    return replace(card, calibration=found), [*_report(fit), *(f"note: {note}" for note in heavier)]


def fold_card(
    card: MaterialCard, coupons: Sequence[Coupon], readings: Readings, source: str, *, is_trusted: bool
) -> tuple[MaterialCard, list[str]]:
    """Return the card with what blocks of folded walls told, and lines for the person.

    Raises InputError when the readings cannot be used; SolveError when the fit does not settle.
    """
    from ..core.job.material_cards import FOLD_UNKNOWNS, FoldCalibration
    from ..core.stages.material.coupons.calibrate_checks import refuse_misfit
    from ..core.stages.material.coupons.fold_coupons import FoldCoupon
    from ..core.stages.material.coupons.fold_fit import calibrate_folds
    from ..core.stages.material.folds.pressure_cap import pressure_cap
    from ..core.stages.material.material_model import model_from_card
    from ..core.stages.packing.sidecar import run_time_utc

    prior = model_from_card(replace(card, fold_calibration=None))
    fit = calibrate_folds(coupons, readings, prior, card.density_g_cm3, is_trusted=is_trusted)
    refuse_misfit(readings, fit)
    folds = fit.folds
    found = FoldCalibration(
        date=run_time_utc()[:10],
        made_from=f"{len(fit.blocks)} {source}",
        readings=fit.used,
        misfit=round(fit.misfit, 4),
        slopes_deg=folds.slopes_deg,
        widths_mm=folds.widths_mm,
        most_strain=round(folds.most_strain, 4),
        names=FOLD_UNKNOWNS,
        unknowns=tuple(float(value) for value in folds.unknowns),
        covariance=tuple(float(value) for value in folds.covariance.ravel()),
        doubts=fit.notes[: len(fit.odd)],
    )
    lines = [
        _fits(fit, len(fit.odd)),
        f"Modulus of the solid: {_range(fit.solid_before, 1000.0, 'MPa')} before, "
        f"{_range(fit.solid_after, 1000.0, 'MPa')} now.",
        f"Width of walls, of what was asked for: {_range(fit.width_before, 0.01, '%')} before, "
        f"{_range(fit.width_after, 0.01, '%')} now.",
        *_blocks(fit),
    ]
    model = replace(prior, folds=folds)
    for block in fit.blocks:
        if isinstance(block.coupon, FoldCoupon):
            cap = pressure_cap(block.coupon.walls, model, folds.most_strain)
            lines.append(f"  walls as of block {block.coupon.number}: {cap.words}")
    lines += [f"note: {note}" for note in fit.notes]
    return replace(card, fold_calibration=found), lines


def _fits(fit: Any, doubts: int) -> str:
    told = f" {counted(doubts, 'thing does', 'things do')} not fit: see the notes below." if doubts else ""
    return (
        f"{fit.used} readings on {len(fit.blocks)} blocks; what is left is {fit.misfit:.1f} times the reading error "
        f"(about 1 when all is well).{told}"
    )


def _report(fit: Any) -> list[str]:
    lines = [
        _fits(fit, len(fit.suspicions)),
        f"Modulus of the solid: {_range(fit.solid_before, 1000.0, 'MPa')} before, "
        f"{_range(fit.solid_after, 1000.0, 'MPa')} now.",
        *_blocks(fit),
    ]
    return lines + [f"note: {note}" for note in fit.notes]


def _blocks(fit: Any) -> list[str]:
    lines = ["Stiffness at 10 % strain, low to high, before -> now:"]
    for block in fit.blocks:
        lines.append(
            f"  block {block.coupon.number} ({block.coupon.words}): {_range(block.before, 1.0, 'kPa')} -> "
            f"{_range(block.after, 1.0, 'kPa')}; this print {round(100 * (block.own_factor - 1)):+d} %, "
            f"{block.readings} readings"
        )
    return lines


def _range(value: Any, unit: float, name: str) -> str:
    said = [each / unit for each in (value.value, value.low, value.high)]
    middle, low, high = (f"{each:.0f}" if each >= 100.0 else f"{each:.3g}" for each in said)
    return f"{middle} ({low} to {high}) {name}"
