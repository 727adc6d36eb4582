"""Advice that works when followed: what each change was told to give, weigh and take is what a run of it has."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from tests.support.flat_pads import flat_tables, rectangle

from padwright.core.base.progress import drain
from padwright.core.job.read import job_from_tables
from padwright.core.run.pipeline import RunResult, run_job
from padwright.core.stages.load import advice
from padwright.core.stages.load.advice import advice_words
from padwright.core.stages.load.firmness import Tried

pytestmark = pytest.mark.slow

_AT = (0.0, 0.0, 0.0)


def _zones(middle: int, rest: int) -> list[dict[str, Any]]:
    return [
        {"name": "middle", "level": middle, **rectangle(_AT, 44.0, 48.0)},
        {"name": "rest", "level": rest, "source": "rest"},
    ]


def _run(folder: Path, height: float = 20.0, **tables: Any) -> RunResult:
    """Return the run of a flat pad whose rim is not rounded, so that contours along it bear."""
    folder.mkdir()
    usual = {
        "load": {"force_n": 150.0},
        "pad": {"envelope": "envelope.stl", "rim_radius_mm": 0.0},
        "zones": _zones(3, 4),
    }
    flat = flat_tables(folder, (110.0, 80.0, height), _AT, **usual | tables)
    return drain(run_job(job_from_tables(flat), folder))


@pytest.fixture(scope="module")
def told(tmp_path_factory) -> tuple[Path, RunResult, dict[str, Tried]]:
    """A run that tells all changes, of how much help ever."""
    folder = tmp_path_factory.mktemp("advice")
    return _all_told(folder)


def _all_told(folder: Path, **tables: Any) -> tuple[Path, RunResult, dict[str, Tried]]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(advice, "SHOWN", 9)
        patch.setattr(advice, "NOTICED", 0.0)
        patch.setattr(advice, "JUST_NOTICEABLE", 99.0)
        run = _run(folder / "now", **tables)
    return folder, run, {each.change: each for each in run.part.firmness.advice}


def _found(run: RunResult) -> tuple[float, float, float, float, float]:
    found, takes = run.part.firmness.loads[0][1], run.evidence["print"]
    give, peak = found.sinkage_mm.value, found.peak_pressure_kpa.value
    return give, peak, takes["mass_g"]["value"], takes["time_h"]["low"], takes["time_h"]["high"]


def _said(each: Tried) -> tuple[float, float, float, float, float]:
    return each.give_mm, each.peak_kpa, each.mass_g, each.least_h, each.most_h


def _like(run: RunResult, each: Tried, rel: float) -> None:
    assert _said(each) == pytest.approx(_found(run), rel=rel)


def test_the_pad_as_it_is_is_that_of_the_run(told):
    _, run, tried = told
    _like(run, tried[""], 1e-6)
    assert len(tried) == 5


def test_levels_that_are_lowered_give_what_was_told(told):
    folder, _, tried = told
    _like(_run(folder / "lower", zones=_zones(2, 3)), tried["every zone one level lower"], 1e-6)


def test_fewer_contours_give_what_was_told(told):
    folder, _, tried = told
    _like(_run(folder / "contours", limits={"contour_counts": [1, 1]}), tried["no more contours than 1"], 1e-6)


def test_a_thicker_pad_gives_what_was_told(told):
    # Followed, the zones are filled anew to their levels, and the rounded rim stays as it is: a few percent.
    folder, _, tried = told
    thicker = _run(folder / "thicker", height=25.0)
    _like(thicker, tried["a pad 5 mm thicker"], 0.05)
    assert tried["a pad 5 mm thicker"].mass_g > 1.1 * tried[""].mass_g


def test_the_same_print_in_softer_filament_gives_what_was_told_and_refilling_it_does_not(tmp_path):
    # One zone, so that limits can hold its fill and contours as they are, and one bead.
    zones = {"zones": [{"name": "rest", "level": 2, "source": "rest"}], "printer": {"bead_width_mm": 0.45}}
    now = _run(tmp_path / "now", **zones)
    first, best = now.part.firmness.advice[:2]
    soft_card = best.how.removeprefix("the settings as they are, printed in ")
    assert soft_card in ("tpu_60a", "tpu_70a")
    settings = now.part.firmness.chosen[0].settings
    held = {
        "solid_share_pct": [settings.solid_share_pct, settings.solid_share_pct],
        "contour_counts": [settings.contour_count, settings.contour_count],
    }
    soft = _run(tmp_path / "soft", **zones, material={"card": soft_card}, limits=held)
    _like(soft, best, 1e-6)
    assert best.give_mm > 2.0 * first.give_mm and best.mass_g == pytest.approx(first.mass_g)
    filled = _run(tmp_path / "filled", **zones, material={"card": soft_card})
    give, _, mass, *_ = _found(filled)
    assert give < 0.6 * best.give_mm and mass > 1.8 * best.mass_g


def test_of_two_filaments_as_soft_the_one_of_the_same_plastic_is_told(tmp_path, monkeypatch):
    # Of another plastic the same print weighs and takes something else, which softness does not explain.
    monkeypatch.setattr(advice, "material_names", lambda: ("tpe_80a", "tpu_80a"))
    _, _, tried = _all_told(tmp_path)
    softer = tried["the same print in softer filament (80A)"]
    assert softer.how.endswith("tpu_80a") and softer.mass_g == pytest.approx(tried[""].mass_g)


def test_the_best_two_that_help_are_told(tmp_path):
    soft = {"zones": _zones(4, 3), "load": {"force_n": 300.0}}
    run = _run(tmp_path / "plain", **soft)
    _, _, every = _all_told(tmp_path, **soft)
    now, *shown = run.part.firmness.advice

    def helps(each: Tried) -> bool:
        return (
            each.give_mm >= advice.NOTICED * now.give_mm
            and each.peak_kpa < (1.0 + advice.JUST_NOTICEABLE) * now.peak_kpa
        )

    assert len(shown) == 2 and all(map(helps, shown)) and shown[0].give_mm > shown[1].give_mm
    less = [each for name, each in every.items() if name and "filament" not in name and each not in shown]
    assert not any(helps(each) and each.give_mm > shown[1].give_mm for each in less)
    # The softest filament gives more still, and presses harder: it is passed by.
    softest = next(each for name, each in every.items() if "filament" in name)
    assert softest.give_mm > shown[0].give_mm and not helps(softest)
    said = " ".join(" ".join(run.told_in_full).split())
    assert f"Tried: {shown[0].change} gives {shown[0].give_mm:.1f} mm instead of {now.give_mm:.2f}" in said
    assert re.search(rf"; {shown[1].change} gives [\d.]+ mm, weighs \d+ g, prints [\d.]+ to [\d.]+ h\.", said)
    assert said.count("instead of") >= 2
    document = run.evidence["load"]["advice"]
    assert [each["change"] for each in document] == ["as it is", *(each.change for each in shown)]
    assert [each["mass_g"] for each in document] == pytest.approx([now.mass_g, *(each.mass_g for each in shown)])


def test_what_presses_harder_is_no_help(tmp_path, monkeypatch):
    monkeypatch.setattr(advice, "JUST_NOTICEABLE", -0.5)
    run = _run(tmp_path / "harder")
    assert run.part.firmness.advice == () and run.evidence["load"]["advice"] == []
    assert "none gives much more" in " ".join(" ".join(run.told_in_full).split())


def test_nothing_is_told_where_nothing_helps_or_the_pad_gives():
    assert "none gives much more" in advice_words(())
    now = Tried("", "", 0.004, 20.0, 100.0, 5.0, 9.0)
    twice = replace(now, change="a pad 5 mm thicker", give_mm=0.012, mass_g=120.0)
    said = advice_words((now, twice))
    assert "gives 0.01 mm instead of under 0.01, weighs 120 g instead of 100, prints 5.0 to 9.0 h as now." in said
    tiny = [replace(each, least_h=each.least_h / 300.0, most_h=each.most_h / 60.0) for each in (now, twice)]
    assert "prints 1.0 to 9.0 min as now." in advice_words(tiny)
    round_ = [replace(each, least_h=9.97, most_h=18.0) for each in (now, twice)]
    assert "prints 10 to 18 h as now." in advice_words(round_)
