"""Notes of trials in the window: asked zone by zone, a sore place picked on the pad, written as the command line's."""

from __future__ import annotations

import datetime

import bpy
import numpy as np
import pytest
from tests.blender.test_panels import draw


@pytest.fixture
def noting(part, tmp_path):
    """Return the part with a note begun."""
    part.trials.folder = str(tmp_path)
    assert bpy.ops.padwright.begin_trial() == {"FINISHED"}
    return part


def written(part, inside, tmp_path):
    reading = inside("core.stages.trials.reading")
    data = (tmp_path / f"{part.number}.trials.toml").read_bytes()
    zones = [zone.name for zone in part.zones]
    return reading.read_trials(data, "notes", zones=zones, revisions=["1", "2"], today=datetime.date.today()).trials


def test_a_note_asks_for_each_zone_of_this_print(noting):
    form = noting.trials
    assert [each.name for each in form.answers] == [zone.name for zone in noting.zones]
    assert (form.revision, form.date, form.before) == (noting.revision, datetime.date.today().isoformat(), "")
    assert {each.feels for each in form.answers} == {"open"}


def test_a_saved_note_is_the_one_that_was_filled_in(noting, inside, tmp_path):
    form = noting.trials
    form.hours_worn, form.activity, form.slipped = 3.5, "two hours of rowing", "the left side"
    form.photos, form.note = "a.jpg, b.jpg", 'the "rear" rubs'
    form.answers[0].feels = "too firm"
    assert bpy.ops.padwright.save_trial() == {"FINISHED"}
    (trial,) = written(noting, inside, tmp_path)
    assert (trial.revision, trial.hours_worn, trial.activity) == (noting.revision, 3.5, "two hours of rowing")
    assert [(each.zone, each.feels, each.than_last) for each in trial.zones] == [
        (noting.zones[0].name, "too firm", None)
    ]
    assert (trial.slipped, trial.photos, trial.note) == ("the left side", ("a.jpg", "b.jpg"), 'the "rear" rubs')
    assert (trial.pain, trial.pain_point) == (0.0, None)
    assert not form.is_open
    assert "too firm" in form.noted[0].said


def test_notes_stay_as_they_are_when_one_is_added(noting, inside, tmp_path):
    noting.trials.answers[0].feels = "too firm"
    bpy.ops.padwright.save_trial()
    first = (tmp_path / f"{noting.number}.trials.toml").read_bytes()
    bpy.ops.padwright.begin_trial()
    assert noting.trials.answers[0].feels == "open"
    noting.trials.answers[1].feels = "right"
    bpy.ops.padwright.save_trial()
    assert (tmp_path / f"{noting.number}.trials.toml").read_bytes().startswith(first)
    assert [trial.zones[0].feels for trial in written(noting, inside, tmp_path)] == ["too firm", "right"]
    assert [row.said.lower().count("right") for row in noting.trials.noted] == [1, 0]  # the last one first


