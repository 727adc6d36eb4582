"""Readings in, a material out: the fit finds what made the readings, and bad readings get a clear word."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.job.material_cards import UNKNOWNS, Calibration, load_material, write_material
from padwright.core.stages.material import material_model
from padwright.core.stages.material.coupons.calibrate import calibrate
from padwright.core.stages.material.coupons.coupons import HEIGHT_MM
from padwright.core.stages.material.coupons.posterior import PRINT_SPREAD
from padwright.core.stages.material.coupons.readings import Readings, read_readings
from padwright.core.stages.material.fill import middle_curve, region_curve
from padwright.core.stages.material.material_model import model_from_card
from study_calibration import PAD, bench_of


@pytest.fixture(scope="module")
def bench():
    return bench_of("tpu_85a")


@pytest.fixture(scope="module")
def coupons(bench):
    return [block.coupon for block in bench.plan.blocks]


def pressed(bench, unknowns, *, hold=0.5, noise=0.0) -> Readings:
    """Return readings of a material without any print difference, with plates that hold half."""
    rng = np.random.default_rng(5)
    rows = []
    strain = np.linspace(0.0, 0.95, 20_001)
    from padwright.core.base.units import N_PER_KG
    from padwright.core.stages.material.coupons.held import held_excess

    for block in bench.plan.blocks:
        coupon = block.coupon
        curve = middle_curve(coupon.settings, bench.prior, coupon.geometry, unknowns)
        held = 1.0 + hold * held_excess(curve, coupon.edge_mm / HEIGHT_MM)
        force = curve.stress(strain) * held * coupon.geometry.area_mm2 / 1000.0 / N_PER_KG
        for load in (0.0, *block.loads_kg):
            found = float(np.interp(load, force, strain))
            if found < 0.5:
                rows.append((coupon.number, load, HEIGHT_MM * (1.0 - found) + noise * rng.normal()))
    number, load, height = np.array(rows).T
    count = len(rows)
    line = np.arange(2, count + 2, dtype=np.int32)
    return Readings(number.astype(np.int32), load, height, np.full(count, 0.1), line, "readings.csv")


TRUTH = np.array([-0.25, 0.10, 0.30, -0.20])


def test_exact_readings_give_back_the_modulus_they_were_made_with(bench, coupons):
    fit = calibrate(coupons, pressed(bench, TRUTH), bench.prior)
    settings = replace(coupons[1].settings, solid_share_pct=20.0, contour_count=1)
    true = middle_curve(settings, bench.prior, PAD, TRUTH).secant_kpa()
    # The prior pulls a little: of a spread of 1.65 in the modulus 6 % are left for it (the print spread).
    assert region_curve(settings, fit.model, PAD).value.secant_kpa() == pytest.approx(true, rel=0.04)
    assert fit.model.basis == "measured"
    assert not fit.strange and fit.misfit < 0.2


def test_the_spread_shrinks_and_says_from_what_to_what(bench, coupons):
    fit = calibrate(coupons, pressed(bench, TRUTH, noise=0.1), bench.prior)
    before = np.log(fit.solid_before.high / fit.solid_before.low)
    after = np.log(fit.solid_after.high / fit.solid_after.low)
    assert after < 0.5 * before
    assert np.all(np.diag(fit.model.covariance) < np.diag(bench.prior.covariance))
    # A new print differs by the print spread however well the material is known.
    assert fit.model.covariance[0, 0] > PRINT_SPREAD**2


def test_one_blunder_is_named_with_its_line_and_hardly_moves_the_fit(bench, coupons):
    clean = pressed(bench, TRUTH, noise=0.05)
    height = clean.height_mm.copy()
    wrong = int(np.flatnonzero((clean.block == 3) & (clean.load_kg > 0))[2])
    height[wrong] += 2.0  # a misread 20.8 for 22.8
    fit = calibrate(coupons, replace(clean, height_mm=height), bench.prior)
    assert [each.index for each in fit.strange] == [wrong]
    assert any(note.startswith(f"readings.csv:{clean.line[wrong]}: block 3") for note in fit.notes)
    good = calibrate(coupons, clean, bench.prior)
    settings, geometry = coupons[2].settings, coupons[2].geometry
    moved = region_curve(settings, fit.model, geometry).value.secant_kpa()
    assert moved == pytest.approx(region_curve(settings, good.model, geometry).value.secant_kpa(), rel=0.06)


def test_readings_that_scatter_more_than_they_should_widen_the_result(bench, coupons):
    quiet = calibrate(coupons, pressed(bench, TRUTH, noise=0.1), bench.prior)
    loud = calibrate(coupons, pressed(bench, TRUTH, noise=0.6), bench.prior)
    assert any("scatter" in note for note in loud.notes)
    assert loud.model.covariance[0, 0] > quiet.model.covariance[0, 0]
    assert loud.misfit > 2.0 * quiet.misfit


def without(readings: Readings, number: int) -> Readings:
    kept = readings.block != number
    names = ("block", "load_kg", "height_mm", "height_sd_mm", "line")
    return replace(readings, **{name: getattr(readings, name)[kept] for name in names})


def test_a_print_that_is_not_like_the_others_is_named(bench, coupons):
    readings = pressed(bench, TRUTH)
    load = readings.load_kg.copy()
    load[readings.block == 2] *= 1.6
    fit = calibrate(coupons, replace(readings, load_kg=load), bench.prior)
    said = next(note for note in fit.notes if note.startswith("Block 2 (gyroid 15 %, no contours) bears +"))
    assert "left aside" in said and fit.blocks[1].own_factor > 1.3
    others = calibrate([each for each in coupons if each.number != 2], without(readings, 2), bench.prior)
    # What is left aside moves the result by hardly more than if it had never been pressed.
    assert fit.solid_after.value == pytest.approx(others.solid_after.value, rel=0.05)
    trusted = calibrate(coupons, replace(readings, load_kg=load), bench.prior, is_trusted=True)
    assert not any(each.is_of_blocks for each in trusted.suspicions)
    assert not any("left aside" in note for note in trusted.notes)


def test_loads_in_pounds_make_a_filament_that_is_not_likely(bench, coupons):
    readings = pressed(bench, np.zeros(4))
    fit = calibrate(coupons, replace(readings, load_kg=readings.load_kg * 2.2046), bench.prior)
    assert fit.solid_after.value / 13_240.0 == pytest.approx(2.2, rel=0.15)
    assert any("not pounds" in note for note in fit.notes)
    good = calibrate(coupons, readings, bench.prior)
    assert not any("not pounds" in note for note in good.notes)


def test_shut_cells_are_left_out_and_too_few_readings_refused(bench, coupons):
    readings = pressed(bench, TRUTH)
    height = readings.height_mm.copy()
    last = int(np.flatnonzero(readings.block == 1)[-1])
    height[last] = 4.0
    fit = calibrate(coupons, replace(readings, height_mm=height), bench.prior)
    assert np.isnan(fit.residuals[last]) and fit.used == len(height) - 1
    assert any("cells are shut" in note for note in fit.notes)
    few = Readings(
        *(getattr(readings, name)[:3] for name in ("block", "load_kg", "height_mm", "height_sd_mm", "line")), "r"
    )
    with pytest.raises(InputError, match="2 readings with load"):
        calibrate(coupons, few, bench.prior)


def test_a_calibrated_card_reads_back_to_the_same_posterior(bench, coupons, tmp_path):
    fit = calibrate(coupons, pressed(bench, TRUTH), bench.prior)
    found = Calibration(
        date="2026-01-31", made_from="6 blocks", readings=fit.used, misfit=fit.misfit, names=UNKNOWNS,
        unknowns=tuple(fit.model.unknowns.tolist()), covariance=tuple(fit.model.covariance.ravel().tolist()),
    )  # fmt: skip
    card = replace(load_material("tpu_85a"), id="mine", calibration=found)
    (tmp_path / "mine.toml").write_text(write_material(card), "utf-8")
    again = load_material("mine.toml", tmp_path)
    assert again == card
    model = model_from_card(again)
    assert model.basis == "measured"
    np.testing.assert_array_equal(model.unknowns, fit.model.unknowns)
    np.testing.assert_array_equal(model.covariance, fit.model.covariance)
    assert region_curve(coupons[0].settings, model, PAD).basis == "model"
    text = write_material(card).replace('"modulus", "fill"', '"fill", "modulus"')
    (tmp_path / "swapped.toml").write_text(text, "utf-8")
    with pytest.raises(InputError, match="in this order"):
        load_material("swapped.toml", tmp_path)
    bad = replace(card, calibration=replace(found, covariance=(*found.covariance[:15], -1.0)))
    (tmp_path / "bad.toml").write_text(write_material(bad), "utf-8")
    with pytest.raises(InputError, match="no covariance"):
        load_material("bad.toml", tmp_path)


def test_card_and_model_mean_the_same_unknowns():
    assert UNKNOWNS == material_model.UNKNOWNS


def read(coupons, text: str) -> Readings:
    return read_readings(text.encode(), "r.csv", coupons)


HEAD = "block,load_kg,height_mm\n"


def test_commas_semicolons_repeats_and_empty_rows_are_read(coupons):
    plain = read(coupons, "# note\n" + HEAD + "1,0,25.1\n1,5,24.0\n1,9,\n\n2,3,24.5\n")
    assert plain.line.tolist() == [3, 4, 7]
    assert plain.height_mm.tolist() == [25.1, 24.0, 24.5]
    comma = read(coupons, "\ufeffBlock;Load_kg;height_mm;height_2_mm\n1;0;25,1;25,3\n1;5,5;24,0;\n")
    np.testing.assert_allclose(comma.height_mm, [25.2, 24.0])
    np.testing.assert_allclose(comma.height_sd_mm, [0.1 / np.sqrt(2.0), 0.1])
    assert comma.load_kg.tolist() == [0.0, 5.5]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file is empty"),
        (HEAD, "no reading with a height"),
        ("block,load,height_mm\n1,2,3\n", r"r\.csv:1: the column load_kg is missing; found block, load"),
        (HEAD + "1,0,25\n9,3,24\n", r"r\.csv:3: there is no block 9; known are 1, 2"),
        (HEAD + "1,0,25\n1,heavy,24\n", r'r\.csv:3: load_kg is "heavy"; expected a number'),
        (HEAD + "1,0,25 mm\n", r'r\.csv:2: height_mm is "25 mm"; leave the unit out'),
        (HEAD + "1,0,nan\n", r'r\.csv:2: height_mm is "nan"'),
        (HEAD + "1,,25\n", r"r\.csv:2: load_kg is empty"),
        (HEAD + "1,5,24,5\n", r"r\.csv:2: 4 values for 3 columns; is a decimal comma"),
        (HEAD + "1,0,2.5\n1,5,2.4\n", r"r\.csv:2: .* look like cm"),
        (HEAD + "1,0,0.984\n1,5,0.94\n", r"r\.csv:2: .* look like inches"),
        (HEAD + "1,0,0\n1,5,1.2\n", r"r\.csv:2: .* what is left, not how far it went down"),
        (HEAD + "1,0,25\n1,5,1.1\n1,8,2\n", r"r\.csv:3: under 5 kg the height is 1\.1 mm, .* not how far it went down"),
        (HEAD + "1,25,0\n1,24,5\n1,23,8\n", r"r\.csv:4: .* are load_kg and height_mm in each other's column"),
        (HEAD + "1,0,25\n1,5,-2\n", r"r\.csv:3: a height of -2 mm cannot be"),
        (HEAD + "1,0,25\n1,5,31\n", r"r\.csv:3: a height of 31 mm cannot be: block 1 is 25 mm"),
        (HEAD + "1,0,25\n1,343,24\n", r"r\.csv:3: .* newtons"),
        (HEAD + "1,0,25\n1,-5,24\n", r"r\.csv:3: a load of -5 kg cannot be"),
        (
            HEAD + "1,0,25\n1,5,22\n1,9,23.5\n",
            r"r\.csv:4: block 1 is 1\.5 mm taller under 9 kg than under 5 kg \(line 3\)",
        ),
    ],
)
def test_each_bad_reading_gets_a_clear_word(coupons, text, said):
    with pytest.raises(InputError, match=said):
        read(coupons, text)


def test_all_faults_are_told_at_once_and_bytes_that_are_no_text(coupons):
    with pytest.raises(InputError) as told:
        read(coupons, HEAD + "9,3,24\n1,x,24\n1,3,y\n")
    assert [line.split(":")[1] for line in told.value.message.splitlines()] == ["2", "3", "4"]
    with pytest.raises(InputError, match=r"r\.csv:2: the text is not UTF-8"):
        read_readings(HEAD.encode() + b"1,\xff,2\n", "r.csv", coupons)
