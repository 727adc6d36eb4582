"""What is said of a scan's size."""

from __future__ import annotations

from padwright.core.job.schema import CheckLength
from padwright.core.stages.scans.evidence import scale_facts
from padwright.core.stages.scans.scale import fit_scale


def lengths(*measured: float) -> list[CheckLength]:
    return [
        CheckLength(
            name=f"l{number}",
            measured_mm=by_hand,
            from_point=(0.0, 0.0, 0.0),
            to_point=(100.0 * number, 0.0, 0.0),
        )
        for number, by_hand in enumerate(measured, 1)
    ]


def test_the_standard_error_and_the_largest_residual_are_told():
    fit = fit_scale(lengths(101.0, 202.0, 303.3), 1.0)
    first, second = scale_facts(fit, fit.factor, "base")
    assert first == f"Base: scaled by {fit.factor:.5f}, standard error {fit.standard_error:.5f}, from 3 check lengths."
    worst = abs(fit.residuals_mm).argmax()
    assert second == f"At most {abs(fit.residuals_mm[worst]):.2f} mm are left over, at l{worst + 1}."


def test_an_outlier_is_named():
    fit = fit_scale(lengths(100.0, 200.0, 300.0, 406.0, 500.0), 1.0)
    assert scale_facts(fit, fit.factor, "impression")[-1] == "l4 does not fit the others: measure it again."


def test_without_a_length_it_says_so():
    assert scale_facts(fit_scale([], 1.0), 1.0, "base") == ("Base: its size is not checked.",)
    assert scale_facts(None, 1.01, "impression") == ("Impression: scaled by 1.01000, taken over.",)
    assert len(scale_facts(fit_scale(lengths(100.0), 1.0), 1.0, "base")) == 1
