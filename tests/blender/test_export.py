"""Files: the same from the scene as from the job that the scene saves."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest


@pytest.fixture
def planned(part):
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    return part


def headless(inside, job_file: Path) -> dict[str, bytes]:
    read, pipeline, progress = (inside(f"core.{name}") for name in ("job_read", "pipeline", "progress"))
    return dict(progress.drain(pipeline.run_job(read.read_job(job_file), job_file.parent)).files)


def test_export_and_the_saved_job_give_the_same_files(planned, inside, tmp_path):
    part = planned
    bpy.ops.padwright.cut_regions()
    part.folder = str(tmp_path / "out")
    assert bpy.ops.padwright.export_part() == {"FINISHED"}
    assert bpy.ops.padwright.save_job(filepath=str(tmp_path / "saved" / "job.toml")) == {"FINISHED"}
    files = headless(inside, tmp_path / "saved" / "job.toml")
    written = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert set(written) == {*files, "SEAT-1.run.json"}
    for name, data in files.items():
        assert written[name] == data, name


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


def test_saving_and_loading_gives_the_same_job(part, inside, tmp_path):
    scene = inside("blender.scene")
    first, second = tmp_path / "first", tmp_path / "second"
    bpy.ops.padwright.save_job(filepath=str(first / "job.toml"))
    bpy.ops.padwright.load_job(filepath=str(first / "job.toml"))
    bpy.ops.padwright.save_job(filepath=str(second / "job.toml"))
    assert (first / "job.toml").read_text() == (second / "job.toml").read_text()
    for name in ("base", "impression"):
        file = scene.scan_name(part, name)
        assert (first / file).read_bytes() == (second / file).read_bytes()


def test_a_scan_that_was_not_saved_from_here_is_never_overwritten(part, inside, tmp_path):
    theirs = tmp_path / inside("blender.scene").scan_name(part, "base")
    theirs.write_bytes(b"ply\nmy only scan\n")
    with pytest.raises(RuntimeError, match="was not saved by Padwright"):
        bpy.ops.padwright.save_job(filepath=str(tmp_path / "job.toml"))
    assert theirs.read_bytes() == b"ply\nmy only scan\n"
    assert not (tmp_path / "job.toml").exists()


def test_export_into_files_of_others_changes_nothing(planned, tmp_path):
    part = planned
    bpy.ops.padwright.cut_regions()
    (tmp_path / "SEAT-1.settings.json").write_text("mine")
    part.folder = str(tmp_path)
    with pytest.raises(RuntimeError, match="Error"):
        bpy.ops.padwright.export_part()
    assert [path.name for path in tmp_path.iterdir()] == ["SEAT-1.settings.json"]
    assert (tmp_path / "SEAT-1.settings.json").read_text() == "mine"


def test_what_no_panel_shows_survives(scene, job_file, inside, tmp_path):
    text = job_file.read_text() + "share = 0.5\n[datum]\nsymmetric = true\n"
    job_file.with_name("more.toml").write_text(text)
    bpy.ops.padwright.load_job(filepath=str(job_file.with_name("more.toml")))
    job = inside("blender.scene").read_scene(bpy.context, tmp_path)
    assert job.datum.symmetric and job.load.share == 0.5


def test_a_saved_scene_has_a_folder_beside_it(inside, tmp_path):
    folder = inside("blender.operators_export")._folder
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "seat.blend"))
    assert folder("") == tmp_path / "out"
    assert folder("//parts") == tmp_path / "parts"
    assert folder(str(tmp_path)) == tmp_path
