"""A whole run with load, target and price: what evidence, settings document and summary say of them agrees."""

from __future__ import annotations

import contextlib
import io
import json
import re
from types import SimpleNamespace

import numpy as np
import pytest
from tests.support.invariants import hold_of_document
from tests.support.remembered import memory_of, run_by, seat_job

from padwright.core.base.errors import InputError
from padwright.core.job.read import parse_job
from padwright.core.job.schema import Job
from padwright.core.stages.load.wishes import check_wishes, print_limits

EXTRA = """
[load]
body_mass_kg = 72
share = 0.6
[[load.cases]]
name = "leaning"
force_n = 300
[[load.cases]]
name = "landing"
force_n = 2000
[target]
loads = "first"
relieve = ["rest"]
relief_share = 0.92
greatest_modulus_ratio = 4
level_step_limit = 3
"""


@pytest.fixture(scope="module")
def tuned(tmp_path_factory) -> SimpleNamespace:
    folder = tmp_path_factory.mktemp("tuned")
    job = seat_job(folder, EXTRA)
    job.write_text(job.read_text("utf-8").replace("[printer]", "price_per_kg = 40\n\n[printer]"), "utf-8")
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        assert run_by(memory_of("seat").run, str(job), "-v", "--out", str(folder / "out")) == 0
    evidence = json.loads(next((folder / "out").glob("*.run.json")).read_text("utf-8"))
    sidecar = json.loads(next((folder / "out").glob("*.settings.json")).read_text("utf-8"))
    return SimpleNamespace(evidence=evidence, sidecar=sidecar, said=said.getvalue())


def bounded(value: object) -> int:
    """Count the estimates in a document; each lies between its bounds and says what it rests on."""
    if isinstance(value, dict) and {"value", "low", "high"} <= value.keys():
        assert value["low"] <= value["value"] <= value["high"] and value["basis"]
        return 1
    children = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return sum(bounded(child) for child in children)


def test_every_number_has_bounds(tuned):
    load = tuned.evidence["load"]
    names = ("peak_pressure_kPa", "mean_pressure_kPa", "sinkage_mm", "contact_area_cm2", "bottoming_margin")
    assert all({"value", "low", "high", "basis"} <= load[name].keys() for name in names)
    assert {"mass_g", "filament_m", "time_h"} <= tuned.evidence["print"].keys()
    assert bounded(tuned.evidence["load"]) >= 10


def test_no_two_numbers_of_a_run_contradict_each_other(tuned):
    assert hold_of_document(tuned.evidence) >= 30
    assert hold_of_document(tuned.sidecar) >= 20
    assert bounded(tuned.evidence["print"]) == 4
    assert bounded(tuned.evidence["tuning"]) == 2 * 12  # before and after, and again under the one load that is served


def test_the_load_is_the_weight_and_the_zones_share_it(tuned):
    load = tuned.evidence["load"]
    assert load["force_n"] == pytest.approx(72 * 0.6 * 9.80665, rel=1e-3)  # standard gravity
    assert sum(each["value"] for each in load["share"].values()) == pytest.approx(1.0, abs=1e-6)
    carried = load["mean_pressure_kPa"]["value"] * load["contact_area_cm2"]["value"] / 10.0
    assert carried == pytest.approx(load["force_n"], rel=1e-3)
    # What bears hangs together in contacts, but for splinters of less than a hundredth each.
    assert 0.95 < sum(each["area_cm2"] for each in load["contacts"]) / load["contact_area_cm2"]["value"] <= 1.0 + 1e-6
    assert all(np.all(np.diff(each["times_as_stiff"]) >= 0.0) for each in load["contacts"])
    leaning, landing = tuned.evidence["load_cases"]
    assert leaning["posture"] == "leaning" and leaning["force_n"] == pytest.approx(300.0, rel=1e-3)
    assert leaning["sinkage_mm"]["value"] < load["sinkage_mm"]["value"]
    assert landing["sinkage_mm"]["value"] > load["sinkage_mm"]["value"]


def test_every_load_is_told_and_one_that_breaks_a_limit_is_said_to(tuned):
    leaning, landing = tuned.evidence["load_cases"]
    said = " ".join(tuned.said.split())
    for case in (leaning, landing):
        assert re.search(rf'{case["posture"]}"? +{case["force_n"]:.0f}', said)
    (beyond,) = tuned.evidence["tuning"]["beyond"]
    assert f'under "landing", {landing["force_n"]:.0f} N, ' in beyond and beyond in said
    assert "but not under every load" in said


