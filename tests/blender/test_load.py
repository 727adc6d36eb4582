"""The load check in the modeller: every case, before and after tuning, and what the panel says of them."""

from __future__ import annotations

import json

import bpy
import numpy as np
import pytest

STAGES = ("build_pad", "plan_zones", "cut_regions", "check_load")


@pytest.fixture
def with_cases(part):
    tables = json.loads(part.kept)
    tables["load"]["cases"] = [{"name": "leaning", "share": 0.3}, {"name": "bounced", "force_n": 1200.0}]
    part.kept = json.dumps(tables)
    return part


def run():
    for stage in STAGES:
        getattr(bpy.ops.padwright, stage)()


def core_load(inside):
    memory, scene = inside("blender.stage_memory").memory(), inside("blender.scene")
    job = scene.read_scene(bpy.context, scene.work_folder())
    return memory.known(job, scene.work_folder(), "load")


def values(part, inside, name):
    return inside("blender.attributes").read(part.pad.data, name)


def test_every_case_is_kept_with_its_numbers_and_its_values(with_cases, inside):
    run()
    loads = core_load(inside).firmness.loads
    words = inside("core.stages.load.load_words")
    found = with_cases.found
    assert [case.name for case in found.cases] == ["sitting", "leaning", "bounced"]
    assert [case.force for case in found.cases] == [f"{load.force_n:.0f} N" for _, load in loads]
    assert [case.peak for case in found.cases] == [f"{load.peak_pressure_kpa.value:.0f} kPa" for _, load in loads]
    for case, (_, load) in zip(found.cases, loads, strict=True):
        assert [(row.name, row.now) for row in case.rows] == [(row.name, row.now) for row in words.load_rows(load)]
        assert (case.bottoming, case.meaning) == words.bottoming(load)
    for number, stem in enumerate(("", "_2", "_3")):
        pressure = values(with_cases, inside, f"padwright_pressure{stem}")
        assert pressure.max() == pytest.approx(loads[number][1].pressure_kpa.max(), rel=1e-6)
        assert np.count_nonzero(pressure) == np.count_nonzero(loads[number][1].pressure_kpa)
    assert with_cases.zones[0].bears == found.cases[0].zones[0].now and not with_cases.zones[0].bore


def test_the_case_chosen_in_the_list_is_the_one_shown(with_cases, inside):
    run()
    view = with_cases.view
    bpy.ops.padwright.show_load(values="pressure")
    first = view.high
    with_cases.found.case_index = 2
    bpy.ops.padwright.show_load(values="pressure")
    assert view.title == "Pressure, bounced" and view.high > 1.5 * first
    bpy.ops.padwright.show_load(values="give")
    assert (view.low, view.high, view.unit) == (0.0, 100.0, "%")


def test_before_and_after_tuning_have_one_scale_and_the_core_s_values(part, inside):
    part.goal, part.zones[0].is_relieved = "relieve", True
    run()
    tuning = core_load(inside).firmness.tuning
    before, after = (values(part, inside, f"padwright_pressure{end}") for end in ("_before", ""))
    assert before.max() == pytest.approx(tuning.before.pressure_kpa.max(), rel=1e-6)
    assert after.max() == pytest.approx(tuning.after.pressure_kpa.max(), rel=1e-6)
    ends = []
    for shown in ("pressure_before", "pressure"):
        assert bpy.ops.padwright.show_load(values=shown) == {"FINISHED"}
        ends.append((part.view.low, part.view.high))
    top = max(np.percentile(each[each > 0.0], 99.5) for each in (before, after))
    assert ends[0] == ends[1] and ends[0][1] == pytest.approx(top, rel=1e-6)
    assert part.view.title == "Pressure"
    rows = {row.name: (row.before, row.now) for row in part.found.tuning}
    assert rows["Peak kPa"] == tuple(f"{each.peak_pressure_kpa.value:.0f}" for each in (tuning.before, tuning.after))
    share = tuning.zones[0]
    assert rows["bones %"] == (f"{100 * share.share_before:.0f}", f"{100 * share.share_after:.0f}")
    assert part.found.tuning_said.startswith("The aim is met" if tuning.is_met else "The aim is not met")
    assert part.zones[0].bore == f"{100 * share.share_before:.0f} %"


def test_without_tuning_there_is_no_before_and_an_old_one_goes(part, inside):
    part.goal = "even"
    run()
    assert values(part, inside, "padwright_pressure_before") is not None
    bpy.ops.padwright.show_load(values="pressure_before")
    part.goal = "levels"
    bpy.ops.padwright.check_load()
    assert values(part, inside, "padwright_pressure_before") is None
    assert len(part.found.tuning) == 0 and part.found.tuning_said == ""
    assert part.view.title == "Pressure"  # what was shown is gone, so what there is now is shown
    with pytest.raises(RuntimeError, match="There is no pressure before tuning to show"):
        bpy.ops.padwright.show_load(values="pressure_before")


def test_colors_on_show_follow_a_new_check(part):
    run()
    bpy.ops.padwright.show_load(values="pressure")
    before = part.view.high
    part.body_mass_kg *= 1.5
    bpy.ops.padwright.check_load()
    assert part.view.high > 1.2 * before and part.view.is_colored


def test_a_load_that_bottoms_out_is_said_plainly_with_what_helps(part):
    run()
    part.body_mass_kg, part.share = 400.0, 1.9  # 7.5 kN of the 10 kN that the pad can bear
    bpy.ops.padwright.check_load()
    case = part.found.cases[0]
    assert case.bottoming == "out"
    assert case.meaning.startswith("It bottoms out in ") and "Make the pad thicker there" in case.meaning
    part.share = 10.0
    with pytest.raises(RuntimeError, match=r"the pad bottoms out everywhere.* The pad holds up to \d+ N"):
        bpy.ops.padwright.check_load()


def test_the_force_shown_before_any_check_is_the_core_s(part, inside):
    facts = dict(inside("blender.load.panels_load").load_facts(part))
    newton = inside("core.stages.body.weight").body_force_n(part.body_mass_kg, part.share)
    assert facts["Force"] == f"{newton:.0f} N" and facts["Posture"] == "sitting"


def test_a_check_is_taken_back_and_done_again_with_all_it_left(part, inside):
    for stage in STAGES[:3]:
        getattr(bpy.ops.padwright, stage)()
    names = sorted(each.name for each in part.pad.data.attributes)
    bpy.ops.ed.undo_push(message="base")
    bpy.ops.padwright.check_load("EXEC_DEFAULT", True)
    rows = [row.now for row in part.found.cases[0].rows]
    bpy.ops.ed.undo()
    part = bpy.context.scene.padwright
    assert len(part.found.cases) == 0 and part.zones[0].bears == ""
    assert sorted(each.name for each in part.pad.data.attributes) == names
    bpy.ops.ed.redo()
    part = bpy.context.scene.padwright
    assert [row.now for row in part.found.cases[0].rows] == rows
    assert values(part, inside, "padwright_pressure") is not None
