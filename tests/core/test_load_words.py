"""The rows and words of a load check."""

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.estimate import Estimate
from padwright.core.stages.load.contact import check_load
from padwright.core.stages.load.load_case import LoadCase
from padwright.core.stages.load.load_words import bottoming, load_rows, percent, span, zone_rows
from support.patches import linear, patch, sheet


def estimate(value: float, low: float, high: float) -> Estimate:
    return Estimate(value, low, high, "model")


@pytest.mark.parametrize(
    ("each", "said"),
    [
        (estimate(48.4, 41.2, 55.9), "48 (41 to 56) kPa"),
        (estimate(9.46, 9.41, 9.52), "9.5 (9.4 to 9.5) kPa"),
        (estimate(0.284, 0.158, 0.513), "0.28 (0.16 to 0.51) kPa"),
        (estimate(240.0, 240.0, 240.0), "240 kPa"),
    ],
)
def test_spans_have_the_digits_that_tell_low_from_high(each, said):
    assert span(each, "kPa") == said


def test_shares_are_percents():
    assert percent(estimate(0.534, 0.48, 0.592)) == "53 (48 to 59) %"
    assert percent(estimate(1.0, 1.0, 1.0)) == "100 %"


def test_rows_of_an_even_pad_are_those_of_a_spring():
    on = patch(sheet(100, 100, 5.0), thickness=10.0, zone=lambda x, y: (x > 0).astype(int))
    on = replace(on, beyond_mm=np.zeros(len(on.gaps)))
    result = check_load(LoadCase(force_n=100.0), on, [linear(200.0)] * 2, zone_names=["left", "right"])
    rows = {row.name: row.now for row in load_rows(result)}
    # 100 N on 100 cm2 is 10 kPa; 10 mm of 200 kPa give 0.5 mm (no spread: an exact curve, and the sheet is the pad).
    assert rows["Mean"] == rows["Peak"] == "10 kPa"
    assert rows["Sinks In"] == "0.50 mm" and rows["Contact"] == "100 cm2"
    assert [row.name for row in zone_rows(result)] == ["left", "right"]
    assert sum(float(row.now.split()[0]) for row in zone_rows(result)) == pytest.approx(100.0, abs=1.0)


@pytest.mark.parametrize(
    ("margin", "kind", "said"),
    [
        ((0.9, 0.8, 0.95), "far", "90 % of the give is left: plenty"),
        ((0.6, 0.3, 0.8), "some", "60 % of the give is left"),
        ((0.2, -0.1, 0.5), "doubtful", "may bottom out"),
        ((-0.1, -0.4, 0.1), "out", 'bottoms out in "right"'),
    ],
)
def test_bottoming_is_said_plainly_with_what_to_do(margin, kind, said):
    on = patch(sheet(100, 100, 5.0), thickness=10.0, zone=lambda x, y: (x > 0).astype(int))
    result = check_load(LoadCase(force_n=100.0), on, [linear(200.0)] * 2, zone_names=["left", "right"])
    zones = (result.zones[0], replace(result.zones[1], bottoming_margin=estimate(*margin)))
    found = bottoming(replace(result, bottoming_margin=estimate(*margin), zones=zones))
    assert found[0] == kind and said in found[1]
    assert np.isfinite(result.pressure_kpa).all()
    known = bottoming(replace(result, bottoming_margin=estimate(*margin), zones=zones), has_coupons=True)
    assert known[0] == kind and "oupons" not in known[1]
    assert ("oupons" in found[1]) == (kind == "doubtful")


def test_no_less_than_nothing_is_left():
    assert percent(Estimate(-0.2, -0.6, 0.31, "model")) == "0 (0 to 31) %"
    assert percent(Estimate(-0.2, -0.6, -0.1, "model")) == "0 %"
