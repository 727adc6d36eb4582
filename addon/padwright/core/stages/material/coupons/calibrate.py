"""From pressed blocks to the material: a robust fit with a prior, and how far its result can be trusted."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from ....base.errors import InputError
from ....base.estimate import Estimate
from ....base.mesh import Float
from ....base.units import N_PER_KG
from ..fill import middle_curve, region_curve
from ..material_model import MaterialModel
from .coupons import BARE_KG, Coupon
from .fitting import fitted
from .posterior import COUNT, Pressed
from .reading_doubts import unlikely_note
from .reading_notes import ask_for_calipers
from .readings import Readings
from .suspicion_words import misfit_notes, suspicion_notes
from .suspicions import Suspicion

_SHUT_SHARE = 0.85
"""Readings past this share of the strain at which cells shut say little of the fill and are left out."""

_LEAST_READINGS = 4


@dataclass(frozen=True)
class Strange:
    """A reading that does not fit and was left out."""

    index: int  # in the readings
    place: str  # file:line
    deviations: float  # how many of its own standard deviations it is off; positive: more load than the fit says
    expected_kg: float


@dataclass(frozen=True)
class BlockFit:
    """What the fit says of one block."""

    coupon: Coupon
    # before, after: secant modulus at 10 % strain, kPa, free to spread, by the card and by the fit.
    before: Estimate
    after: Estimate
    own_factor: float  # how much stiffer this print is than the law fitted to all
    readings: int


@dataclass(frozen=True, eq=False)
class CalibrationFit:
    """The material as the blocks show it."""

    model: MaterialModel  # basis "measured"; its covariance holds what a new print may differ by
    # solid_before, solid_after: modulus of the solid, kPa.
    solid_before: Estimate
    solid_after: Estimate
    blocks: tuple[BlockFit, ...]
    # root mean square of the residuals of the readings used, in units of their error; about 1 when all is well.
    misfit: float
    used: int  # readings in the fit
    residuals: Float  # (n,); per reading, in units of its error; NaN where its cells were shut
    strange: tuple[Strange, ...]
    print_spread: float  # standard deviation of the logarithm by which prints differ, as the blocks show it
    # what the readings contradict, the clearest first; blocks counted from 0 in `blocks`.
    suspicions: tuple[Suspicion, ...]
    notes: tuple[str, ...]


def calibrate(
    coupons: Sequence[Coupon],
    readings: Readings,
    prior: MaterialModel,
    *,
    is_trusted: bool = False,
    sized: Collection[int] = (),
) -> CalibrationFit:
    """Fit the material's four unknowns to the readings.

    Unknown beside them: how the laws bend with the solid share, how much the plates hold the blocks (even between
    slipping and sticking), how much each print differs, each block's height without load, and the true strain at each
    reading, since height and load both err. The largest posterior is sought (Gaussian priors, soft-l1 loss); its
    curvature's inverse is the covariance. What the readings contradict is named and let go (`suspicions`).

    The prior is the card's. `is_trusted`: the person says that the readings are right as they stand; then no block is
    suspected. `sized` are the numbers of the blocks whose weight says that they have their size. Raises InputError when
    fewer than 4 readings with load are left, or all are from one block with one load; SolveError when the fit does not
    end.
    """
    read = set(readings.block.tolist())
    coupons = [coupon for coupon in coupons if coupon.number in read]
    kept, notes = _kept(coupons, readings, prior)
    numbers = np.array([each.number for each in coupons])
    pressed = Pressed.of(
        np.searchsorted(numbers, readings.block[kept]),
        readings.load_kg[kept],
        readings.height_mm[kept],
        readings.height_sd_mm[kept],
    )
    found = fitted(coupons, pressed, prior, is_trusted=is_trusted, sized=sized)
    model = MaterialModel(prior.modulus_kpa, prior.poisson, found.point[:COUNT], found.covariance, "measured")
    strange = tuple(
        Strange(int(index), readings.place(index), float(value), float(force) / N_PER_KG)
        for index, value, force in zip(
            kept[~found.used], found.residuals[~found.used], found.expected_n[~found.used], strict=True
        )
    )
    calipers = ask_for_calipers(readings.block, readings.load_kg, readings.height_mm, readings.step_mm)
    notes = [
        *suspicion_notes(found),
        *misfit_notes(found),
        *readings.notes,
        *calipers,
        *notes,
        *_strange_notes(strange, readings),
    ]
    notes += unlikely_note(model.solid.value, prior)
    full = np.full(len(readings.block), np.nan)
    full[kept] = found.residuals
    fit = found.posterior
    own = np.exp(found.point[fit.own_at : fit.height_at])
    blocks = tuple(
        BlockFit(
            coupon, block_secant(coupon, prior), block_secant(coupon, model), float(own[order]),
            int((pressed.order == order).sum()),
        )
        for order, coupon in enumerate(coupons)
    )  # fmt: skip
    misfit = float(np.sqrt(np.mean(found.residuals[found.used] ** 2)))
    return CalibrationFit(
        model, prior.solid, model.solid, blocks, misfit, int(found.used.sum()), full, strange, found.own_sd,
        found.suspicions, tuple(notes),
    )  # fmt: skip


def _kept(coupons: Sequence[Coupon], readings: Readings, prior: MaterialModel) -> tuple[np.ndarray, list[str]]:
    """Return which readings say something of the fill, and what to tell of the others."""
    nominal = {each.number: each.geometry.thickness_mm for each in coupons}
    shut = {each.number: middle_curve(each.settings, prior, each.geometry).densification for each in coupons}
    blocks = readings.block.tolist()
    strain = 1.0 - readings.height_mm / np.array([nominal[number] for number in blocks])
    is_shut = strain > _SHUT_SHARE * np.array([shut[number] for number in blocks])
    notes = [
        f"{readings.place(index)}: block {readings.block[index]} is pressed by {100 * strain[index]:.0f} %, its "
        "cells are shut; the reading is left out."
        for index in np.flatnonzero(is_shut)
    ]
    kept = np.flatnonzero(~is_shut)
    loaded = int((readings.load_kg[kept] > BARE_KG).sum())
    if loaded < _LEAST_READINGS:
        raise InputError(
            f"{readings.source} has {loaded} readings with load that can be used; {_LEAST_READINGS} are the least.",
            hint="Press every block at three loads or more, to less than half of its height.",
        )
    return kept, notes


def _strange_notes(strange: Sequence[Strange], readings: Readings) -> list[str]:
    return [
        f"{each.place}: block {readings.block[each.index]} under {readings.load_kg[each.index]:g} kg does not fit: "
        f"{each.expected_kg:.1f} kg were expected at {readings.height_mm[each.index]:g} mm. It is left out."
        for each in strange
    ]


def block_secant(coupon: Coupon, model: MaterialModel) -> Estimate:
    """Return a block's secant modulus at 10 % strain, kPa, free to spread."""
    band = region_curve(coupon.settings, model, coupon.geometry)
    return Estimate(band.value.secant_kpa(), band.low.secant_kpa(), band.high.secant_kpa(), band.basis)
