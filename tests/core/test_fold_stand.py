"""A pad that would slide off its walls is refused; what is told of lasting load and of pushes."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from padwright.core.base.errors import SolveError
from padwright.core.base.estimate import Estimate
from padwright.core.base.notes import Weight, weight_of
from padwright.core.stages.load.fold_stand import Standing, _with_evened, lasting_words, refuse_sway
from padwright.core.stages.load.fold_sway import PadSway
from padwright.core.stages.load.load_case import LoadCase
from padwright.core.stages.material.curves import CurveBand, StressCurve
from padwright.core.stages.material.folds.pressure_cap import PressureCap

CASE = LoadCase(force_n=435.0, posture="sitting")


def stood(margin: float, creep_mm: float = 0.8, cap: PressureCap | None = None) -> Standing:
    sway = PadSway(Estimate(margin, 0.3 * margin, 3.0 * margin, "model"), np.array([1.0, 2.0]), 90.0, creep_mm)
    return Standing(sway, np.array([10.0, -20.0, 30.0]), None, None, cap)


def test_twice_its_load_is_the_least_that_a_pad_must_hold():
    def holds() -> str:
        return "Set fill.wall_beads = 4."

    refuse_sway(CASE, stood(2.0), holds)
    with pytest.raises(SolveError) as caught:
        refuse_sway(CASE, stood(1.96), holds)
    said = str(caught.value)
    assert '"sitting"' in said and "(10, -20, 30) mm" in said and "2 times" in said
    assert "1.96 times the load" in said
    assert "Set fill.wall_beads = 4." in said and 'fill.kind = "settings"' in said


def test_a_push_is_told_in_newtons_where_there_are_any():
    assert "with 44 N it gives 0.8 mm" in lasting_words(CASE, stood(2.3))[-1]
    assert "2.3 (0.7 to 6.9) times" in lasting_words(CASE, stood(2.3))[-1]
    squeezed = LoadCase(mean_pressure_kpa=20.0)
    assert "with 10 % of the load" in lasting_words(squeezed, stood(2.3))[-1]


def test_what_hours_do_is_told_first():
    def told(share: float) -> tuple[str, ...]:
        plateau = Estimate(share, 0.5 * share, 2.0 * share, "assumed")
        endurance = SimpleNamespace(notes=("After hours it sinks.",), plateau_share=plateau)
        return lasting_words(CASE, replace(stood(3.0), endurance=endurance))

    assert told(0.8)[0] == "After hours it sinks." and len(told(0.8)) == 2
    assert weight_of(told(0.8)[0]) is Weight.LOOK
    assert weight_of(told(1.1)[0]) is Weight.ACT  # walls fold up


def test_a_margin_that_may_be_below_the_load_is_to_look_at():
    # Low is 0.3 times the value here: 0.9 and 1.2 times the load.
    assert weight_of(lasting_words(CASE, stood(3.0))[-1]) is Weight.LOOK
    assert weight_of(lasting_words(CASE, stood(4.0))[-1]) is Weight.BACKGROUND


def test_a_pad_that_would_not_stand_has_no_creep_in_the_evidence():
    assert stood(0.9, creep_mm=float("inf")).as_json()["creep_mm"] is None
    assert stood(3.0).as_json()["creep_mm"] == 0.8


def test_a_cap_on_pressure_is_told_only_where_blocks_promise_one():
    none = PressureCap(None, 0.3, "no block of folded walls was pressed (`coupons --folds`)")
    assert not any("cap" in line or "pass" in line for line in lasting_words(CASE, stood(3.0, cap=none)))
    evidence = stood(3.0, cap=none).as_json()["pressure_cap"]
    assert evidence == {"kPa": None, "give_share": 0.3, "reason": none.reason}
    cap = PressureCap(Estimate(30.0, 26.0, 35.0, "model"), 0.29, "")
    said = lasting_words(CASE, stood(3.0, cap=cap))[-1]
    assert said == (
        "Where its walls bear most, pressed by up to 29 % of their height they pass at most 30 (26 to 35) kPa."
    )
    assert stood(3.0, cap=cap).as_json()["pressure_cap"]["kPa"]["high"] == 35.0
    assert "pressure_cap" not in stood(3.0).as_json()


def test_a_cap_counts_neighbors_where_walls_bear_most_and_not_solid_pad():
    """By hand: the walls at 30 kPa pass 1.2 times what they bear alone, the solid place beside them 3 times."""
    line = StressCurve(np.array([0.0, 0.9]), np.array([0.0, 90.0]), 0.9, 0.0)
    patch = SimpleNamespace(zone=np.zeros(3, dtype=np.int32), firmer=np.array([1.0, 1.0, 10.0]))
    columns = SimpleNamespace(patch=patch, bands=[CurveBand(line, line, line, "model")])
    result = SimpleNamespace(strain=np.array([0.3, 0.1, 0.2]), pressure_kpa=np.array([36.0, 5.0, 600.0]))
    cap = PressureCap(Estimate(30.0, 26.0, 35.0, "model"), 0.29, "")
    found = _with_evened(cap, np.array([True, True, False]), columns, result).kpa
    assert (found.value, found.low, found.high) == pytest.approx((36.0, 26.0, 35.0 * 1.2**1.5))
