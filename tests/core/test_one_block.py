"""What one printed block would tell: against the fit of readings made of one, and against its parts by hand."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.job.material_cards import load_material
from padwright.core.stages.material.coupons.calibrate import calibrate
from padwright.core.stages.material.coupons.coupons import CouponWish, coupon_load_kg, plan_coupons
from padwright.core.stages.material.coupons.one_block import after_one_block
from padwright.core.stages.material.coupons.readings import Readings
from padwright.core.stages.material.material_model import NINETY, model_from_card


def factor(told):
    return np.log(told.high / told.value) / NINETY


@pytest.mark.parametrize("name", ["tpu_60a", "tpu_85a"])
def test_it_is_what_the_fit_of_that_block_leaves(name):
    card = load_material(name)
    model = model_from_card(card)
    block = plan_coupons(model, card, CouponWish(contours=(0,))).blocks[-1]
    assert block.coupon.settings.fill_structure == "solid"
    strain = np.linspace(0.0, 0.5, 2001)
    loads = np.array([coupon_load_kg(block.coupon, block.curve.value, float(each)) for each in strain])
    steps = np.array([0.0, *block.loads_kg])
    height = block.coupon.geometry.thickness_mm * (1.0 - np.interp(steps, loads, strain))
    count = len(steps)
    readings = Readings(
        np.full(count, block.coupon.number, dtype=np.int32), steps, height, np.full(count, 0.1),
        np.arange(2, count + 2, dtype=np.int32), "readings.csv",
    )  # fmt: skip
    fit = calibrate([block.coupon], readings, model)
    fitted = float(np.sqrt(fit.model.covariance[0, 0]))
    # The fit knows the height without load less well than the sum here takes it, and the plates' hold by its shape.
    assert factor(after_one_block(model, card)) == pytest.approx(fitted, rel=0.15)


def test_it_narrows_what_hardness_tells_and_never_below_what_prints_differ_by():
    for name in ("tpu_60a", "tpu_85a", "tpu_95a"):
        card = load_material(name)
        model = model_from_card(card)
        told = after_one_block(model, card)
        assert model.solid.low < told.low < told.value == model.solid.value < told.high < model.solid.high
        # One print's difference and the next one's, 0.06 each, are the least that can be left.
        assert factor(told) > np.hypot(0.06, 0.06)
    # 95A takes no solid block under a person, and a fill shows its own law with the solid: less is told.
    assert factor(told) > 1.3 * factor(
        after_one_block(model_from_card(load_material("tpu_60a")), load_material("tpu_60a"))
    )
