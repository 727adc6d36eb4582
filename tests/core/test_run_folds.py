"""A whole run of a pad of folded walls: one solid, zones in the load, walls as the levels wish."""

from __future__ import annotations

import contextlib
import io
import json
from types import SimpleNamespace

import pytest
from tests.support.invariants import hold_of_document
from tests.support.remembered import FOLDED, largest_leap, memory_of, reached, run_by, seat_job

from padwright.core.stages.load.evidence import firmness_evidence
from padwright.core.stages.load.firmness import Firmness

pytestmark = pytest.mark.slow


def run_of(folder, extra: str) -> SimpleNamespace:
    job, said, seen = seat_job(folder, extra), io.StringIO(), []
    with contextlib.redirect_stdout(said):
        assert run_by(memory_of("seat").run, str(job), "-v", "--out", str(folder / "out"), seen=seen) == 0
    assert largest_leap(seen) <= 0.5  # where all stages are remembered the page is half of what is left
    read = {
        name: json.loads(next((folder / "out").glob(f"*.{name}.json")).read_text("utf-8"))
        for name in ("run", "settings")
    }
    return SimpleNamespace(**read, said=said.getvalue(), files=sorted(each.name for each in (folder / "out").iterdir()))


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> SimpleNamespace:
    return run_of(tmp_path_factory.mktemp("folds"), FOLDED)


def test_the_part_is_one_solid_lighter_than_its_outer_shape(made):
    assert len(made.run["regions"]) == 1 and made.run["regions"][0]["closed"]
    printed, outer = made.run["fill"]["volume_cm3"], made.run["pad"]["volume_cm3"]
    assert made.run["regions"][0]["volume_cm3"] == pytest.approx(printed, rel=1e-4)  # rounded to the files' grid
    # Walls of their solid share, and skins, of a pad that is nowhere less than 4 mm high inside.
    walls = made.run["walls"]
    share = walls["width_mm"] / walls["pitch_mm"]
    assert share < printed / outer < share + 0.35
    assert made.run["print"]["mass_g"]["value"] < 0.6 * outer * 1.3  # g/cm3, denser than any TPU
    assert sum(name.endswith(".stl") for name in made.files) == 1


def test_it_is_printed_as_a_plain_solid_of_contours(made):
    settings = made.run["regions"][0]["settings"]
    beads = made.run["walls"]["width_mm"] / settings["bead_width_mm"]
    assert settings["fill_structure"] == "solid" and settings["solid_share_pct"] == 100
    assert settings["contour_count"] >= beads
    assert "no fill" in made.said


def test_every_layer_was_looked_at_and_mass_and_hours_are_those_of_the_solid(made):
    slices, volume = made.run["fill"]["slices"], made.run["fill"]["volume_cm3"]
    assert slices["layers"] == pytest.approx(made.run["print"]["orientation"]["size_mm"][2] / slices["layer_mm"], abs=2)
    assert slices["loose_walls"] == 0
    assert slices["tip"]["drag_n"] == 0.05
    assert slices["least_width_beads"] is not None
    assert set(slices["errors"]) <= set(made.run["before_printing"])
    low = made.run["print"]["time_h"]["low"]
    bead = made.run["print"]["regions"][0]["bead_area_mm2"]
    assert low == pytest.approx(
        1000.0 * volume / bead / made.run["regions"][0]["settings"]["max_speed_mm_s"] / 3600.0, rel=0.01
    )
    assert any("with at least" in note and "contours" in note for note in made.run["print"]["notes"])


def test_zones_stay_in_the_load_and_bear_all_of_it(made):
    load = made.run["load"]
    assert {zone["name"] for zone in load["zones"]} == {zone["name"] for zone in made.run["settings"]["zones"]}
    assert len(load["zones"]) > 1
    assert sum(zone["value"] for zone in load["share"].values()) == pytest.approx(1.0, abs=1e-6)
    assert load["imbalance"] < 1e-6
    deepest = max(zone["sinkage_mm"]["value"] for zone in load["zones"])
    assert load["sinkage_mm"]["value"] == pytest.approx(deepest)
    assert 0.0 < load["mean_sinkage_mm"]["value"] < deepest


def test_it_gives_as_a_cushion_where_settings_are_nearly_rigid(made, tmp_path):
    plain = run_of(tmp_path, FOLDED.replace('kind = "folds"', 'kind = "settings"'))
    assert plain.run["fill"] == {"kind": "settings"} and "walls" not in plain.run
    folded, rigid = (each.run["load"]["mean_sinkage_mm"]["value"] for each in (made, plain))
    assert folded > 2.5 and folded > 4.0 * rigid


def test_walls_reach_the_levels_where_they_can(made):
    for zone in made.run["settings"]["zones"]:
        if zone["binding"] is None:
            assert zone["reached_kPa"] == pytest.approx(zone["target_kPa"], rel=0.05)
        else:
            assert zone["name"] in made.said


def test_documents_hold_together(made):
    hold_of_document(made.settings)
    assert made.settings["regions"][0]["settings"]["fill_structure"] == "solid"


@pytest.mark.slow
def test_tuning_for_evenness_evens_it(made, tmp_path):
    job = seat_job(tmp_path, FOLDED + '[target]\ngoal = "even"\n')
    tuned = firmness_evidence(reached(memory_of("seat"), job, "load").of(Firmness), "seat_pad")
    before, after = (each["load"]["evenness"]["value"] for each in (made.run, tuned))
    assert after < before
    assert tuned["tuning"]["load_checks"] > 10


def test_blocks_of_folded_walls_are_advised(made):
    assert "coupons --folds" in " ".join(made.said.split()) and "(guessed)" in made.said
    cap = made.run["fold_field"]["stands"][0]["pressure_cap"]
    assert cap["kPa"] is None and "no block of folded walls was pressed" in cap["reason"]
