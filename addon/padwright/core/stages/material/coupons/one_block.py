"""What a single printed block would tell of the filament, before anybody prints it."""

from __future__ import annotations

import numpy as np

from ....base.errors import InputError
from ....base.estimate import Estimate
from ....base.units import N_PER_KG
from ....job.material_cards import MaterialCard
from ..fill import middle_curve
from ..material_model import NINETY, UNKNOWNS, MaterialModel
from .coupons import READ_KG, READ_MM, CouponWish, PlannedCoupon, plan_coupons
from .held import held_excess
from .posterior import PRINT_SPREAD

_STEP = 0.05
"""Of the unknowns' logarithms, for their derivatives."""


def after_one_block(model: MaterialModel, card: MaterialCard, nozzle_mm: float = 0.4) -> Estimate | None:
    """Return the modulus of the solid, kPa, as one block pressed with a bathroom scale would tell it.

    Of the usual blocks the one that tells most. None where no block gives way enough under a person.

    Notes
    -----
    The fit of `calibrate` made linear: readings of the loads planned, each off by `READ_MM` twice and `READ_KG`; what
    all of them share is how much a print differs and how the plates hold the block, anything from slipping to sticking.
    The value is today's: the block will move it.
    """
    try:
        blocks = plan_coupons(model, card, CouponWish(nozzle_mm=nozzle_mm, contours=(0,))).blocks
    except InputError:
        return None
    far = NINETY * min(_left(model, block) for block in blocks)
    value = model.solid.value
    return Estimate(value, value * float(np.exp(-far)), value * float(np.exp(far)), "model")


def _left(model: MaterialModel, block: PlannedCoupon) -> float:
    """Return the standard deviation that is left of the modulus' logarithm."""
    coupon, geometry = block.coupon, block.coupon.geometry
    strain = np.array([sink.value for sink in block.sinks_mm]) / geometry.thickness_mm
    settings, unknowns = coupon.settings, model.unknowns
    middle = middle_curve(settings, model, geometry, unknowns)
    stress = middle.stress(strain)
    moved = [
        middle_curve(settings, model, geometry, unknowns + _STEP * unit).stress(strain)
        for unit in np.eye(len(UNKNOWNS))
    ]
    slopes = np.log(np.array(moved) / stress).T / _STEP
    force = stress * geometry.area_mm2 / 1000.0
    by_height = middle.slope(strain) / stress * np.sqrt(2.0) * READ_MM / geometry.thickness_mm
    alone = np.hypot(READ_KG * N_PER_KG / force, by_height)
    held = np.log1p(held_excess(middle, coupon.edge_mm / geometry.thickness_mm)) / np.sqrt(12.0)
    noise = np.diag(alone**2) + PRINT_SPREAD**2 + held**2
    before = model.covariance_up
    gain = before @ slopes.T @ np.linalg.inv(slopes @ before @ slopes.T + noise)
    after = before - gain @ slopes @ before
    return float(np.sqrt(after[0, 0] + PRINT_SPREAD**2))