def test_the_target_is_met_by_the_settings_that_are_written(tuned):
    tuning = tuned.evidence["tuning"]
    assert tuning["is_met"] and tuning["unmet"] == [] and tuning["unchanged"] == "" and tuning["traded"]
    zones = {zone["name"]: zone for zone in tuning["zones"]}
    assert zones["rest"]["share_after"] <= 0.92 * zones["rest"]["share_even"] * 1.03
    assert tuned.evidence["load"]["share"]["rest"]["value"] == pytest.approx(zones["rest"]["share_after"])
    chosen = {zone["name"]: zone["reached_kPa"] for zone in tuned.evidence["settings"]["zones"]}
    for name, zone in zones.items():
        assert zone["after_kPa"] == pytest.approx(chosen[name])


def test_the_settings_document_predicts_what_the_evidence_found(tuned):
    strains = {zone["name"]: zone["at_strain_pct"] for zone in tuned.evidence["settings"]["zones"]}
    for region in tuned.sidecar["regions"]:
        modulus = region["predicted"]["modulus_kPa"]
        assert bounded(region["predicted"]) == 6
        (strain,) = (strains[name] for name in strains if region["name"].startswith(name))
        assert modulus["low"] < modulus["value"] < modulus["high"]
        assert modulus["at_strain_pct"] == pytest.approx(strain) and 0.1 < strain < 10.0
        assert region["settings_basis"]["solid_share_pct"] == "model"
    part = tuned.sidecar["predicted"]
    assert part["sinkage_mm"]["value"] == tuned.evidence["load"]["sinkage_mm"]["value"]
    assert part["load_case"]["force_N"] == pytest.approx(tuned.evidence["load"]["force_n"])
    masses = [region["predicted"]["mass_g"]["value"] for region in tuned.sidecar["regions"]]
    assert sum(masses) == pytest.approx(part["mass_g"]["value"])
    assert tuned.evidence["print"]["cost"]["value"] == pytest.approx(part["mass_g"]["value"] * 0.04)


def test_the_part_lies_on_its_base_side(tuned):
    way = tuned.evidence["print"]["orientation"]
    assert way["name"] == "base side down" and way["fits"] and way["body_support_cm2"] < 0.1
    up = np.array(tuned.evidence["part"]["to_bed"])[2, :3]
    assert up == pytest.approx(-np.array(tuned.evidence["impression"]["press_direction"]), abs=1e-6)


def job(text: str) -> Job:
    head = 'schema = 1\n[part]\nname = "P"\nnumber = "P"\nfamily = "seat_pad"\n[base]\nscan = "b.ply"\nunit = "mm"\n'
    return parse_job((head + '[impression]\nscan = "i.ply"\nunit = "mm"\n' + text).encode(), "job.toml", None)


def test_a_target_without_load_or_names_is_refused_before_any_work():
    with pytest.raises(InputError, match=r"needs it, or load\.force_n") as caught:
        check_wishes(job("[target]\nsinkage_limit_mm = 3\n"))
    assert caught.value.key == ("load", "body_mass_kg")
    with pytest.raises(InputError, match="needs the names of zones"):
        check_wishes(job('[load]\nforce_n = 300\n[target]\ngoal = "relieve"\n'))
    zones = "".join(
        f'[[zones]]\nname = "{name}"\nlevel = 2\n{source}\n'
        for name, source in (("sides", 'source = "imprint_depth"\nto_mm = 3'), ("rest", 'source = "rest"'))
    )
    with pytest.raises(InputError, match="names every zone, so none is left"):
        check_wishes(job(zones + '[load]\nforce_n = 300\n[target]\nrelieve = ["rest", "sides"]\n'))
    check_wishes(job(zones + '[load]\nforce_n = 300\n[target]\nrelieve = ["sides"]\n'))
    check_wishes(job("[load]\nforce_n = 300\n[target]\nsinkage_limit_mm = 3\n"))
    check_wishes(job(""))


def test_layers_thicker_than_every_bead_are_refused_before_any_work_with_their_key():
    with pytest.raises(InputError, match=r"0\.8 mm are thicker .* 0\.6 or less") as caught:
        check_wishes(job("[printer]\nlayer_thickness_mm = 0.8\n"))
    assert caught.value.key == ("printer", "layer_thickness_mm")
    check_wishes(job("[printer]\nlayer_thickness_mm = 0.6\n"))


def test_beads_follow_the_nozzle_unless_the_job_names_them():
    assert print_limits(job("")).bead_widths_mm == (0.45, 0.6)
    assert print_limits(job("[printer]\nnozzle_mm = 0.8\n")).bead_widths_mm == (0.9, 1.2)
    assert print_limits(job("[limits]\nbead_widths_mm = [0.5, 0.7]\n")).bead_widths_mm == (0.5, 0.7)
    assert print_limits(job("[printer]\nbead_width_mm = 0.55\n[limits]\nbead_widths_mm = [0.5]\n")).bead_widths_mm == (
        0.55,
    )
