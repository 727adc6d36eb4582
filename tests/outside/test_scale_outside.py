"""The scale fit against general libraries and open formulas."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.odr import ODR, Model, RealData
from scipy.optimize import curve_fit
from scipy.stats import t

from padwright.core.job.schema import CheckLength
from padwright.core.stages.scans.scale import fit_scale

SCAN = np.array([50.6, 101.1, 152.0, 202.3])
HAND = np.array([50.0, 100.0, 150.2, 200.1])


def lengths(scan, hand, limits):
    return [
        CheckLength(name=f"l{i}", measured_mm=y, plus_minus_mm=limit, from_point=(0, 0, 0), to_point=(0, x, 0))
        for i, (x, y, limit) in enumerate(zip(scan, hand, limits, strict=True))
    ]


def test_textbook_sums():
    """s = sum(xy) / sum(x^2), se = sqrt(sum r^2 / ((n - 1) sum x^2)), interval by Student's t: written out here."""
    fit = fit_scale(lengths(SCAN, HAND, np.full(4, 0.01)), 1.0, pick_error_mm=0.0)
    slope = (SCAN @ HAND) / (SCAN @ SCAN)
    error = np.sqrt(((HAND - slope * SCAN) ** 2).sum() / (3 * (SCAN @ SCAN)))
    assert fit.factor == pytest.approx(slope, rel=1e-12)
    assert fit.standard_error == fit.standard_error_residuals == pytest.approx(error, rel=1e-9)
    # The same to five digits by a spreadsheet-like evaluation outside this project.
    assert fit.factor == pytest.approx(0.988801, abs=5e-7)
    assert fit.standard_error == pytest.approx(2.6352e-4, abs=5e-9)
    assert fit.half_width_mm(200.0) == pytest.approx(t.ppf(0.975, 3) * error * 200, rel=1e-6)
    assert fit.half_width_mm(200.0) == pytest.approx(0.1677, abs=5e-5)


def test_weights_and_both_errors_agree_with_scipy_curve_fit():
    rng = np.random.default_rng(5)
    scan = rng.uniform(50, 350, 7)
    limits = rng.uniform(0.05, 1.0, 7)
    hand = 0.97 * scan + rng.normal(0, 0.3, 7)
    fit = fit_scale(lengths(scan, hand, limits), 1.0, pick_error_mm=0.0)

    def line(x, s):
        return s * x

    slope, stated = curve_fit(line, scan, hand, p0=[1.0], sigma=limits / np.sqrt(3), absolute_sigma=True)
    _, scattered = curve_fit(line, scan, hand, p0=[1.0], sigma=limits / np.sqrt(3), absolute_sigma=False)
    assert fit.factor == pytest.approx(slope[0], rel=1e-8)
    assert fit.standard_error_stated == pytest.approx(np.sqrt(stated[0, 0]), rel=1e-6)
    assert fit.standard_error_residuals == pytest.approx(np.sqrt(scattered[0, 0]), rel=1e-6)


def test_errors_on_both_sides_agree_with_orthogonal_distance_regression():
    """Picking errors lie on the scan's side: the fit must stay near scipy.odr, which treats both sides fully."""
    rng = np.random.default_rng(9)
    true = rng.uniform(80, 350, 6)
    scan, hand = true / 0.99 + rng.normal(0, 0.3, 6), true + rng.uniform(-0.2, 0.2, 6)
    fit = fit_scale(lengths(scan, hand, np.full(6, 0.2)), 1.0, pick_error_mm=0.3)
    data = RealData(scan, hand, sx=0.3, sy=0.2 / np.sqrt(3))
    other = ODR(data, Model(lambda beta, x: beta[0] * x), beta0=[1.0]).run()
    # The least squares fit leaves out a bias of order (sigma_x / x)^2, here below 1e-5.
    assert fit.factor == pytest.approx(other.beta[0], abs=1e-5)
    assert fit.standard_error_residuals == pytest.approx(other.sd_beta[0], rel=0.01)


def test_many_equal_lengths_shrink_the_error_by_the_root_of_their_number():
    one = fit_scale(lengths([202.0], [200.0], [0.2]), 1.0)
    many = fit_scale(lengths([202.0] * 16, [200.0] * 16, [0.2] * 16), 1.0)
    assert many.standard_error_stated == pytest.approx(one.standard_error_stated / 4, rel=1e-12)
