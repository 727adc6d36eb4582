"""Calibration on blocks of folded walls: what was printed comes back within its bounds, and what is off is named."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.cli import main as cli
from padwright.core.base.errors import InputError
from padwright.core.job.material_cards import (
    FOLD_UNKNOWNS,
    UNKNOWNS,
    Calibration,
    FoldCalibration,
    load_material,
    read_material,
    write_material,
)
from padwright.core.job.read import read_job
from padwright.core.job.toml_lines import parse_toml
from padwright.core.run.coupons import form_of, pack_coupons
from padwright.core.run.outlook import outlook
from padwright.core.stages.material.coupons.coupons import CouponWish
from padwright.core.stages.material.coupons.fold_coupons import FoldWish, plan_fold_coupons
from padwright.core.stages.material.coupons.fold_fit import calibrate_folds
from padwright.core.stages.material.coupons.fold_posterior import COUNT, FoldPosterior, FoldReadings
from padwright.core.stages.material.folds.band import fold_band, fold_bands
from padwright.core.stages.material.folds.fold_print import printed_kpa
from padwright.core.stages.material.folds.law import stress_kpa
from padwright.core.stages.material.folds.pressure_cap import pressure_cap
from padwright.core.stages.material.folds.slopes import slope_for, slope_in_print
from padwright.core.stages.material.folds.softening import HALVED_AT, Softening
from padwright.core.stages.material.folds.walls import Walls
from padwright.core.stages.material.material_model import FoldsAsPrinted, model_from_card
from support.cases import make_case
from support.pressed_folds import TruePrint, drawn, pressed, true_kpa
from support.writers import write_job

CARD = load_material("tpu_85a")
MODEL = model_from_card(CARD)
KPA = CARD.modulus_mpa * 1000.0
PLAN = plan_fold_coupons(MODEL, CARD, FoldWish(CouponWish()))
COUPONS = tuple(block.coupon for block in PLAN.blocks)
PART = Walls([20.0, 12.0, 20.0], [1.35, 0.9, 1.8], [6.0, 6.0, 8.0], [35.0, 30.0, 20.0])


def read(true, seed=0, **how):
    return pressed(PLAN.blocks, KPA, CARD.poisson, true, np.random.default_rng(seed), **how)


def fit(readings, **how):
    return calibrate_folds(COUPONS, readings, MODEL, CARD.density_g_cm3, **how)


def truth_of(walls, true, strain=0.1):
    return true_kpa(walls, np.array([strain]), KPA, CARD.poisson, true)[:, 0] / strain


def test_the_stress_of_a_print_is_that_of_the_law_with_its_own_numbers():
    strain = np.linspace(0.0, 0.4, 9)
    for softening in (0.5, 1.0, 2.0, 5.0):
        true = TruePrint(1.3, 0.93, 1.2, 0.9, softening, bend=0.1)
        printed = PART.changed(width_mm=PART.array("width_mm") * 0.93, slope_deg=PART.array("slope_deg") + 1.2)
        bent = np.exp(0.1 * np.array([0.0, -0.5, -1.5]))[:, None]  # they were asked to lean 35, 30 and 20 degrees
        exact = 0.9 * bent * stress_kpa(printed, strain, 1.3 * KPA, CARD.poisson, Softening(HALVED_AT * softening))
        # A parabola between three softenings is off by no more than 1 %.
        np.testing.assert_allclose(printed_kpa(PART, strain, KPA, CARD.poisson, true.unknowns()), exact, rtol=0.01)


def test_the_derivatives_of_the_residuals_are_right():
    readings = read(TruePrint(1.4, 1.05), 3)
    order = np.searchsorted([each.number for each in COUPONS], readings.block)
    masses = {number - 1: mass for number, mass in readings.mass_g.items()}
    given = FoldReadings(order, readings.load_kg, readings.height_mm, readings.height_sd_mm, masses)
    whole = FoldPosterior(COUPONS, given, MODEL, CARD.density_g_cm3, np.full(len(COUPONS), 0.06))
    rng = np.random.default_rng(0)
    point = whole.start + 0.02 * rng.normal(size=len(whole.start))
    residuals, jacobian = whole.rows(point)
    error = (whole.expected(point)[0] - readings.load_kg) / residuals[: len(readings.load_kg)]
    for place in range(len(point)):
        move = np.zeros(len(point))
        move[place] = 1e-4 if place >= COUNT else 1e-2
        up, down = (whole.expected(point + sign * move)[0] for sign in (1.0, -1.0))
        slope = (up - down) / (2.0 * move[place]) / error
        near = jacobian[: len(slope), place]
        # The law's tables are linear between nodes, and steps over a node differ in width and slope.
        np.testing.assert_allclose(near, slope, rtol=0.08, atol=0.01 * np.abs(slope).max() + 1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_modulus_and_width_come_back_within_their_bounds(seed):
    rng = np.random.default_rng(seed)
    true = drawn(rng, len(COUPONS), MODEL)
    found = fit(pressed(PLAN.blocks, KPA, CARD.poisson, true, rng))
    off = (found.folds.unknowns - true.unknowns()) / np.sqrt(np.diag(found.folds.covariance))
    assert (np.abs(off[[0, 1]]) < 2.6).all()  # one in a hundred is farther off by chance
    assert found.odd == () and found.misfit < 1.5
    known = np.log([each.high / each.value for each in (found.solid_after, found.width_after)])
    before = np.log([each.high / each.value for each in (found.solid_before, found.width_before)])
    assert (known < 0.65 * before).all()
    calibrated = replace(MODEL, folds=found.folds)
    for band, kpa in zip(fold_bands(PART, calibrated), truth_of(PART, true), strict=True):
        assert band.low.secant_kpa() / 1.08 < kpa < band.high.secant_kpa() * 1.08
        assert band.high.secant_kpa() / band.low.secant_kpa() < 1.5  # 7 to 13 before
        assert np.log(band.high.secant_kpa() / band.value.secant_kpa()) > 1.645 * 0.06  # what prints differ by


def test_the_solid_block_is_told_by_the_modulus_found():
    found = fit(read(TruePrint(1.5), 10))
    solid, usual = found.blocks[-1], found.solid_after
    assert solid.coupon.settings.fill_structure == "solid"
    assert solid.after.value / solid.before.value == pytest.approx(usual.value / found.solid_before.value, rel=1e-6)
    assert solid.after.high / solid.after.value == pytest.approx(usual.high / usual.value, rel=1e-6)


def test_weights_tell_the_width():
    true = TruePrint(1.0, 1.09)
    with_, without = (fit(read(true, 5, weighed=weighed)) for weighed in (True, False))
    sds = [float(np.sqrt(each.folds.covariance[1, 1])) for each in (with_, without)]
    assert sds[0] < 0.75 * sds[1]
    assert with_.folds.unknowns[1] == pytest.approx(np.log(1.09), abs=2.0 * sds[0])


def test_walls_that_come_out_wide_are_told():
    found = fit(read(TruePrint(1.0, 1.2), 2))
    assert any("% wide" in note and "flow" in note for note in found.notes)
    assert not any("% wide" in note for note in fit(read(TruePrint(), 2)).notes)


@pytest.mark.parametrize("times", [1.8, 0.55])
def test_a_block_unlike_the_others_is_named_and_left_aside(times):
    true = TruePrint(1.2, 1.0, own=(1.0, times, 1.0, 1.0, 1.0))
    found = fit(read(true, 1))
    assert found.odd == (2,)
    assert found.notes[0].startswith("Block 2 (walls of 2 beads, 25 degrees) bears ")
    usual = fit(read(replace(true, own=()), 1))
    np.testing.assert_allclose(found.folds.unknowns[[0, 1]], usual.folds.unknowns[[0, 1]], atol=0.12)
    assert fit(read(true, 1), is_trusted=True).odd == ()


def test_a_misread_height_is_named_with_its_line():
    readings = read(TruePrint(), 4)
    at = 9
    height = readings.height_mm.copy()
    height[at] += 2.0
    found = fit(replace(readings, height_mm=height))
    assert [each.index for each in found.strange] == [at]
    assert any(f"made_up.csv:{readings.line[at]}: block 2" in note and "left out" in note for note in found.notes)
    np.testing.assert_allclose(found.folds.unknowns[:2], fit(readings).folds.unknowns[:2], atol=0.05)


@pytest.mark.parametrize("weighed", [True, False])
def test_swapped_numbers_are_asked_about(weighed):
    readings = read(TruePrint(), 6)
    block = readings.block.copy()
    block[readings.block == 1], block[readings.block == 3] = 3, 1
    masses = {1: readings.mass_g[3], 3: readings.mass_g[1], 2: readings.mass_g[2], 4: readings.mass_g[4]}
    with pytest.raises(InputError, match="blocks 1 and 3 bear each what the other one should"):
        fit(replace(readings, block=block, mass_g=masses if weighed else {}))


@pytest.mark.parametrize(("times", "unit"), [(1000.0, "grams"), (9.80665, "newtons")])
def test_other_units_are_asked_about(times, unit):
    readings = read(TruePrint(), 7)
    with pytest.raises(InputError, match=f"in {unit}"):
        fit(replace(readings, load_kg=readings.load_kg * times))


def test_a_weight_that_cannot_be_is_refused():
    readings = read(TruePrint(), 8)
    with pytest.raises(InputError, match="Block 1 cannot weigh 160 g"):
        fit(replace(readings, mass_g={**readings.mass_g, 1: 160.0}))


def test_too_few_readings_are_refused():
    readings = read(TruePrint(), 8)
    use = np.isin(np.arange(len(readings.block)), [0, 1, 2, 6, 7])
    few = replace(
        readings,
        **{name: getattr(readings, name)[use] for name in ("block", "load_kg", "height_mm", "height_sd_mm", "line")},
    )
    with pytest.raises(InputError, match="3 readings with load on blocks of folds"):
        fit(few)


def test_a_card_holds_the_fit_and_reads_back(tmp_path, capsys):
    packed = pack_coupons(CARD, FoldWish(CouponWish()))
    assert cli.main(["coupons", "--folds", "--out", str(tmp_path / "folds")]) == 0
    name, form = form_of(packed)
    header = form.decode().splitlines()[:4]
    true = TruePrint(1.3, 1.04)
    readings = read(true, 9, step_mm=0.1)
    rows = [
        f"{number},{load:.3f},{height:.1f},,,{readings.mass_g.get(number, '') if load == 0 else ''}"
        for number, load, height in zip(
            readings.block.tolist(), readings.load_kg.tolist(), readings.height_mm.tolist(), strict=True
        )
    ]
    (tmp_path / "folds" / name).write_text("\n".join([*header, *rows]) + "\n", "utf-8")
    out = tmp_path / "mine.toml"
    assert cli.main(["calibrate", str(tmp_path / "folds" / name), "--name", "Mine", "--out", str(out)]) == 0
    told = capsys.readouterr().out
    assert "Width of walls" in told and "no cap on pressure" in told and "they pass at most" in told
    data, lines = parse_toml(out.read_bytes(), out.name)
    card = read_material(data, lines, out.name)
    assert card.name == "Mine" and card.calibration is None and card.fold_calibration is not None
    assert parse_toml(write_material(card).encode(), "x")[0] == data
    model = model_from_card(card)
    assert model.folds is not None
    for band, kpa in zip(fold_bands(PART, model), truth_of(PART, true), strict=True):
        assert band.low.secant_kpa() / 1.05 < kpa < band.high.secant_kpa() * 1.05
    # What blocks of folds told stands when blocks of fills are pressed later, and the other way round.
    fills = Calibration(
        date="2026-01-01", made_from="x", readings=9, misfit=1.0, names=UNKNOWNS, unknowns=(0.1, 0.0, 0.0, 0.0),
        covariance=tuple(0.01 * np.eye(4).ravel()),
    )  # fmt: skip
    both = model_from_card(replace(card, calibration=fills))
    np.testing.assert_array_equal(both.folds.unknowns, model.folds.unknowns)


def test_check_says_whether_blocks_of_the_jobs_kind_were_pressed(tmp_path):
    (tmp_path / "mine.toml").write_text(write_material(card_of(FOLDS, doubts=("one", "two"))), "utf-8")
    job = write_job(make_case("seat", triangles=4_000), tmp_path)
    text = job.read_text("utf-8").replace('card = "tpu_85a"', 'card = "mine.toml"')

    def said(text):
        job.write_text(text, "utf-8")
        return " ".join(" ".join(outlook(read_job(job), tmp_path, tmp_path / "out").lines).split())

    assert "not calibrated by printed blocks);" in said(text)
    folded = said(f'{text}\n[fill]\nkind = "folds"\n')
    assert (
        "(mine.toml, a card file of your own, calibrated by printed blocks of folded walls, 2 things in doubt" in folded
    )
    assert "[fold_calibration]" in folded


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"modulus", "width"', '"width", "modulus"', "in this order"),
        ("covariance = [", "covariance = [-", "no covariance"),
    ],
)
def test_a_card_with_a_broken_fit_is_refused(old, new, said):
    found = FoldsAsPrinted(np.zeros(6), 0.01 * np.eye(6), (25.0, 45.0), (0.9, 1.35), 0.3)
    text = write_material(card_of(found)).replace(old, new)
    data, lines = parse_toml(text.encode(), "card.toml")
    with pytest.raises(InputError, match=said):
        read_material(data, lines, "card.toml")


def card_of(folds, **more):
    found = FoldCalibration(
        date="2026-01-01", made_from="x", readings=9, misfit=1.0, names=FOLD_UNKNOWNS, slopes_deg=folds.slopes_deg,
        widths_mm=folds.widths_mm, most_strain=folds.most_strain, unknowns=tuple(folds.unknowns.tolist()),
        covariance=tuple(folds.covariance.ravel().tolist()), **more,
    )  # fmt: skip
    return replace(CARD, fold_calibration=found)


def test_a_band_holds_what_the_unknowns_may_be():
    """Unknowns drawn at random: nine in ten of their curves lie within the band at its strain."""
    rng = np.random.default_rng(2)
    root = rng.normal(size=(6, 6)) * np.array([0.05, 0.02, 0.4, 0.05, 0.2, 0.03])
    folds = FoldsAsPrinted(np.array([0.1, 0.02, -0.3, 0.05, 0.2, 0.02]), root.T @ root, (25.0, 45.0), (0.9, 1.35), 0.3)
    place = Walls(20.0, 1.35, 6.0, 30.0)
    band = fold_band(place, replace(MODEL, folds=folds))
    drawn_ = rng.multivariate_normal(folds.unknowns, folds.covariance, 600)
    many = (
        printed_kpa(Walls(np.full(600, 20.0), 1.35, 6.0, 30.0), np.array([0.1]), KPA, CARD.poisson, drawn_)[:, 0] / 0.1
    )
    inside = np.mean((many > band.low.secant_kpa()) & (many < band.high.secant_kpa()))
    assert 0.86 < inside < 0.94  # three standard deviations of a share of 600 draws
    assert len(band.shared) == 6 and band.own_factor == 1.0


def test_slopes_are_asked_for_as_this_printer_makes_them():
    """A stiff filament and wide walls that lean 2 degrees more: the walls asked for, as printed, are as wished."""
    unknowns = np.array([0.4, 0.08, 2.0, -0.1, 0.6, 0.06])
    model = replace(MODEL, folds=FoldsAsPrinted(unknowns, 1e-4 * np.eye(6), (25.0, 45.0), (0.9, 1.35), 0.3))
    wish = np.array([50.0, 100.0, 200.0])
    upright = Walls(np.full(3, 18.0), 1.35, 6.0, 0.0)
    slope, reached = slope_in_print(wish, 0.15, upright, model, 45.0)
    assert ((slope > 1.0) & (slope < 45.0)).all()
    np.testing.assert_allclose(reached, wish, rtol=2e-3)
    told = [band.value.secant_kpa(0.15) for band in fold_bands(upright.at_slope(slope), model, 0.15)]
    np.testing.assert_allclose(told, wish, rtol=0.01)  # as far as the parabola over softenings is off
    plain, _ = slope_in_print(wish, 0.15, upright, MODEL, 45.0)
    np.testing.assert_array_equal(plain, slope_for(wish, 0.15, upright, MODEL.solid.value, MODEL.poisson)[0])


FOLDS = FoldsAsPrinted(np.zeros(6), np.diag([0.01, 1e-3, 0.5, 0.01, 0.2, 1e-3]), (25.0, 45.0), (0.9, 1.35), 0.3)


def test_a_cap_is_promised_only_from_pressed_blocks_and_within_them():
    steep = Walls(20.0, 1.35, 6.0, 21.0)
    assert "no block of folded walls was pressed" in pressure_cap(steep, MODEL, 0.25).reason
    model = replace(MODEL, folds=FOLDS)
    cap = pressure_cap(steep, model, 0.25)
    assert cap.kpa is not None and cap.reason == ""
    stress = stress_kpa(steep, np.array([0.25]), KPA, CARD.poisson)[0, 0]
    assert (
        cap.kpa.value == pytest.approx(stress, rel=0.01) and cap.kpa.low < 0.85 * stress < 1.15 * stress < cap.kpa.high
    )
    assert f"{cap.kpa.high:.3g}" in cap.words and "25 %" in cap.words


@pytest.mark.parametrize(
    ("walls", "give", "said"),
    [
        (Walls(20.0, 1.35, 6.0, 12.0), 0.25, "leaned 25 to 45 degrees, these walls 12"),
        (Walls(20.0, 2.25, 8.0, 25.0), 0.25, "these have 2.25 mm"),
        (Walls(20.0, 1.35, 6.0, 25.0, radius_mm=40.0), 0.25, "curved"),
        (Walls(20.0, 1.35, 6.0, 25.0, waver=0.1), 0.25, "waved"),
        (Walls(20.0, 1.35, 6.0, 25.0), 0.4, "pressed by 30 %"),
        (Walls(20.0, 1.35, 1.6, 40.0), 0.28, "neighbors touch"),
        (Walls(20.0, 1.35, 6.0, 45.0), 0.25, "climbs"),
    ],
)
def test_no_cap_beyond_what_was_pressed(walls, give, said):
    cap = pressure_cap(walls, replace(MODEL, folds=FOLDS), give)
    assert cap.kpa is None and said in cap.reason and said in cap.words
