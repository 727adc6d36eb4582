"""What an artist is told when something is missing or wrong."""

from __future__ import annotations

import bpy
import pytest


def says(operator: str, text: str, **values) -> None:
    with pytest.raises(RuntimeError, match=text):
        getattr(bpy.ops.padwright, operator)(**values)


@pytest.mark.parametrize(
    "operator",
    [
        "prepare_scans",
        "align_scans",
        "read_impression",
        "build_pad",
        "plan_zones",
        "cut_regions",
        "check_load",
        "export_part",
    ],
)
def test_each_stage_asks_for_a_part_first(operator):
    says(operator, "Start a part first")


def test_stages_ask_for_what_they_need_in_order(part):
    says("plan_zones", "Build the pad first")
    says("cut_regions", "Plan the zones first")
    says("export_part", "Cut the regions first")
    impression, part.impression = part.impression, None
    says("align_scans", "Choose or import the impression scan first")
    says("build_pad", "Choose or import the impression scan first")
    part.base, part.impression = None, impression
    says("prepare_scans", "Choose or import the base scan first")


def test_an_object_that_is_no_mesh_is_named(part):
    part.base = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "POINT"))
    says("prepare_scans", '"lamp" is no mesh')


def test_stages_need_object_mode(part):
    bpy.context.view_layer.objects.active = part.base
    bpy.ops.object.mode_set(mode="EDIT")
    says("prepare_scans", "Go back to Object Mode first")
    says("load_job", "Go back to Object Mode first", filepath="x")
    says("import_scan", "Go back to Object Mode first", filepath="x")


def test_a_deleted_scan_is_missed(part):
    bpy.data.objects.remove(part.base)
    says("prepare_scans", "Choose or import the base scan first")


def test_check_lengths_must_be_complete(part):
    bpy.ops.padwright.add_length()
    says("prepare_scans", "Check length 3 has no length by hand")
    part.lengths[2].measured_mm = 10.0
    says("prepare_scans", "Check length 3 needs two different points")


def test_pairs_must_be_complete(part):
    bpy.ops.padwright.add_pair()
    bpy.ops.padwright.set_pair_point(scan="base")
    says("align_scans", "1 point pair with one point only: set the other")


def test_operators_on_lists_ask_for_a_row(scene):
    says("remove_length", "Add a check length first")
    says("remove_pair", "Add a point pair first")
    bpy.ops.padwright.start_part()
    scene.padwright.zones.clear()
    says("remove_zone", "Add a zone first")


def test_a_wrong_unit_is_told_with_the_likely_one(part):
    part.base_unit = part.impression_unit = "in"
    part.lengths.clear()
    says("prepare_scans", "The unit is likely")


def test_a_damaged_file_is_told_with_its_place(scene, tmp_path):
    bpy.ops.padwright.start_part()
    file = tmp_path / "cut.ply"
    file.write_bytes(b"ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n")
    before = len(bpy.data.objects)
    says("import_scan", "cut off|ends|end_header", filepath=str(file))
    says("import_scan", "cannot be read", filepath=str(tmp_path / "none.ply"))
    assert len(bpy.data.objects) == before


def test_a_job_with_faults_changes_nothing(part, tmp_path):
    file = tmp_path / "job.toml"
    file.write_text('schema = 1\n[part]\nname = "x"\nnumber = "X"\nfamily = "sofa"\n[base]\nscan = "b.ply"\n')
    says("load_job", "sofa", filepath=str(file))
    assert (part.number, part.base is not None) == ("SEAT-1", True)


def test_names_that_files_cannot_have_are_refused(scene):
    says("start_part", "The part number cannot be used", number="../x")
    assert not scene.padwright.is_started


def test_protective_gear_is_asked_for(scene):
    says("start_part", "tick", family="liner_pad")
    assert not scene.padwright.is_started
    bpy.ops.padwright.start_part(family="liner_pad", is_no_certified_gear=True)
    assert '"certified_gear": false' in scene.padwright.kept


def test_an_object_without_faces_is_no_scan(scene):
    bpy.ops.padwright.start_part()
    says("use_object", "Select a mesh object first", scan="base")
    obj = bpy.data.objects.new("bare", bpy.data.meshes.new("bare"))
    scene.collection.objects.link(obj)
    bpy.context.view_layer.objects.active = obj
    says("use_object", '"bare" has no face', scan="base")


def test_an_unsaved_scene_has_no_folder_of_its_own(part):
    for stage in ("build_pad", "plan_zones", "cut_regions"):
        getattr(bpy.ops.padwright, stage)()
    assert part.folder == ""
    says("export_part", "There is no folder to write to")


def test_the_load_check_asks_for_a_load(part):
    says("check_load", "Cut the regions first")
    for stage in ("build_pad", "plan_zones", "cut_regions"):
        getattr(bpy.ops.padwright, stage)()
    part.body_mass_kg = 0.0
    says("check_load", "Give the body's mass first")
    part.press = "inward"
    says("check_load", "Give the mean grip pressure first")
    part.press, part.body_mass_kg, part.goal = "given", 70.0, "relieve"
    says("check_load", "Mark the zones to relieve first")


def test_scans_give_way_to_results_without_going_stale(part):
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    bpy.ops.padwright.cut_regions()
    assert not part.base.visible_get() and not part.impression.visible_get()
    bpy.ops.padwright.prepare_scans()
    part.base.modifiers.new("Smooth", "SMOOTH").iterations = 1
    bpy.ops.padwright.cut_regions()
    assert part.base.visible_get() and part.base.display_type == "BOUNDS"  # its modifier is worked out


def test_hidden_scans_that_cannot_be_read_are_said(part):
    part.base.hide_set(True)
    bpy.ops.padwright.add_length()
    says("set_length_end", '"base" is hidden. Show it', end="start")
    part.lengths.remove(len(part.lengths) - 1)
    assert bpy.ops.padwright.prepare_scans() == {"FINISHED"}  # without modifiers all is known; it is shown again
    part.base.hide_set(True)
    part.base.modifiers.new("Smooth", "SMOOTH")
    says("prepare_scans", '"base" is hidden and has modifiers')
