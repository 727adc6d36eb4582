"""How heights were read: the instrument's step, loads too small for it, blocks read too fast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.stages.material.coupons.calibrate import calibrate
from padwright.core.stages.material.coupons.coupons import READ_MM
from padwright.core.stages.material.coupons.reading_notes import ask_for_calipers, height_sd, rounding
from padwright.core.stages.material.coupons.readings import read_readings
from study_calibration import Truth, bench_of, made_up

HEAD = "block,load_kg,height_mm,height_2_mm"


@pytest.fixture(scope="module")
def bench():
    return bench_of("tpu_85a")


def read(bench, rows, head=HEAD):
    return read_readings("\n".join([head, *rows]).encode(), "r.csv", bench.coupons)


def test_the_step_is_seen_from_the_rounding_or_taken_as_stated(bench):
    rng = np.random.default_rng(0)
    heights = 20.0 + 5.0 * rng.uniform(size=30)
    for step in (1.0, 0.5, 0.1, 0.05, 0.01):
        assert rounding(np.round(heights / step) * step) == step
    assert rounding([25.0, 24.0, 23.0]) == READ_MM  # three whole numbers are chance
    rows = [f"1,{load},{height}" for load, height in enumerate((25.0, 24.5, 24.0, 23.0, 22.5, 21.0))]
    coarse = read(bench, rows)
    assert coarse.step_mm == 0.5
    # Eyes and hands are off as with a fine ruler, and rounding by the standard deviation of an even law beside it.
    assert coarse.height_sd_mm == pytest.approx(np.hypot(0.1, 0.5 / np.sqrt(12.0)))
    assert height_sd(0.5, 4) == pytest.approx(np.hypot(0.05, 0.5 / np.sqrt(12.0)))  # rounding does not average out
    assert height_sd(0.01, 1) < height_sd(0.1, 1) == READ_MM
    stated = read(
        bench, [f"{row},{'0.1' if at == 0 else ''}" for at, row in enumerate(rows)], "block,load_kg,height_mm,step_mm"
    )
    assert stated.step_mm == 0.1 and stated.height_sd_mm == pytest.approx(READ_MM)
    with pytest.raises(InputError, match=r"r\.csv:2: step_mm is 5; marks are 0\.01 to 1 mm apart"):
        read(bench, ["1,0,25,5"], "block,load_kg,height_mm,step_mm")


def test_first_loads_that_move_a_block_by_less_than_ten_steps_ask_for_calipers(bench):
    block, load = np.array([1, 1, 1, 2, 2]), np.array([0.0, 5.0, 9.0, 0.0, 5.0])
    height = np.array([25.0, 24.1, 20.0, 25.0, 24.0])
    (said,) = ask_for_calipers(block, load, height, 0.1)
    assert "the first load moves block 1 (0.9 mm under 5 kg): less than ten steps, 1 mm" in said
    assert "calipers that show 0.01 mm" in said and "2 (" not in said
    assert ask_for_calipers(block, load, height, 0.05) == ()
    (said,) = ask_for_calipers(block, load, height, 0.5)
    assert "block 1 (0.9 mm under 5 kg), 2 (1.0 mm under 5 kg)" in said
    # A person with a ruler is told so by the command's own fit.
    _, ruler = made_up(bench, np.random.default_rng(0), Truth(step_mm=0.5))
    assert any("steps of 0.5 mm" in note for note in calibrate(bench.coupons, ruler, bench.prior).notes)


def test_a_ruler_widens_what_calipers_narrow(bench):
    _, calipers = made_up(bench, np.random.default_rng(0))
    _, ruler = made_up(bench, np.random.default_rng(0), Truth(step_mm=0.5))
    assert ruler.step_mm == 0.5
    fine, coarse = (calibrate(bench.coupons, each, bench.prior).model.covariance[0, 0] for each in (calipers, ruler))
    assert coarse > 1.1 * fine


def test_blocks_read_too_fast_are_named_by_their_waits_and_their_second_round(bench):
    head = "block,load_kg,height_mm,wait_s"
    found = read(bench, ["1,0,25,", "1,5,24.1,5", "1,9,23,25", "2,5,24.2,30"], head)
    assert [note for note in found.notes if "too fast" in note] == [
        "Block 1 was read 5 s after it was loaded, too fast: it still gives, and looks stiffer than the blocks that "
        "had half a minute. Press it again."
    ]
    with pytest.raises(InputError, match=r"r\.csv:2: wait_s is 0"):
        read(bench, ["1,5,24.1,0"], head)
    rounds = [("5", 24.0), ("8", 23.5), ("10", 23.0), ("13", 22.0)]
    sinking = read(bench, ["1,0,25,25", *(f"1,{load},{height},{height - 0.3:.1f}" for load, height in rounds)])
    assert any("Block 1 is 0.3 mm lower in the second round" in note for note in sinking.notes)
    steady = read(bench, ["1,0,25,25", *(f"1,{load},{height},{height - 0.1:.1f}" for load, height in rounds)])
    assert not any("second round" in note for note in steady.notes)


def test_right_second_rounds_are_hardly_ever_called_too_fast(bench):
    rng = np.random.default_rng(1)
    said = 0
    for _ in range(100):
        rows = [
            f"1,{load},{24 - 0.1 * load + rng.normal(0, 0.1):.1f},{24 - 0.1 * load + rng.normal(0, 0.1):.1f}"
            for load in range(5, 10)
        ]
        said += any("second round" in note for note in read(bench, rows).notes)
    assert said <= 2  # three standard deviations: one in 700


def test_coarse_marks_of_another_instrument_do_not_change_the_middle(bench):
    _, ruler = made_up(bench, np.random.default_rng(4), Truth(step_mm=0.5))
    as_fine = replace(ruler, height_sd_mm=np.full(len(ruler.block), 0.1), step_mm=0.1)
    one, two = (calibrate(bench.coupons, each, bench.prior).solid_after.value for each in (ruler, as_fine))
    assert one == pytest.approx(two, rel=0.15)  # half of what a calibrated solid is known to
