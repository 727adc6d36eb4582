"""Slips of whole readings are found and asked, right readings never; a block's weight has a consequence."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from tests.core.test_calibrate import pressed

from padwright.cli.main import main
from padwright.core.base.errors import InputError
from padwright.core.job.material_cards import load_material
from padwright.core.stages.material.coupons.calibrate import calibrate
from padwright.core.stages.material.coupons.coupon_weights import WEIGHT_OFF, planned_mass_g, weighed
from padwright.core.stages.material.coupons.coupons import EDGES_MM, SHOWN_KG, CouponWish, plan_coupons
from padwright.core.stages.material.coupons.reading_doubts import ask_for_slips
from padwright.core.stages.material.coupons.readings import read_readings
from padwright.core.stages.material.material_model import model_from_card
from study_calibration import bench_of


@pytest.fixture(scope="module", params=["tpu_60a", "tpu_85a", "tpu_95a"])
def bench(request):
    return bench_of(request.param)


def drawn(bench, seed):
    """Return readings of a filament as likely as any, each print with its own difference, read to 0.1 mm and 1 kg."""
    rng = np.random.default_rng(seed)
    unknowns = rng.multivariate_normal(np.zeros(4), bench.prior.covariance)
    readings = pressed(bench, unknowns, hold=rng.uniform())
    own = {block.coupon.number: np.exp(rng.normal(0.0, 0.06)) for block in bench.plan.blocks}
    load = np.array([round(load * own[int(n)]) for n, load in zip(readings.block, readings.load_kg, strict=True)])
    return replace(readings, load_kg=load.astype(float), height_mm=np.round(readings.height_mm, 1))


def coupons_of(bench):
    return [block.coupon for block in bench.plan.blocks]


def test_right_readings_are_asked_about_hardly_ever(bench):
    """Of 100 drawn filaments each of 60A, 85A and 95A at most one was; 20 are drawn here."""
    asked = 0
    for seed in range(20):
        try:
            ask_for_slips(coupons_of(bench), drawn(bench, seed), bench.prior)
        except InputError:
            asked += 1
    assert asked == 0


def test_newtons_are_asked_about(bench):
    """But for a filament so soft against its card that newtons make it no stiffer than the stiffest there are."""
    seen = 0
    for seed in range(12):
        readings = drawn(bench, seed)
        with_slip = replace(readings, load_kg=np.round(readings.load_kg * 9.80665, 1))
        try:
            ask_for_slips(coupons_of(bench), with_slip, bench.prior)
        except InputError as error:
            assert "Are the loads in newtons?" in str(error) and "Divide load_kg by 9.81" in error.hint
            seen += 1
    assert seen >= 11


def test_swapped_numbers_are_asked_about_by_their_names(bench):
    """Where the two blocks differ threefold in what they bear; blocks that bear alike are no harm to swap."""
    tenth = {block.coupon.number: block.tenth_load_kg.value for block in bench.plan.blocks}
    seen = tried = 0
    for one, two in itertools.combinations(tenth, 2):
        if 1 / 3 < tenth[one] / tenth[two] < 3:
            continue
        for seed in range(2):
            readings = drawn(bench, seed)
            swap = {one: two, two: one}
            number = np.array([swap.get(int(each), int(each)) for each in readings.block], dtype=np.int32)
            tried += 1
            try:
                ask_for_slips(coupons_of(bench), replace(readings, block=number), bench.prior)
            except InputError as error:
                assert "numbers swapped?" in str(error)
                seen += f"blocks {one} and {two}" in error.hint
    assert tried == 0 or seen >= 0.8 * tried


def test_a_block_of_the_next_size_is_named_with_its_edge():
    """By what it bears where other blocks of its fill tell; the weight tells it of every block."""
    bench = bench_of("tpu_85a")
    coupons = coupons_of(bench)
    readings = drawn(bench, 0)
    assert not any("Measure its edge" in note for note in calibrate(coupons, readings, bench.prior).notes)
    for coupon in coupons[:3]:
        larger = EDGES_MM[EDGES_MM.index(coupon.edge_mm) + 1]
        load = readings.load_kg.copy()
        load[readings.block == coupon.number] *= (larger / coupon.edge_mm) ** 2
        fit = calibrate(coupons, replace(readings, load_kg=load), bench.prior)
        note = next(each for each in fit.notes if each.startswith(f"Block {coupon.number} "))
        assert f"one of {larger:g} mm instead of {coupon.edge_mm:g} mm" in note
    for coupon in coupons[:4]:  # the fifth weighs 3 g
        larger = EDGES_MM[EDGES_MM.index(coupon.edge_mm) + 1]
        heavy = planned_mass_g(coupon, 1.21) * (larger / coupon.edge_mm) ** 2
        notes = weighed(coupons, {coupon.number: heavy}, 1.21)[1]
        assert f"one of {larger:g} mm instead of {coupon.edge_mm:g} mm would weigh" in notes[0]
    # Two sizes off: a block of 40 mm printed as one of 50 mm, as another of the blocks is.
    load = np.where(readings.block == 3, readings.load_kg * (50.0 / 40.0) ** 2, readings.load_kg)
    notes = calibrate(coupons, replace(readings, load_kg=load), bench.prior).notes
    assert any("Block 3 " in note and "instead of 40 mm would bear" in note for note in notes)


def test_blocks_are_pressed_with_what_a_scale_shows():
    for name in ("tpu_70a", "tpu_80a", "tpu_85a", "tpu_95a"):
        card = load_material(name)
        plan = plan_coupons(model_from_card(card), card, CouponWish())
        assert min(block.loads_kg[0] for block in plan.blocks) >= SHOWN_KG, name
        assert min(len(block.loads_kg) for block in plan.blocks) == 5, name
    soft = load_material("tpu_60a")
    plan = plan_coupons(model_from_card(soft), soft, CouponWish(body_mass_kg=70.0))
    below = [block.coupon.number for block in plan.blocks if block.loads_kg[0] < SHOWN_KG]
    assert all(any(note.startswith(f"Block {n} ") and "bottles" in note for note in plan.notes) for n in below)


def test_a_weight_within_fifteen_percent_changes_nothing_and_beyond_it_the_fill():
    bench = bench_of("tpu_85a")
    coupons = coupons_of(bench)
    planned = {coupon.number: planned_mass_g(coupon, 1.21) for coupon in coupons}
    for block in bench.plan.blocks:
        assert planned[block.coupon.number] == pytest.approx(block.mass_g, rel=1e-9)
    same, notes = weighed(coupons, {n: 1.14 * m for n, m in planned.items()}, 1.21)
    assert list(same) == coupons and notes == ()
    small = {coupons[4].number: planned[coupons[4].number] + 0.9}  # a kitchen scale tells 1 g
    assert small[5] > 1.2 * planned[5] and weighed(coupons, small, 1.21) == (tuple(coupons), ())
    # As a program prints that makes 1.4 times the percentage asked for.
    heavy = {}
    for coupon in coupons[:3]:
        more = replace(coupon.settings, solid_share_pct=1.4 * coupon.settings.solid_share_pct)
        heavy[coupon.number] = planned_mass_g(replace(coupon, settings=more), 1.21)
    found, notes = weighed(coupons, heavy, 1.21)
    for coupon, was in zip(found[:3], coupons[:3], strict=True):
        assert coupon.settings.solid_share_pct == pytest.approx(1.4 * was.settings.solid_share_pct, rel=1e-3)
    assert "type 14.3 %" in notes[-1] and list(found[3:]) == coupons[3:]
    solid = next(coupon for coupon in coupons if coupon.settings.fill_structure == "solid")
    found, notes = weighed(coupons, {solid.number: 0.8 * planned[solid.number]}, 1.21)
    assert list(found) == coupons and "cannot make up for that" in notes[0] and "density_g_cm3" in notes[0]
    with pytest.raises(InputError, match=r"Block 1 cannot weigh 4000 g.*has \d+\.\d g"):
        weighed(coupons, {1: 4000.0}, 1.21)
    assert WEIGHT_OFF == 0.15


def test_weights_are_read_from_the_table_and_used(tmp_path, capsys):
    assert main(["coupons", "--material", "tpu_85a", "--out", str(tmp_path)]) == 0
    bench = bench_of("tpu_85a")
    readings = pressed(bench, np.zeros(4))
    planned = {block.coupon.number: block.mass_g for block in bench.plan.blocks}
    rows = ["block,load_kg,height_mm,height_2_mm,height_3_mm,mass_g"]
    for number, load, height in zip(readings.block, readings.load_kg, readings.height_mm, strict=True):
        mass = f"{1.3 * planned[number]:.1f}" if load == 0 and number == 2 else ""
        rows.append(f"{number},{load:g},{height:.2f},,,{mass}")
    table = tmp_path / "readings.csv"
    table.write_text("\n".join(rows) + "\n", "utf-8")
    found = read_readings(table.read_bytes(), "readings.csv", coupons_of(bench))
    assert found.mass_g == {2: pytest.approx(1.3 * planned[2], abs=0.05)}
    assert main(["calibrate", str(table), "--out", str(tmp_path / "card.toml")]) == 0
    assert "Block 2 (gyroid 15 %, no contours) weighs" in capsys.readouterr().out
    wrong = table.read_text("utf-8").replace("\n2,0,", "\n2,0,25,,,5\n2,0,", 1)
    with pytest.raises(InputError, match="in a line above and"):
        read_readings(wrong.encode(), "r.csv", coupons_of(bench))


def test_newtons_stop_the_command_until_the_person_insists(tmp_path, capsys):
    assert main(["coupons", "--material", "tpu_85a", "--out", str(tmp_path)]) == 0
    readings = pressed(bench_of("tpu_85a"), np.zeros(4))
    rows = ["block,load_kg,height_mm"]
    for number, load, height in zip(readings.block, 6.6 * readings.load_kg, readings.height_mm, strict=True):
        if number == 6:  # one block is enough to ask, and to fit
            rows.append(f"{number},{load:.1f},{height:.2f}")
    table = tmp_path / "readings.csv"
    table.write_text("\n".join(rows) + "\n", "utf-8")
    arguments = ["calibrate", str(table), "--out", str(tmp_path / "card.toml")]
    assert main(arguments) == 2
    assert "newtons" in capsys.readouterr().err and not (tmp_path / "card.toml").exists()
    assert main([*arguments, "--as-read"]) == 0
