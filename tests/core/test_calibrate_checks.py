"""Readings that make no card are refused with the block, how far it is off, and what to do."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from padwright.cli import main as cli
from padwright.core.base.errors import InputError
from padwright.core.stages.material.coupons.calibrate import calibrate
from padwright.core.stages.material.coupons.calibrate_checks import refuse_misfit, refuse_unmoved
from padwright.core.stages.material.coupons.coupons import HEIGHT_MM
from padwright.core.stages.material.coupons.readings import MOST_READINGS, Readings, read_readings
from study_calibration import bench_of

TRUTH = np.array([-0.25, 0.10, 0.30, -0.20])


@pytest.fixture(scope="module")
def bench():
    return bench_of("tpu_85a")


@pytest.fixture(scope="module")
def coupons(bench):
    return [block.coupon for block in bench.plan.blocks]


@pytest.fixture(scope="module")
def readings(bench, coupons):
    """What the plan itself expects, to a tenth of a millimeter."""
    rows = ["block,load_kg,height_mm"]
    for block in bench.plan.blocks:
        rows.append(f"{block.coupon.number},0,{HEIGHT_MM:g}")
        rows += [
            f"{block.coupon.number},{load:g},{HEIGHT_MM - sink.value:.1f}"
            for load, sink in zip(block.loads_kg, block.sinks_mm, strict=True)
        ]
    return read_readings("\n".join(rows).encode(), "readings.csv", coupons)


def test_good_readings_pass_both_checks(bench, coupons, readings):
    refuse_unmoved(coupons, readings)
    refuse_misfit(readings, calibrate(coupons, readings, bench.prior))


def test_a_block_that_did_not_move_is_named_with_its_heights(coupons, readings):
    mine = readings.block == 3
    still = replace(readings, height_mm=np.where(mine, HEIGHT_MM - 0.1 * (readings.load_kg > 0), readings.height_mm))
    with pytest.raises(InputError, match=r"^Block 3 did not move: 25\.0 mm .* 24\.9 mm .* 0\.1 mm is within") as caught:
        refuse_unmoved(coupons, still)
    assert "Block 4" not in str(caught.value) and "Press harder" in caught.value.hint
    with pytest.raises(InputError, match=r"(?s)Block 1 did not .*Block 6 did not"):
        refuse_unmoved(coupons, replace(readings, height_mm=np.full(len(readings.block), HEIGHT_MM)))


def test_without_a_height_at_rest_a_move_must_exceed_what_a_print_errs(coupons, readings):
    loaded = readings.load_kg > 0
    kept = [getattr(readings, name)[loaded] for name in ("block", "load_kg", "height_mm", "height_sd_mm", "line")]
    refuse_unmoved(coupons, Readings(*kept, "readings.csv"))
    kept[2] = np.maximum(kept[2], HEIGHT_MM - 0.6)  # below 2.5 times 0.3 mm and 0.1 mm
    with pytest.raises(InputError, match="without load by its size"):
        refuse_unmoved(coupons, Readings(*kept, "readings.csv"))


def test_readings_of_no_filament_are_refused_with_the_worst_block_and_what_to_do(bench, coupons, readings):
    dice = np.random.default_rng(4)
    guessed = HEIGHT_MM - dice.uniform(0.5, 8.0, len(readings.block)) * (readings.load_kg > 0)
    fit = calibrate(coupons, replace(readings, height_mm=guessed), bench.prior)
    with pytest.raises(InputError, match=r"fit no filament: they lie \d+\.\d times") as caught:
        refuse_misfit(replace(readings, height_mm=guessed), fit)
    number = int(caught.value.message.split("Block ")[1].split()[0])
    off = {n: np.sqrt(np.nanmean(fit.residuals[readings.block == n] ** 2)) for n in set(readings.block.tolist())}
    assert number == max(off, key=off.get) and "Press that block again" in caught.value.hint
    # The one named is a load, even where a height without load is farther off.
    far = np.where((readings.block == number) & (readings.load_kg == 0), 99.0, fit.residuals)
    with pytest.raises(InputError) as caught:
        refuse_misfit(readings, replace(fit, residuals=far))
    assert f"Block {number}" in caught.value.message and ", 0 kg at" not in caught.value.message
    # Readings that scatter by 0.4 mm are poor and no reason to refuse: the spread is widened.
    poor = replace(readings, height_mm=readings.height_mm + dice.normal(0, 0.4, len(readings.block)))
    refuse_misfit(poor, calibrate(coupons, poor, bench.prior))


def test_no_card_is_written_for_blocks_that_did_not_move(tmp_path, capsys):
    assert cli.main(["coupons", "--out", str(tmp_path / "blocks")]) == 0
    rows = (tmp_path / "blocks" / "readings.csv").read_text("utf-8").splitlines()
    filled = [row if not row[:1].isdigit() else ",".join([*row.split(",")[:2], "25.0"]) for row in rows]
    (tmp_path / "blocks" / "filled.csv").write_text("\n".join(filled), "utf-8")
    card = tmp_path / "card.toml"
    capsys.readouterr()
    assert cli.main(["calibrate", str(tmp_path / "blocks" / "filled.csv"), "--out", str(card)]) == 2
    assert "Block 1 did not move" in capsys.readouterr().err and not card.exists()


def test_more_readings_than_anyone_takes_are_refused_at_once(coupons):
    row = b"1,10,24.0\n"
    begin = time.perf_counter()
    with pytest.raises(InputError, match=rf"there are 60000 readings; {MOST_READINGS} are the most"):
        read_readings(b"block,load_kg,height_mm\n" + 60_000 * row, "readings.csv", coupons)
    assert time.perf_counter() - begin < 20.0  # each would have been an unknown of the fit


@pytest.mark.parametrize(
    "text",
    [
        b"block,load_kg,height_mm\n1,1e999,20\n",
        b"block,load_kg,height_mm\n1,nan,20\n",
        b"block,load_kg,height_mm\n1e300,10,20\n",
        b"block,load_kg,height_mm\n1,10," + b"9" * 5000 + b"\n",
        b'block,load_kg,height_mm\n1,10,"20\n',
        b"block,load_kg,height_mm\n1,10," + b"x" * 200_000 + b"\n",
        b"\x00" * 1000,
        b"block,load_kg,height_mm\r1,10,20\r",
    ],
)
def test_odd_tables_get_a_clear_word(text, coupons):
    with pytest.raises(InputError, match=r"^readings\.csv"):
        calibrate_or_read(text, coupons)


def calibrate_or_read(text: bytes, coupons) -> None:
    found = read_readings(text, "readings.csv", coupons)
    calibrate(coupons, found, bench_of("tpu_85a").prior)
