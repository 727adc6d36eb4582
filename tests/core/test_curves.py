"""Stress-strain curves: what they refuse, and that stress, slope and energy belong together."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from padwright.core.base.errors import InputError
from padwright.core.stages.material.curves import StressCurve, constrained_ratio

STRAIN = np.array([0.0, 0.05, 0.2, 0.5, 0.8])
STRESS = np.array([0.0, 10.0, 12.0, 12.0, 60.0])


def curve() -> StressCurve:
    return StressCurve(STRAIN, STRESS, 0.6, 0.3)


def test_stress_is_linear_between_points_and_zero_when_pulled():
    np.testing.assert_allclose(curve().stress(np.array([-0.1, 0.0, 0.025, 0.125, 0.65])), [0, 0, 5, 11, 36])
    assert curve().slope(np.array(-0.1)) == 0.0
    assert curve().small_strain_kpa == pytest.approx(200.0)
    assert curve().secant_kpa(0.2) == pytest.approx(60.0)


def test_past_the_last_point_it_gets_three_times_as_steep():
    assert curve().slope(np.array(0.9)) == pytest.approx(3.0 * 160.0)
    assert curve().stress(np.array(0.9)) == pytest.approx(60.0 + 48.0)


@given(st.floats(0.0, 0.95))
@settings(max_examples=40, deadline=None)
def test_energy_is_the_integral_of_stress(strain):
    found = float(curve().energy(np.array(strain)))
    expected, _ = quad(
        lambda e: float(curve().stress(np.array(e))), 0.0, strain, points=STRAIN[STRAIN < strain], limit=200
    )
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_a_scaled_curve_has_every_stress_scaled():
    np.testing.assert_allclose(curve().scaled(2.5).stress(STRAIN), 2.5 * STRESS)


@pytest.mark.parametrize(
    ("strain", "stress", "said"),
    [
        ([0, 0.5], [0, 1, 2], "two equal rows"),
        ([0.0], [0.0], "two equal rows"),
        ([0, np.nan], [0, 1], "not a number"),
        ([0.1, 0.5], [0, 1], "rise from 0"),
        ([0, 0.5, 0.5], [0, 1, 2], "rise from 0"),
        ([0, 1.0], [0, 1], "below 1"),
        ([0, 0.2, 0.5], [0, 2, 1], "after a strain of 0.200"),
        ([0, 0.5], [0, 0], "must not fall"),
    ],
)
def test_what_is_no_curve_is_refused(strain, stress, said):
    with pytest.raises(InputError, match=said):
        StressCurve(np.array(strain, dtype=float), np.array(stress, dtype=float), 0.6, 0.3)


@pytest.mark.parametrize(("densification", "poisson"), [(0.0, 0.3), (1.0, 0.3), (0.6, 0.5), (0.6, -0.1)])
def test_densification_and_poissons_ratio_have_limits(densification, poisson):
    with pytest.raises(InputError, match="out of range"):
        StressCurve(STRAIN, STRESS, densification, poisson)


@pytest.mark.parametrize(
    ("poisson", "ratio"),
    [(0.0, 1.0), (0.3, 1.34615), (0.4, 2.14286), (0.45, 3.79310), (0.48, 8.78378), (0.49, 17.1141), (0.499, 167.111)],
)
def test_the_constrained_modulus(poisson, ratio):
    # M/E = (1 - nu) / ((1 + nu)(1 - 2 nu)), Johnson 1985, section 5.8.
    assert float(constrained_ratio(poisson)) == pytest.approx(ratio, rel=1e-5)
