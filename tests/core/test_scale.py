"""Scale from check lengths: the right factor, an honest error, and every slip named."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from padwright.core.base.errors import InputError
from padwright.core.base.units import MM_PER_UNIT
from padwright.core.job.schema import CheckLength
from padwright.core.stages.scans.scale import choose_unit, fit_scale


def lengths(scan, measured, *, limits=0.1, directions=None):
    """Lengths along x (or given directions) of which the scan shows `scan` mm and the hand measured `measured` mm."""
    directions = np.tile([1.0, 0.0, 0.0], (len(scan), 1)) if directions is None else np.asarray(directions, dtype=float)
    starts = np.arange(len(scan))[:, None] * [3.0, -2.0, 7.0]
    return [
        CheckLength(
            name=f"l{i}",
            measured_mm=float(y),
            plus_minus_mm=limits,
            from_point=tuple(start),
            to_point=tuple(start + x * way),
        )
        for i, (x, y, start, way) in enumerate(zip(scan, measured, starts, directions, strict=True))
    ]


def one_off(true, factor, error, which, seed=1):
    """Lengths with a scan too large by `factor` and one measured wrongly by `error` mm."""
    rng = np.random.default_rng(seed)
    true = np.asarray(true, dtype=float)
    measured = true + rng.uniform(-0.1, 0.1, len(true))
    measured[which] += error
    return lengths(true / factor + rng.normal(0, 0.3, len(true)), measured)


def test_one_length_gives_its_ratio_and_the_stated_error():
    """s = y / x, sigma_s / s = sqrt(sigma_x^2 + sigma_y^2) / L (propagation of errors, JCGM 100:2008, 5.1.2)."""
    fit = fit_scale(lengths([101.0], [100.0], limits=0.1 * np.sqrt(3)), 1.0, pick_error_mm=0.5)
    assert fit.factor == pytest.approx(100 / 101, rel=1e-12)
    assert fit.standard_error / fit.factor == pytest.approx(np.hypot(0.1, 0.5 * fit.factor) / 100, rel=1e-12)
    assert fit.standard_error_residuals is None
    assert any("Only one check length" in note for note in fit.notes)


def test_no_length_trusts_the_file_and_says_so():
    fit = fit_scale([], 1000.0)
    assert (fit.factor, fit.standard_error, fit.half_width_mm(200)) == (1.0, None, None)
    assert "No check length" in fit.notes[0]


@pytest.mark.parametrize(("scatter", "by"), [(0.0, "stated"), (3.0, "residuals")])
def test_the_larger_of_the_two_errors_is_reported(scatter, by):
    fit = fit_scale(
        lengths([50, 100, 150, 200], np.array([50, 100, 150, 200]) + scatter * np.array([1, -1, 1, -1])), 1.0
    )
    assert (
        fit.standard_error
        == getattr(fit, f"standard_error_{by}")
        == max(fit.standard_error_stated, fit.standard_error_residuals)
    )


def test_what_the_error_means_on_the_part_is_said_in_mm():
    fit = fit_scale(lengths([202.0], [200.0]), 1.0)
    half = 1.959964 * fit.standard_error * 400.0
    assert fit.half_width_mm(400.0) == pytest.approx(half)
    assert f"400 mm long, that is +/- {half:.2f} mm" in fit.note_on(400.0, "base scan")


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(30, 400), min_size=1, max_size=6),
    st.floats(0.75, 1.4),
    st.integers(0, 2**32 - 1),
    st.sampled_from(list(MM_PER_UNIT)),
)
def test_order_pose_and_unit_of_the_file_do_not_change_the_answer(true, factor, seed, unit):
    rng = np.random.default_rng(seed)
    ways = rng.normal(size=(len(true), 3))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    scan = np.array(true) / factor * (1 + rng.normal(0, 2e-3, len(true)))
    plain = lengths(scan, true, directions=ways)
    fit = fit_scale(plain, 1.0)
    order = rng.permutation(len(true))
    turn, shift = Rotation.random(random_state=seed % 2**31), rng.normal(0, 1e3, 3)
    moved = [
        replace(
            plain[i],
            from_point=tuple((turn.apply(plain[i].from_point) + shift) / MM_PER_UNIT[unit]),
            to_point=tuple((turn.apply(plain[i].to_point) + shift) / MM_PER_UNIT[unit]),
        )
        for i in order
    ]
    again = fit_scale(moved, MM_PER_UNIT[unit])
    assert again.factor == pytest.approx(fit.factor, rel=1e-10)  # the shift costs five digits of the spans
    assert again.standard_error == pytest.approx(fit.standard_error, rel=1e-7)
    assert again.residuals_mm == pytest.approx(fit.residuals_mm[order], abs=1e-7)
    assert again.outlier == (None if fit.outlier is None else list(order).index(fit.outlier))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(20, 500), min_size=1, max_size=6), st.floats(0.7, 1.45))
def test_lengths_without_error_give_the_factor_exactly(true, factor):
    fit = fit_scale(lengths(np.array(true) / factor, true), 1.0)
    assert fit.factor == pytest.approx(factor, rel=1e-12)
    assert np.abs(fit.residuals_mm).max() < 1e-9
    assert fit.outlier is None


@pytest.mark.parametrize("which", range(5))
def test_a_slip_of_3_mm_on_any_of_five_lengths_is_named_whichever_it_is(which):
    """Also on the longest, whose leverage hides it from a plain residual rule."""
    fit = fit_scale(one_off([60, 90, 120, 200, 340], 0.99, 3.0, which), 1.0)
    assert fit.outlier == which
    assert any(f'"l{which}"' in note and "Measure it again" in note for note in fit.notes)
    assert fit.factor_without_outlier == pytest.approx(0.99, abs=4 * 0.3 / 200)


def test_of_three_lengths_only_the_two_that_agree_are_named():
    fit = fit_scale(lengths([101, 202, 303], [100, 200, 306]), 1.0)
    assert fit.outlier is None
    assert any('only "l0" and "l1" agree. Measure "l2" again' in note for note in fit.notes)


def test_three_lengths_of_which_no_two_agree():
    fit = fit_scale(lengths([200, 200, 200], [200, 206, 212]), 1.0)
    assert any("No two of the three" in note for note in fit.notes)


def test_two_lengths_that_disagree_are_both_named():
    fit = fit_scale(lengths([100, 200], [100, 206]), 1.0)
    assert any('"l0" and "l1", disagree by 2.91 %' in note for note in fit.notes)


@pytest.mark.parametrize(("believed", "real"), [(a, b) for a in MM_PER_UNIT for b in MM_PER_UNIT if a != b])
@pytest.mark.parametrize("error", [0.85, 0.99, 1.0, 1.18])
def test_a_factor_of_units_is_refused_with_the_likely_unit(believed, real, error):
    """A scan in `real` units, itself off by `error`, read as `believed`."""
    true = np.array([100.0, 230.0])
    scan_mm = true / error * MM_PER_UNIT[believed] / MM_PER_UNIT[real]
    numbers = scan_mm / MM_PER_UNIT[believed]
    with pytest.raises(InputError, match=f'set unit = "{real}"') as caught:
        fit_scale(lengths(numbers, true), MM_PER_UNIT[believed])
    assert caught.value.exit_code == 2


@pytest.mark.parametrize("factor", [1000, 100, 25.4, 10, 2.54, 0.1, 0.01, 0.001, 1 / 25.4, 1 / 2.54, 39.37])
@pytest.mark.parametrize("unit", list(MM_PER_UNIT))
def test_unit_like_factors_are_refused_in_every_unit(factor, unit):
    with pytest.raises(InputError, match=r"wrong unit|mixed units"):
        fit_scale(lengths(np.array([100.0, 200.0]) / factor / MM_PER_UNIT[unit], [100.0, 200.0]), MM_PER_UNIT[unit])


@pytest.mark.parametrize("factor", [0.7, 0.9, 1.1, 1.31, 1.5])
def test_factors_of_bad_scans_are_taken(factor):
    assert fit_scale(lengths(np.array([100, 200]) / factor, [100, 200]), 1.0).factor == pytest.approx(factor)


def test_one_length_typed_in_cm_is_named():
    with pytest.raises(InputError, match=r'"l1" of the base scan is 0\.1 times what the others'):
        fit_scale(lengths([100, 200, 300], [100, 20, 300]), 1.0)


def test_axes_that_disagree_are_told():
    ways = np.eye(3)[[0, 1, 2, 0, 1, 2]]
    true = np.array([200.0, 210, 150, 320, 260, 120])
    stretched = true / np.array([1.0, 1.01, 1.0])[[0, 1, 2, 0, 1, 2]]
    fit = fit_scale(lengths(stretched, true, directions=ways), 1.0)
    told = [note for note in fit.notes if "stretched" in note]
    assert len(told) == 2
    assert any("Along x and y" in note and "1.0000 and 1.0100" in note for note in told)
    fit = fit_scale(lengths(true / np.array([1, 1.004, 1, 1, 1.004, 1]), true, directions=ways), 1.0)
    assert not [note for note in fit.notes if "stretched" in note]


def test_points_that_coincide_are_refused():
    with pytest.raises(InputError, match='"l1" has no extent'):
        fit_scale(lengths([100, 0], [100, 50]), 1.0)


def test_evidence_is_plain_json():
    evidence = fit_scale(lengths([101], [100]), 1.0).evidence()
    assert json.loads(json.dumps(evidence, allow_nan=False)) == evidence


def test_units_are_never_guessed():
    assert choose_unit(None, "cm") == ("cm", ())
    assert choose_unit("m", None) == ("m", ())
    unit, (note,) = choose_unit("m", "mm")
    assert unit == "mm" and "the job says mm" in note
    with pytest.raises(InputError, match="not stated"):
        choose_unit(None, None)


def test_lengths_count_for_an_axis_within_37_degrees_of_it():
    angle = np.radians([0, 36, 38, 52, 54, 90])
    ways = np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)
    true = np.full(6, 200.0)
    fit = fit_scale(lengths(true, true, directions=ways), 1.0)
    assert set(fit.axes) == {"x", "y"}  # 38 and 52 degrees belong to neither
    one = fit_scale(lengths(true[:1], true[:1]), 1.0).standard_error_stated
    assert [error for _, error in fit.axes.values()] == pytest.approx([one / np.sqrt(2)] * 2)


def test_lengths_far_apart_are_refused_with_both_names():
    with pytest.raises(InputError, match=r'"l0" and "l1" of the base scan are 20% apart.*1 and 1\.2') as caught:
        fit_scale(lengths([200, 200], [200, 240]), 1.0)
    assert "picked wrong" in caught.value.message and "third distance" in caught.value.hint
    assert fit_scale(lengths([200, 200], [200, 216]), 1.0).notes  # 8 %: a scan may be stretched that much; it is told
    assert fit_scale(lengths([5, 200], [5.6, 200], limits=0.5), 1.0).factor  # 12 % of 5 mm is within what picking errs


@pytest.mark.parametrize("typed", [(176.0, 224.0), (176.0, 224.0, 300.0), (300.0, 176.0, 224.0)])
def test_lengths_typed_for_each_other_are_told_with_what_to_write(typed):
    true = {(176.0, 224.0): [224, 176], (176.0, 224.0, 300.0): [224, 176, 300]}.get(typed)
    if true is None:  # three round about: no one exchange mends them
        with pytest.raises(InputError) as caught:
            fit_scale(lengths([224, 300, 176], typed), 1.0)
        assert "typed for each other" not in caught.value.message
        return
    with pytest.raises(InputError, match="they look typed for each other") as caught:
        fit_scale(lengths(true, typed), 1.0)
    told = dict(re.findall(r'measured_mm = (\S+) for "l(\d)"', caught.value.hint))
    mended = [float(next((mm for mm, at in told.items() if int(at) == i), typed[i])) for i in range(len(typed))]
    assert fit_scale(lengths(true, mended), 1.0).factor == pytest.approx(1.0)


def test_points_beyond_all_measure_are_refused():
    with pytest.raises(InputError, match=r'"l1" is 1e\+300 mm long on the base scan'):
        fit_scale(lengths([200, 1e300], [200, 200]), 1.0)
