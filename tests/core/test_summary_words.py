"""What a summary says of load and print: where, how far, in mm and %, and no advice that was followed already."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from tests.support.flat_pads import flat_tables

from padwright.core.base.estimate import Estimate
from padwright.core.base.progress import drain
from padwright.core.job.material_cards import Calibration, load_material, write_material
from padwright.core.job.read import job_from_tables
from padwright.core.run.pipeline import RunResult, run_job
from padwright.core.run.print_words import hours_words
from padwright.core.run.summary import fit_words
from padwright.core.stages.material.coupons.one_block import after_one_block
from padwright.core.stages.material.material_model import UNKNOWNS, model_from_card


def _run(folder: Path, **tables: object) -> RunResult:
    flat = flat_tables(folder, (110.0, 80.0, 20.0), (0.0, 0.0, 0.0), **tables)
    return drain(run_job(job_from_tables(flat), folder))


def _joined(lines: tuple[str, ...]) -> str:
    return " ".join(" ".join(lines).split())


_CASES = [{"name": "landing hard", "force_n": 200.0}, {"name": "leaning", "force_n": 60.0}]


@pytest.fixture(scope="module")
def pressed(tmp_path_factory) -> RunResult:
    return _run(tmp_path_factory.mktemp("pressed"), load={"force_n": 150.0, "cases": _CASES})


def test_the_load_is_told_with_zones_thumb_and_further_cases(pressed):
    shown = _joined(pressed.summary)
    assert re.search(
        r"Load: under 150 N the pad gives [\d.]+ mm .*: nearly rigid \(a cushion gives some 4 mm\)\.", shown
    )
    # Which of the two bears more is a matter of a hair.
    assert re.search(r'A thumb pressed on "(middle|rest)" with 50 N sinks in (about [\d.]+ mm|and presses it)', shown)
    assert re.search(r"\(([\d.]+) to \1\b", shown) is None
    # A flat pad of one thickness under flat flesh, which gives many times as much as the pad.
    assert "No zone stands out: all bear about the same pressure." in shown
    assert re.search(r"At the worst place \d+ \(\d+ to \d+\) % of its give is left\.", shown)
    lines = [line.strip() for line in pressed.summary]
    for case in _CASES:
        told = [line for line in lines if line.startswith(f'"{case["name"]}", {case["force_n"]:.0f} N: gives ')]
        assert len(told) == 1 and told[0].endswith("% of its give is left.")


def test_hours_are_one_range_that_holds_the_plan(pressed):
    shown = _joined(pressed.summary)
    (low, high), *more = re.findall(r"of filament, ([\d.]+) to ([\d.]+) h\b", shown)
    assert not more and "never under" not in shown
    time = pressed.evidence["print"]["time_h"]
    # Told to two figures at least, so within a twentieth.
    assert float(low) == pytest.approx(time["low"], rel=0.05) and float(high) == pytest.approx(time["high"], rel=0.05)


def test_a_print_of_less_than_an_hour_is_told_in_minutes():
    assert hours_words(Estimate(0.06, 0.03, 0.088, "model")) == "1.8 to 5.3 min"
    assert hours_words(Estimate(0.9, 0.8, 1.35, "model")) == "0.80 to 1.4 h"


def test_a_gap_of_nothing_is_told_without_a_minus():
    def told(*gaps_mm: float) -> str:
        job = SimpleNamespace(pad=SimpleNamespace(fit_gap_mm=0.3))
        return fit_words(SimpleNamespace(pad=SimpleNamespace(base_gap_mm=gaps_mm), job=job))[0]

    assert "are 0.00 to 0.57 mm" in told(-0.004, 0.3, 0.57)
    assert "are -0.09 to 0.46 mm" in told(-0.09, 0.2, 0.46)


def test_words_that_only_who_wrote_them_knows_do_not_stand_there(pressed):
    shown = _joined(pressed.summary).lower()
    for word in ("bottoming", "margin", "percentile", "strain", "secant", "rms"):
        assert word not in shown


def test_blocks_are_advised_until_they_were_pressed(tmp_path):
    """A card with readings of its own: nothing of the run, however long, says to print blocks."""
    card = load_material("tpu_85a")
    model = model_from_card(card)
    found = Calibration(
        date="2026-01-31", made_from="6 blocks", readings=18, misfit=1.0, names=UNKNOWNS,
        unknowns=tuple(model.unknowns.tolist()), covariance=tuple((0.01 * np.eye(4)).ravel().tolist()),
    )  # fmt: skip
    (tmp_path / "mine.toml").write_text(write_material(replace(card, id="mine", calibration=found)), "utf-8")
    # Tuning to a limit on the verge has doubts, and levels as soft as the fill goes lie outside what was checked.
    tables = {"load": {"force_n": 100.0}, "target": {"goal": "even", "sinkage_limit_mm": 0.2}}
    said = {
        name: _joined(_run(tmp_path, material={"card": name}, **tables).told_in_full).lower()
        for name in ("tpu_85a", "mine.toml")
    }
    assert "printed coupons would tell" in said["tpu_85a"]
    before = model.solid
    after = after_one_block(model, card)
    assert after is not None and np.log(after.high / after.low) < 0.25 * np.log(before.high / before.low)
    assert f"85a may be {before.low / 1000:.1f} to {before.high / 1000:.0f} mpa, so" in said["tpu_85a"]
    assert f"scale, would tell it to {after.low / 1000:.0f} to {after.high / 1000:.0f} mpa." in said["tpu_85a"]
    assert said["tpu_85a"].count("may be 6.3 to 46 mpa") == 1
    assert "by your coupons" in said["mine.toml"]
    assert said["mine.toml"].count("coupon") == 1
