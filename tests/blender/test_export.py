"""Files: the same from the scene as from the job that the scene saves."""

from __future__ import annotations

import json
from pathlib import Path

import bpy
import numpy as np
import pytest


@pytest.fixture
def planned(part):
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    return part


@pytest.fixture
def cut(planned, tmp_path):
    bpy.ops.padwright.cut_regions()
    planned.folder = str(tmp_path / "out")
    return planned


def headless(inside, job_file: Path) -> dict[str, bytes]:
    read, pipeline, progress = (inside(f"core.{name}") for name in ("job.read", "run.pipeline", "base.progress"))
    return dict(progress.drain(pipeline.run_job(read.read_job(job_file), job_file.parent)).files)


def regions_of(scene, inside) -> dict[str, bpy.types.Object]:
    return inside("blender.regions.hand_edits").regions(scene)


def move_a_vertex(obj) -> None:
    obj.data.vertices[0].co.x += 0.001
    obj.data.update()


def test_export_and_the_saved_job_give_the_same_files(cut, inside, tmp_path):
    bpy.ops.padwright.check_load()
    memory = inside("blender.stage_memory").memory()
    assert bpy.ops.padwright.export_part() == {"FINISHED"}
    assert memory.worked_out == []  # all was done before: it only packed
    assert bpy.ops.padwright.save_job(filepath=str(tmp_path / "saved" / "job.toml")) == {"FINISHED"}
    files = headless(inside, tmp_path / "saved" / "job.toml")
    written = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert set(written) == {*files, "SEAT-1.run.json"}
    for name, data in files.items():
        assert written[name] == data, name


def test_export_works_out_what_no_memory_holds(cut, inside, tmp_path):
    bpy.ops.padwright.export_part()
    first = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "seat.blend"))
    inside("blender.stage_memory")._memory = None
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "seat.blend"))
    bpy.context.scene.padwright.folder = str(tmp_path / "again")
    assert bpy.ops.padwright.export_part() == {"FINISHED"}
    assert inside("blender.stage_memory").memory().worked_out[0] == "scans"
    again = {path.name: path.read_bytes() for path in (tmp_path / "again").iterdir()}
    assert {name for name in first if first[name] != again[name]} == {"SEAT-1.run.json"}  # the seconds


def test_paint_goes_into_the_saved_job(planned, inside, tmp_path):
    part = planned
    flat = np.zeros(3 * len(part.pad.data.vertices), dtype=np.float32)
    part.pad.data.vertices.foreach_get("co", flat)
    along = flat.reshape(-1, 3)[:, 0]
    part.pad.vertex_groups["bones"].add(np.flatnonzero(along > np.median(along)).tolist(), 1.0, "REPLACE")
    bpy.ops.padwright.cut_regions()
    part.folder = str(tmp_path / "out")
    bpy.ops.padwright.export_part()
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "saved" / "job.toml"))
    assert (tmp_path / "saved" / "seat-1.zone-1.npz").exists()
    files = headless(inside, tmp_path / "saved" / "job.toml")
    assert all((tmp_path / "out" / name).read_bytes() == data for name, data in files.items())


def test_export_into_files_of_others_changes_nothing(cut, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "SEAT-1.settings.json").write_text("mine")
    with pytest.raises(RuntimeError, match="Error"):
        bpy.ops.padwright.export_part()
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["SEAT-1.settings.json"]
    assert (tmp_path / "out" / "SEAT-1.settings.json").read_text() == "mine"


def test_a_folder_that_cannot_be_one_is_told_before_any_work(cut, inside, tmp_path, monkeypatch):
    (tmp_path / "out").write_text("mine")
    memory = inside("blender.stage_memory").memory()
    monkeypatch.setattr(memory, "run", lambda *_: pytest.fail("it began to work"))
    with pytest.raises(RuntimeError, match=r"is a file, not a folder\. Choose another folder"):
        bpy.ops.padwright.export_part()


def test_a_saved_scene_has_a_folder_beside_it(inside, tmp_path):
    folder = inside("blender.scene").target_folder
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "seat.blend"))
    assert folder("") == tmp_path / "out"
    assert folder("//parts") == tmp_path / "parts"
    assert folder(str(tmp_path)) == tmp_path


def test_selected_regions_are_written_as_a_selection_like_the_command_line_does(cut, scene, inside, tmp_path):
    ours = regions_of(scene, inside)
    chosen = sorted(ours)[0]
    ours[chosen].select_set(True)
    assert bpy.ops.padwright.export_selection() == {"FINISHED"}
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "saved" / "job.toml"))
    cli = inside("cli.main")
    assert cli.main(["run", str(tmp_path / "saved" / "job.toml"), "--only", chosen]) == 0
    written, expected = (
        {path.name: path.read_bytes() for path in folder.iterdir()}
        for folder in (tmp_path / "out", tmp_path / "saved" / "out")
    )
    assert written.keys() == expected.keys() and f"SEAT-1.selection.{chosen}.stl" in written
    assert [name for name in written if written[name] != expected[name]] == ["SEAT-1.selection.json"]  # the seconds
    document = json.loads(written["SEAT-1.selection.json"])
    assert document["selection"]["left_out"] == [each for each in ours if each != chosen]


def test_without_a_selected_region_the_selection_says_what_to_do(cut, scene):
    with pytest.raises(RuntimeError, match="Select regions first"):
        bpy.ops.padwright.export_selection()


def test_a_copy_of_a_region_is_no_region_and_survives_the_next_cut(cut, scene, inside):
    region = next(iter(regions_of(scene, inside).values()))
    copy = region.copy()
    copy.data = region.data.copy()
    region.users_collection[0].objects.link(copy)
    copy.select_set(True)
    with pytest.raises(RuntimeError, match=r"is a copy of a region.*Deselect it"):
        bpy.ops.padwright.export_selection()
    name = copy.name
    bpy.ops.padwright.cut_regions()
    assert name in scene.objects
    assert copy not in regions_of(scene, inside).values()