def test_the_next_print_is_the_one_that_the_command_line_proposes(noting, inside, tmp_path):
    for stage in ("build_pad", "plan_zones", "cut_regions"):
        getattr(bpy.ops.padwright, stage)()
    noting.folder = str(tmp_path / "out")
    bpy.ops.padwright.export_part()
    for _ in range(2):
        if not noting.trials.is_open:
            bpy.ops.padwright.begin_trial()
        form = noting.trials
        form.hours_worn, form.answers[0].feels, form.answers[1].feels = 9.0, "too firm", "right"
        bpy.ops.padwright.save_trial()
    assert bpy.ops.padwright.propose_revision() == {"FINISHED"}
    scene, revise = inside("blender.scene"), inside("core.run.revise")
    folder = scene.work_folder()
    job = scene.read_scene(bpy.context, folder)
    drain, today = inside("core.base.progress").drain, datetime.date.today()
    known = inside("blender.stage_memory").memory()  # else all is made a second time
    proposal = drain(revise.propose(job, folder, today, printed=tmp_path / "out", memory=known))
    assert proposal.changes[0].times < 1.0
    rows = {row.name: row for row in noting.trials.changes}
    for change in proposal.changes:
        assert (rows[change.zone].why, rows[change.zone].is_changed) == (change.why, change.is_changed)
    assert rows["bones"].said.startswith("softer by ")
    wanted = revise.changed_job(job, proposal)
    assert bpy.ops.padwright.take_revision() == {"FINISHED"}
    made = scene.read_scene(bpy.context, folder)
    assert made.part.revision == wanted.part.revision == "2"
    assert [zone.stiffness_times for zone in made.zones] == pytest.approx(
        [zone.stiffness_times for zone in wanted.zones], rel=1e-6
    )
    assert made.part.previous == str(tmp_path / "out")
    assert noting.folder == str(tmp_path / "out-2")
    assert not bpy.ops.padwright.take_revision.poll()
    follow = inside("blender.trials.next_print").can_follow
    assert follow(noting, "1") and follow(noting, "2") and not follow(noting, "") and not follow(noting, "3")
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "saved" / "job-2.toml"))
    assert 'previous = "../out"' in (tmp_path / "saved" / "job-2.toml").read_text()
    noting.folder = str(tmp_path / "out")
    with pytest.raises(RuntimeError, match="holds the revision before"):
        bpy.ops.padwright.export_part()
    noting.folder = str(tmp_path / "out-2")
    bpy.ops.padwright.begin_trial()
    assert (noting.trials.before, noting.trials.revision) == ("1", "2")  # now it is asked what got better
    with pytest.raises(RuntimeError, match="Export the part first"):
        bpy.ops.padwright.compare_prints()
    bpy.ops.padwright.export_part()
    assert bpy.ops.padwright.compare_prints() == {"FINISHED"}
    changed = {(row.kind, row.name): (row.before, row.now) for row in noting.trials.changed}
    times = next(
        value for (kind, name), value in changed.items() if (kind, name) == ("In the Job", "bones: Times as Stiff")
    )
    assert float(times[1]) == pytest.approx(wanted.zones[0].stiffness_times, abs=1e-3)
    assert ("Predicted, by Zone", "bones: stiffness, kPa") in changed
    assert noting.trials.changed_of == "1 and 2"
    felt = [now for (kind, _), (_, now) in changed.items() if kind == "Felt"]
    assert felt  # the notes are in the report's comparison too
    report = (tmp_path / "out-2" / f"{noting.number}.report.html").read_text("utf-8")
    assert "two hours" not in report and "too firm" in report


def test_the_next_print_takes_the_name_of_none_whose_files_lie_beside(part, inside, tmp_path):
    part.folder = str(tmp_path / "out")
    next_print = inside("blender.trials.next_print")
    assert next_print.next_free(part) == "2"
    (tmp_path / "out-2").mkdir()
    assert next_print.next_free(part) == "3"
    next_print.begin(part, "1", "3")
    assert (part.revision, part.folder) == ("3", str(tmp_path / "out-3"))
    (tmp_path / "out-4").mkdir()
    assert next_print.next_free(part) == "5"


def test_a_sore_place_is_kept_in_the_numbers_of_the_base_scan(noting, inside, tmp_path):
    bpy.ops.padwright.build_pad()
    bridge = inside("blender.bridge")
    mm = bridge.mm_per_scene_unit(bpy.context.scene)
    place = bridge.mesh_places(noting.pad)[100] * mm  # part frame, mm
    assert bpy.ops.padwright.pick_sore(place=place) == {"FINISHED"}
    assert noting.trials.pain == 1
    noting.trials.pain = 6
    bpy.ops.padwright.save_trial()
    (trial,) = written(noting, inside, tmp_path)
    made = inside("blender.stage_memory").memory()
    scene = inside("blender.scene")
    job = scene.read_scene(bpy.context, scene.work_folder())
    part = made.known(job, scene.work_folder(), "pad")
    scan = part.base  # the person's numbers -> mm, corrected -> part frame
    corrected = np.array(trial.pain_point) * bridge.unit_mm(noting, "base") * scan.factor
    found = part.to_part[:3, :3] @ corrected + part.to_part[:3, 3]
    assert found == pytest.approx(place, abs=0.02)  # the modeller keeps single floats
    assert trial.pain == 6.0


