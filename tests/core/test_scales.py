"""Round numbers for scales."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from padwright.core.base.errors import InputError
from padwright.core.base.scales import in_words, round_step, round_ticks, round_up, scale_top, shares_between


@given(st.floats(1e-6, 1e6), st.integers(2, 10))
def test_a_step_is_round_and_the_least_that_does(span, most):
    step = round_step(span, most)
    lead = step / 10.0 ** np.floor(np.log10(step * (1 + 1e-9)))
    assert min(abs(lead - each) for each in (1.0, 2.0, 2.5, 5.0)) < 1e-6
    assert span / step <= most * (1 + 1e-6)
    # The next smaller round step, at most 2.5 times less, would give too many parts.
    assert span / (step / 2.5) > most * (1 - 1e-6)


@pytest.mark.parametrize(
    ("low", "high", "ticks"),
    [
        (0.0, 23.7, (0.0, 5.0, 10.0, 15.0, 20.0)),
        (-1.0, 1.0, (-1.0, -0.5, 0.0, 0.5, 1.0)),
        (4.0, 31.3, (5.0, 10.0, 15.0, 20.0, 25.0, 30.0)),
        (0.0, 0.03, (0.0, 0.005, 0.01, 0.015, 0.02, 0.025, 0.03)),
    ],
)
def test_ticks(low, high, ticks):
    assert round_ticks(low, high) == ticks


def test_words_have_the_decimals_of_the_step():
    assert [in_words(each, 2.5) for each in (-2.5, 0.0, 5.0)] == ["-2.5", "0", "5.0"]
    assert in_words(-1e-17, 0.5) == "0" and in_words(20.0, 5.0) == "20"


def test_values_beyond_the_ends_stay_at_them():
    assert shares_between(np.array([-1.0, 0.0, 1.0, 9.0]), 0.0, 2.0).tolist() == [0.0, 0.0, 0.5, 1.0]


def test_rounding_up():
    assert [round_up(each) for each in (0.7, 1.0, 1.1, 2.2, 3.0, 60.0)] == [1.0, 1.0, 2.0, 2.5, 5.0, 100.0]


@pytest.mark.parametrize("span", [0.0, -1.0, float("nan"), float("inf")])
def test_a_scale_without_extent_is_refused(span):
    with pytest.raises(InputError, match="cannot span"):
        round_step(span)
    with pytest.raises(InputError, match="cannot run from"):
        shares_between(np.zeros(2), 1.0, 1.0)


def test_a_scale_of_colors_ends_before_single_places_that_stand_out():
    values = np.concatenate([np.zeros(5000), np.linspace(1.0, 100.0, 1000), [1.98e6, 3e5]])
    assert 99.0 < scale_top(values) < 101.0
    assert scale_top(np.zeros(3)) == 0.0
