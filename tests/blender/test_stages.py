"""Each stage operator against the use case it stands for, in scenes of different units, with undo."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest

STAGES = {
    "scans": "prepare_scans",
    "alignment": "align_scans",
    "reading": "read_impression",
    "pad": "build_pad",
    "zones": "plan_zones",
    "regions": "cut_regions",
    "load": "check_load",
}


def run(stage: str) -> None:
    """Do a stage, and the stages that its button asks for."""
    needed = {"zones": ("pad",), "regions": ("pad", "zones"), "load": ("pad", "zones", "regions")}
    for earlier in needed.get(stage, ()):
        getattr(bpy.ops.padwright, STAGES[earlier])()
    assert getattr(bpy.ops.padwright, STAGES[stage])() == {"FINISHED"}


@pytest.fixture(scope="session")
def whole(inside, job_file: Path):
    """The part of the job, made without the scene."""
    read, pipeline, progress = (inside(f"core.{name}") for name in ("job.read", "run.pipeline", "base.progress"))
    return progress.drain(pipeline.run_job(read.read_job(job_file), job_file.parent)).part


def test_the_scene_holds_the_loaded_job(part, inside, job_file, tmp_path):
    from dataclasses import replace

    job = inside("core.job.read").read_job(job_file)
    found = inside("blender.scene").read_scene(bpy.context, tmp_path)
    scans = {
        "base": replace(found.base, scan=job.base.scan),
        "impression": replace(found.impression, scan=job.impression.scan),
    }
    assert replace(found, **scans) == job


def test_all_stages_give_what_a_run_without_the_modeller_gives(part, whole, inside, array_of):
    attributes = inside("blender.attributes")
    for stage in STAGES:
        run(stage)
    assert [each.name for each in part.stages] == list(STAGES)
    vertices = whole.pad.mesh.vertices
    size = np.abs(vertices).max()
    # Places are kept with 32 bits; the numbers that go on to the next stage are not read back from them.
    assert np.abs(array_of(part.pad) - vertices).max() <= 2e-6 * size
    assert np.array_equal(attributes.read(part.pad.data, "padwright_thickness"), whole.pad.thickness.astype(np.float32))
    assert np.array_equal(attributes.read(part.pad.data, "padwright_side"), whole.pad.side)
    assert np.array_equal(attributes.read(part.pad.data, "padwright_zone"), whole.zones.label)
    reading = whole.reading
    assert np.array_equal(attributes.read(part.body.data, "padwright_contact"), reading.is_contact)
    assert np.allclose(
        attributes.read(part.body.data, "padwright_imprint_depth"), np.nan_to_num(reading.imprint_depth), rtol=1e-6
    )
    groups = attributes.read_groups(part.pad, [zone.name for zone in part.zones])
    for column, zone in enumerate(whole.zones.zones):
        assert np.abs(groups[zone.name] - whole.zones.weights[:, column]).max() <= 0.5 / 255 + 1e-6
    objects = {obj.name: obj for obj in bpy.data.collections["Regions"].objects}
    assert sorted(objects) == sorted(f"SEAT-1 {region.name}" for region in whole.regions.regions)
    for region in whole.regions.regions:
        obj = objects[f"SEAT-1 {region.name}"]
        assert np.abs(array_of(obj) - region.mesh.vertices).max() <= 2e-6 * size
        assert obj["padwright_level"] == region.firmness_level
    load = whole.firmness.loads[0][1]
    pressure = attributes.read(part.pad.data, "padwright_pressure")
    assert np.array_equal(
        np.sort(pressure[pressure > 0]), np.sort(load.pressure_kpa[load.pressure_kpa > 0]).astype("f4")
    )
    assert np.allclose(vertices[np.argmax(pressure)], load.largest_place_mm)
    assert f"the peak pressure is {load.peak_pressure_kpa.value:.0f} kPa" in part.stages["load"].lines
    assert whole.firmness.felt[0] in part.stages["load"].lines
    marks = sorted(bpy.data.collections["Load Centers"].objects, key=lambda mark: mark.name)
    places = [np.array(mark.matrix_world.translation) * 1000 for mark in marks]
    assert np.allclose(places, [each.position_mm for each in whole.reading.load_centers], atol=2e-6 * size)


def test_the_impression_lies_on_the_base_after_aligning(part, whole, array_of, case):
    run("alignment")
    unit = case.mm_per_unit * whole.base.factor
    truth = case.impression.vertices.astype(np.float32) * unit @ whole.alignment.matrix[:3, :3].T
    # An object's turn is kept with 32 bits.
    assert np.abs(array_of(part.impression) - truth - whole.alignment.matrix[:3, 3]).max() <= 1e-3


@pytest.mark.parametrize("scale_length", [0.001, 0.0254])
def test_a_scene_in_other_units_gives_the_same_part(scene, job_file, whole, array_of, scale_length):
    scene.unit_settings.scale_length = scale_length
    bpy.ops.padwright.load_job(filepath=str(job_file))
    run("pad")
    found = array_of(scene.padwright.pad)
    assert np.abs(found - whole.pad.mesh.vertices).max() <= 2e-6 * np.abs(found).max()


def test_moving_and_turning_scan_objects_changes_nothing_but_where_the_part_lies(part, inside, whole, array_of):
    part.base.location, part.base.rotation_euler = (1.0, -2.0, 0.5), (0.4, 0.2, 2.0)
    part.impression.location = (-3.0, 0.0, 0.0)
    run("pad")
    bpy.context.view_layer.update()
    pose = np.array(inside("blender.bridge").pose_of(part.base))
    expected = whole.pad.mesh.vertices @ pose[:3, :3].T + 1000 * pose[:3, 3]
    assert np.abs(array_of(part.pad) - expected).max() <= 2e-3  # meters from the origin, with 32 bits


def test_only_what_depends_on_a_change_is_done_again(part, inside):
    memory = inside("blender.stage_memory").memory()
    run("regions")
    bpy.ops.padwright.cut_regions()
    assert memory.worked_out == []
    before = part.fit_gap_mm
    part.fit_gap_mm = 0.4567  # as no other test has it: the memory is of the whole run
    assert inside("blender.state").stale(part, "pad") == "Settings of the pad changed since"
    assert inside("blender.state").stale(part, "reading") == ""
    bpy.ops.padwright.cut_regions()
    assert memory.worked_out == ["pad", "zones", "regions"]
    assert inside("blender.state").stale(part, "regions") == ""
    part.fit_gap_mm = before
    bpy.ops.padwright.cut_regions()
    assert memory.worked_out == []


def test_scale_residuals_are_those_of_the_fit(part, whole):
    run("scans")
    assert [length.is_fitted for length in part.lengths] == [True] * len(part.lengths)
    assert np.allclose([length.residual_mm for length in part.lengths], whole.base.fit.residuals_mm, atol=1e-5)
    assert part.base.scale[0] == pytest.approx(whole.base.factor / 1000.0, rel=1e-6)


def names_and_sizes():
    return {
        obj.name: (len(obj.data.vertices) if obj.data else 0, tuple(obj.matrix_world.translation))
        for obj in bpy.data.objects
    }


@pytest.mark.parametrize("stage", STAGES)
def test_undo_takes_a_stage_back_as_if_it_had_not_been(part, stage):
    before = list(STAGES)[list(STAGES).index(stage) - 1] if stage != "scans" else None
    if before:
        run(before)
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="base")
    there = names_and_sizes()
    stages = [each.name for each in part.stages]
    scales = [tuple(each.scale) for each in (part.base, part.impression)]
    assert getattr(bpy.ops.padwright, STAGES[stage])("EXEC_DEFAULT", True) == {"FINISHED"}
    bpy.ops.ed.undo()
    part = bpy.context.scene.padwright
    bpy.context.view_layer.update()
    assert names_and_sizes() == there
    assert [each.name for each in part.stages] == stages
    assert [tuple(each.scale) for each in (part.base, part.impression)] == scales
    bpy.ops.ed.redo()
    assert stage in [each.name for each in bpy.context.scene.padwright.stages]


def test_a_deleted_pad_is_built_anew(part):
    run("pad")
    bpy.data.objects.remove(part.pad)
    run("pad")
    assert part.pad is not None and part.pad.name in bpy.context.scene.objects


def test_tuning_gives_what_a_run_without_the_modeller_gives(part, inside, tmp_path):
    part.goal, part.sinkage_limit_mm = "even", 8.0
    run("load")
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "job.toml"))
    read, pipeline, progress = (inside(f"core.{name}") for name in ("job.read", "run.pipeline", "base.progress"))
    job = read.read_job(tmp_path / "job.toml")
    assert (job.target.goal, job.target.sinkage_limit_mm) == ("even", 8.0)
    alone = progress.drain(pipeline.run_job(job, tmp_path)).part.firmness
    memory, scene = inside("blender.stage_memory").memory(), inside("blender.scene")
    mine = memory.known(scene.read_scene(bpy.context, scene.work_folder()), scene.work_folder(), "load").firmness
    assert [zone.name for zone in mine.tuning.zones] == [zone.name for zone in alone.tuning.zones]
    assert np.array_equal(mine.loads[0][1].pressure_kpa, alone.loads[0][1].pressure_kpa)
    assert alone.tuning.traded == mine.tuning.traded


def test_what_the_artist_keeps_under_our_names_stays(part, scene):
    for name in ("Load Centers", "Regions"):
        theirs = bpy.data.collections.new(name)
        scene.collection.children.link(theirs)
        theirs.objects.link(bpy.data.objects.new(f"my {name}", None))
    for _ in range(2):
        run("regions")
    assert bpy.data.objects["my Load Centers"] is not None and bpy.data.objects["my Regions"] is not None
    ours = {each.name.split(".")[0]: each for each in bpy.data.collections["Padwright"].children}
    ours["Load Centers"].objects.link(bpy.data.objects.new("my mark", None))
    part.spacing_mm = 100.0
    bpy.ops.padwright.read_impression()
    assert "my mark" in bpy.data.objects
    assert len(ours["Load Centers"].objects) == 3