@pytest.mark.parametrize("change", ["move", "delete", "scale", "modifier"])
def test_a_region_changed_by_hand_is_not_left_out_in_silence(cut, scene, inside, tmp_path, change):
    region = next(iter(regions_of(scene, inside).values()))
    if change == "move":
        move_a_vertex(region)
    elif change == "delete":
        import bmesh

        made = bmesh.new()
        made.from_mesh(region.data)
        made.faces.ensure_lookup_table()
        bmesh.ops.delete(made, geom=[made.faces[0]], context="FACES_ONLY")
        made.to_mesh(region.data)
        made.free()
    elif change == "scale":
        region.scale = (1.1, 1.1, 1.1)
        bpy.context.view_layer.update()
    else:
        region.modifiers.new("Smooth", "SMOOTH")
    with pytest.raises(RuntimeError, match=r"changed by hand.*duplicate the object; then press Cut Regions"):
        bpy.ops.padwright.export_part()
    assert not (tmp_path / "out").exists()
    bpy.ops.padwright.cut_regions()
    assert bpy.ops.padwright.export_part() == {"FINISHED"}


def test_a_region_moved_to_look_inside_or_shown_otherwise_is_no_change(cut, scene, inside):
    region = next(iter(regions_of(scene, inside).values()))
    region.location.z += 0.1
    region.rotation_euler.x = 0.3
    region.hide_set(True)
    bpy.context.view_layer.update()
    assert bpy.ops.padwright.export_part() == {"FINISHED"}


def test_a_pad_changed_by_hand_stops_what_rests_on_it(planned, tmp_path, capfd):
    move_a_vertex(planned.pad)
    for operator in (bpy.ops.padwright.plan_zones, bpy.ops.padwright.cut_regions):
        with pytest.raises(RuntimeError, match=r"changed by hand.*press Build Pad"):
            operator()
    assert bpy.ops.padwright.save_job(filepath=str(tmp_path / "job.toml")) == {"FINISHED"}
    assert "changed by hand; a job does not hold that" in "".join(capfd.readouterr())
    assert bpy.ops.padwright.build_pad() == {"FINISHED"}
    assert "changed by hand" in planned.stages["pad"].lines  # building it anew says what it replaced
    assert bpy.ops.padwright.plan_zones() == {"FINISHED"}


def test_paint_and_results_are_no_change_by_hand(planned, scene, inside):
    planned.pad.vertex_groups["bones"].add([0, 1, 2], 1.0, "REPLACE")
    bpy.ops.padwright.cut_regions()
    bpy.ops.padwright.check_load()
    assert inside("blender.regions.hand_edits").edited(scene) == []


def test_a_region_that_was_deleted_is_told(cut, scene, inside, capfd):
    obj = next(iter(regions_of(scene, inside).values()))
    bpy.data.objects.remove(obj)
    assert bpy.ops.padwright.export_part() == {"FINISHED"}
    assert "No longer in the scene" in "".join(capfd.readouterr())


def test_paint_after_the_cut_is_in_the_files_and_told(cut, scene, inside, tmp_path, capfd):
    cut.folder = str(tmp_path / "files")
    bpy.ops.padwright.export_part()
    assert "press Cut Regions" not in capfd.readouterr().out  # the scene shows what was written
    group = cut.pad.vertex_groups["bones"]
    group.add(list(range(len(cut.pad.data.vertices))), 1.0, "REPLACE")
    bpy.ops.padwright.export_part()
    assert "as of now, the scene as before; press Cut Regions to see them" in capfd.readouterr().out


def taken(part) -> dict[str, str]:
    return {row.name: row.now for row in part.found.takes}


def test_what_the_print_takes_is_known_with_the_load_and_is_what_the_run_tells(cut, tmp_path):
    assert not cut.found.takes
    bpy.ops.padwright.check_load()
    rows = taken(cut)
    assert set(rows) == {"Mass", "Filament", "Print Time"}
    bpy.ops.padwright.export_part()
    told = json.loads((tmp_path / "out" / "SEAT-1.run.json").read_text())["print"]
    assert rows == taken(cut)
    assert float(rows["Mass"].split(" g")[0]) == pytest.approx(told["mass_g"]["value"], abs=0.5)
    low, high = (float(each) for each in rows["Print Time"].removesuffix(" h").split(" to "))
    assert (low, high) == pytest.approx((told["time_h"]["low"], told["time_h"]["high"]), abs=0.5)
    assert "supports" in cut.found.takes_not and "drying" in cut.found.takes_not


def test_what_the_print_takes_comes_with_the_files_where_no_load_was_checked(cut, inside):
    facts = inside("blender.packing.takes")
    cut.body_mass_kg = 0.0
    bpy.ops.padwright.export_part()
    assert taken(cut)
    assert facts.is_of_now(cut)
    files_of = inside("blender.state").files_of
    assert files_of(cut)[1]
    cut.revision = "B"
    assert not files_of(cut)[1]  # the files name the print before
    cut.revision = "1"
    assert files_of(cut)[1]
    cut.kept = json.dumps({**json.loads(cut.kept or "{}"), "printer": {"flow_pct": 105.0}})
    assert not facts.is_of_now(cut) and not files_of(cut)[1]
    bpy.ops.padwright.export_part()
    assert facts.is_of_now(cut) and files_of(cut)[1]
    cut.least_thickness_mm += 1.0
    assert not facts.is_of_now(cut)  # the panel says that it is of before
