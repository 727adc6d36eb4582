"""A mat's pressures as those of the load, beside what is predicted, and its sum beside the load."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from tests.support.mats import csv_of, two_bumps

from padwright.core.base.notes import Weight, weight_of
from padwright.core.job.mat_table import Mat
from padwright.core.stages.load.beside_mat import beside_mat
from padwright.core.stages.load.load_case import ContactPatch
from padwright.core.stages.load.mat_pressure import mat_pressure
from padwright.core.stages.load.mat_words import beside_words, sum_notes
from padwright.core.stages.mats.laid_mat import LaidMat
from padwright.core.stages.mats.mat_file import read_mat
from padwright.core.stages.mats.mat_pose import plane_of, rigid_map

PRESS = np.array([0.0, 0.0, -1.0])
PLANE = plane_of(PRESS)
STEP = 2.0  # mm between points of the patch: five a cell
GRID = two_bumps()
FORCE = float(np.round(GRID, 2).sum()) / 10.0  # cells of 10 x 10 mm


def laid_mat(pitch: float = 10.0, **asked: Any) -> LaidMat:
    mat = Mat(file="m.csv", **{"unit": "kPa", "pitch_mm": (pitch,), **asked})
    read = read_mat(csv_of(GRID).encode(), "m.csv", mat)
    cells = rigid_map(PLANE, (10.0, 10.0), 0.0, np.zeros(2), np.zeros(2), flipped=False)
    return LaidMat(read, cells, "outline", 1, (), 0.9, ())


def patch_of_mat(columns: int = 24) -> ContactPatch:
    """Return points over the mat's first so many columns, each with the area it stands for."""
    right, down = np.meshgrid(np.arange(-4.0, 10.0 * columns - 5.0, STEP), np.arange(-4.0, 195.0, STEP))
    flat = np.stack([right.ravel(), down.ravel()], axis=1)
    zone = (flat[:, 0] > 115.0).astype(int)
    count = len(flat)
    return ContactPatch(flat @ PLANE, np.full(count, STEP**2), np.full(count, 20.0), zone, PRESS)


def result_of(pressure: np.ndarray, patch: ContactPatch) -> Any:
    return SimpleNamespace(pressure_kpa=pressure, force_n=float(pressure @ patch.area_mm2) / 1000.0)


def test_the_body_bears_as_it_bore_on_the_mat_with_the_force_of_the_load():
    patch, laid = patch_of_mat(), laid_mat()
    touch = (laid.at(patch.position) > 0.0).astype(float)
    found, note = mat_pressure(laid, patch, touch, 435_000.0)
    assert found is not None and note is None
    assert np.array_equal(found[0], found[1])
    assert found[0] @ patch.area_mm2 == pytest.approx(435_000.0)
    shown = laid.at(patch.position)
    assert np.corrcoef(found[0], shown)[0, 1] > 0.999  # but for what is below a mat's threshold
    assert (found[0][touch > 0.0] > 0.0).all() and not found[0][touch == 0.0].any()


def test_a_mat_that_lies_beside_the_contact_is_left_out_and_said():
    patch, laid = patch_of_mat(), laid_mat()
    beside = replace(
        laid, cells=rigid_map(PLANE, (10.0, 10.0), 0.0, np.zeros(2), np.array([200.0, 0.0]), flipped=False)
    )
    found, note = mat_pressure(beside, patch, np.ones(len(patch.area_mm2)), 435_000.0)
    assert found is None and "17 % of where the body bears lies on it" in note


def test_the_same_pressures_do_not_differ_whatever_the_mat_sums_to():
    patch = patch_of_mat()
    for laid in (laid_mat(), laid_mat(unit="mmHg"), laid_mat(unit="raw")):
        shown = laid.at(patch.position)
        found = beside_mat(laid, patch, patch.zone, ("left", "right"), result_of(2.5 * shown, patch))
        assert found is not None
        assert found.rms_kpa < 1e-9 * found.mat_peak_kpa.value + 1e-9
        assert found.correlation == pytest.approx(1.0) and found.center_off_mm.value < 1e-6
        assert found.scale == pytest.approx(2.5)
        assert all(each.mat.value == pytest.approx(each.predicted) for each in found.zones)
        assert not found.difference_kpa.any() or np.abs(found.difference_kpa).max() < 1e-9 * found.mat_peak_kpa.value


def test_a_load_that_moves_is_told_in_mm_kpa_and_shares():
    patch, laid = patch_of_mat(), laid_mat()
    shown = laid.at(patch.position)
    moved = laid.at(patch.position - 10.0 * PLANE[0])  # a cell to the right
    found = beside_mat(laid, patch, patch.zone, ("left", "right"), result_of(moved, patch))
    assert found is not None
    # The mat ends on the right, where its last cells bear nothing.
    assert found.center_off_mm.value == pytest.approx(10.0, abs=0.2)
    area = patch.area_mm2
    for each, number in zip(found.zones, (0, 1), strict=True):
        here = patch.zone == number
        assert each.mat.value == pytest.approx(float(shown[here] @ area[here]) / float(shown @ area))
        assert each.predicted == pytest.approx(float(moved[here] @ area[here]) / float(moved @ area))
    by_cell = GRID / GRID.sum() * moved.sum() * STEP**2 / 100.0
    off = np.roll(GRID, 1, axis=1) - by_cell
    assert found.rms_kpa == pytest.approx(float(np.sqrt((off**2).mean())), rel=0.1)  # bilinear between cells
    assert found.predicted_peak_kpa == pytest.approx(found.mat_peak_kpa.value, rel=0.02)