def test_what_cannot_be_written_is_said_and_nothing_is(noting, tmp_path):
    with pytest.raises(RuntimeError, match="says nothing yet"):
        bpy.ops.padwright.save_trial()
    noting.trials.answers[0].feels = "right"
    noting.trials.date = "yesterday"
    with pytest.raises(RuntimeError, match="is no day"):
        bpy.ops.padwright.save_trial()
    assert not list(tmp_path.glob("*.trials.toml"))
    bpy.ops.padwright.drop_trial()
    assert not bpy.ops.padwright.save_trial.poll()


def test_without_a_folder_a_note_says_where_to_choose_one(part):
    part.trials.folder = ""
    with pytest.raises(RuntimeError, match="no folder for the notes"):
        bpy.ops.padwright.begin_trial()


def test_a_zone_keeps_its_times_as_stiff(part, tmp_path):
    part.zones[0].stiffness_times = 0.85
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "job.toml"))
    text = (tmp_path / "job.toml").read_text()
    assert text.count("stiffness_times = 0.85") == 1
    assert text.count("stiffness_times = 1.0") == 1
    bpy.ops.padwright.load_job(filepath=str(tmp_path / "job.toml"))
    found = [round(zone.stiffness_times, 5) for zone in bpy.context.scene.padwright.zones]
    assert found == [0.85, 1.0]


def test_changed_keys_are_told_as_the_fields_are_called(inside):
    words = inside("blender.trials.changed_words").key_words
    assert words('zones "sit bones".stiffness_times') == "sit bones: Times as Stiff"
    assert words("pad.fit_gap_mm") == "Fit Gap"
    assert words("output.report") == "output.report"  # no panel has it


def test_the_list_of_notes_tells_how_the_scan_of_each_print_compared(noting, inside):

    noting.trials.note = "worn"
    bpy.ops.padwright.save_trial()
    form, notes = noting.trials, inside("blender.trials.notes")
    (row,) = form.noted
    assert row.compared == "" and "Its scan:" not in " ".join(draw("trials"))
    noting.compare.of, noting.compare.said = noting.revision, "Half of the print is within 0.2 mm."
    noting.compare.corrections = "Make up for a shrinkage of 1 %: measured."
    notes.tell_compared(noting)
    assert row.compared == "Half of the print is within 0.2 mm. Make up for a shrinkage of 1 %: measured."
    assert f"Its scan: {row.compared}" in " ".join(" ".join(draw("trials")).split())
    noting.compare.of = "another"  # a comparison of another print is not told of this one
    notes.tell_compared(noting)
    assert row.compared == ""


def test_a_comparison_beside_the_print_s_files_is_told_too(noting, inside, tmp_path):
    noting.trials.note = "worn"
    bpy.ops.padwright.save_trial()
    run_document = inside("core.stages.packing.bundle").run_document
    told = [["off by", "95 % within 0.4 mm."], ["scan", "As large as it says."], ["bend", "None."]]
    found = {"part": {"number": noting.number, "revision": noting.revision}, "told": told, "corrections": []}
    noting.folder = str(tmp_path / "out")
    (tmp_path / "out.compare").mkdir()
    (tmp_path / "out.compare" / f"{noting.number}.compare.json").write_bytes(run_document(found, {}))
    assert bpy.ops.padwright.read_trials() == {"FINISHED"}
    assert noting.trials.noted[0].compared == "95 % within 0.4 mm. As large as it says."