def test_the_forces_of_all_and_of_what_lies_on_the_pad_are_kept_apart():
    patch, laid = patch_of_mat(columns=12), laid_mat()
    found = beside_mat(laid, patch, patch.zone, ("left", "right"), result_of(laid.at(patch.position), patch))
    assert found is not None and found.sum_n.value == pytest.approx(FORCE)
    assert found.on_pad_n.value == pytest.approx(float(GRID[:, :12].sum()) / 10.0, rel=0.02)


def _told(laid: LaidMat, load_n: float, patch: ContactPatch | None = None) -> tuple[str, tuple[Any, ...]]:
    """Return the first of the words and the notes of a pad that bears a load as the mat showed."""
    patch = patch or patch_of_mat()
    shown = laid.at(patch.position)
    pressed = shown * load_n * 1000.0 / float(shown @ patch.area_mm2)
    found = beside_mat(laid, patch, patch.zone, ("left", "right"), result_of(pressed, patch))
    assert found is not None
    return beside_words(laid, found)[0], sum_notes(laid, found)


def test_a_sum_that_is_the_load_is_told_beside_it():
    words, notes = _told(laid_mat(), FORCE)
    assert notes == () and words.endswith(f"on the pad's contact, the load is {FORCE:,.0f} N.")
    words, notes = _told(laid_mat(unit="raw"), FORCE)
    assert notes == () and "its numbers have no unit" in words


def test_a_sum_of_several_times_the_load_is_asked_about():
    words, notes = _told(laid_mat(), FORCE / 4.5)
    assert notes == () and f": {FORCE:,.0f} N in all," in words
    assert f"4.5 times the load of {FORCE / 4.5:,.0f} N: a maximum over time?" in words


def test_what_bore_beside_the_pad_is_told_as_that():
    patch = patch_of_mat(columns=12)
    words, _ = _told(laid_mat(), float(GRID[:, :12].sum()) / 10.0, patch)
    assert "2.0 times the load" in words and "the body bore beside the pad too" in words


@pytest.mark.parametrize(("given", "true"), [("kPa", "mmHg"), ("mmHg", "kPa"), ("kPa", "N/cm2"), ("kPa", "psi")])
def test_a_sum_that_another_unit_would_make_the_load_names_it(given, true):
    laid = laid_mat(unit=given)
    patch = patch_of_mat()
    load = float(GRID.sum()) / 10.0 * (read_mat(b"1,1\n1,1\n", "m", Mat(file="m", unit=true)).kpa_per_unit or 1.0)
    assert patch.area_mm2.sum() > 0.0
    words, (note,) = _told(laid, load)
    assert "a maximum over time" not in words
    assert f'With unit = "{true}" it would be' in note and weight_of(note) is Weight.ACT


def test_too_small_a_sum_is_told_without_blaming_the_mat_alone():
    words, notes = _told(laid_mat(), FORCE * 1.7)
    assert notes == () and "part of the load bore beside the mat" in words


def test_the_words_say_what_lay_under_the_mat_and_what_is_not_independent():
    patch = patch_of_mat()
    for on, said in (("base", "what the pad changes"), ("pad", "what the prediction gets wrong")):
        laid = replace(laid_mat(), measured_on=on, is_load=on == "base")
        found = beside_mat(laid, patch, patch.zone, ("left", "right"), result_of(laid.at(patch.position), patch))
        assert found is not None
        words = " ".join(beside_words(laid, found))
        assert said in words and ("not independent" in words) == (on == "base")


def test_what_the_mat_gives_has_the_mat_s_own_error_and_the_words_say_how_good_it_is():
    patch = patch_of_mat()
    exact, good = (replace(laid_mat(), accuracy=each) for each in (0.0, 0.1))
    shown = good.at(patch.position)
    found = [beside_mat(each, patch, patch.zone, ("left", "right"), result_of(shown, patch)) for each in (exact, good)]
    assert found[0] is not None and found[1] is not None
    for each in (found[0].sum_n, found[0].mat_peak_kpa, found[0].center_off_mm, found[0].zones[0].mat):
        assert each is not None and each.low == each.value == each.high
    assert found[0].rms_of_mat_kpa == 0.0
    force = found[1].sum_n
    assert force is not None and force.high == pytest.approx(1.1 * FORCE) and force.low == pytest.approx(FORCE / 1.1)
    peak = found[1].mat_peak_kpa
    assert 1.02 < peak.high / peak.value < 1.15  # by the hardest place, less what the whole is scaled by
    for each in found[1].zones:
        assert 0.01 < each.mat.high - each.mat.value < 0.05
    # Weighed by the load the square of the ways is that of the accuracy; of all cells, p * p * way * way is at most the
    # peak times that, and half a root less where the peak is no larger than what is around it.
    kpa = found[1].mat_kpa
    most = 0.1 * float(np.sqrt(kpa.max() * kpa.mean()))
    assert 0.5 * most < found[1].rms_of_mat_kpa < most
    words = " ".join(beside_words(good, found[1]))
    assert f"({peak.low:.0f} to {peak.high:.0f})" in words and "The mat is taken as good to 10 %" in words
