"""The scene's part saved as a job: it reads back the same, with every file it names beside it."""

from __future__ import annotations

import shutil

import bpy
import pytest


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
    assert [path.name for path in tmp_path.iterdir()] == [theirs.name]


def test_what_no_panel_shows_survives(scene, job_file, inside, tmp_path):
    text = job_file.read_text() + "share = 0.5\n[datum]\nsymmetric = true\n"
    job_file.with_name("more.toml").write_text(text)
    bpy.ops.padwright.load_job(filepath=str(job_file.with_name("more.toml")))
    job = inside("blender.scene").read_scene(bpy.context, tmp_path)
    assert job.datum.symmetric and job.load.share == 0.5


@pytest.fixture
def job_with_files(job_file, inside, tmp_path):
    """A job with a material card and a pressure grid of one's own, in folders of their own."""
    folder = tmp_path / "given"
    for name in ("cards", "grids"):
        (folder / name).mkdir(parents=True)
    for scan in ("base.ply", "impression.ply"):
        shutil.copy(job_file.with_name(scan), folder)
    shipped = inside("core.base.resources").shared_path("materials") / "tpu_85a.toml"
    (folder / "cards" / "mine.toml").write_bytes(shipped.read_bytes())
    (folder / "grids" / "seat.csv").write_text("1,2,3\n4,5,6\n7,8,9\n")
    text = job_file.read_text().replace(
        '[[zones]]\nname = "rest"',
        '[[zones]]\nname = "pressed"\nlevel = 3\nsource = "pressure_grid"\nfile = "grids/seat.csv"\nfrom_kpa = 5.0\n'
        "places = [{cell = [0, 0], point = [0, 0, 0]}, {cell = [2, 0], point = [1, 0, 0]}, "
        '{cell = [0, 2], point = [0, 1, 0]}]\n[[zones]]\nname = "rest"',
    )
    (folder / "job.toml").write_text(text + '[material]\ncard = "cards/mine.toml"\n')
    return folder / "job.toml"


def test_files_from_outside_lie_beside_the_saved_job_so_that_it_can_be_moved(scene, job_with_files, inside, tmp_path):
    bpy.ops.padwright.load_job(filepath=str(job_with_files))
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "saved" / "job.toml"))
    shutil.move(tmp_path / "saved", tmp_path / "elsewhere")
    shutil.rmtree(job_with_files.parent)
    job = inside("core.job.read").read_job(tmp_path / "elsewhere" / "job.toml")
    assert job.material.card == "mine.toml"
    assert [zone.file for zone in job.zones if zone.file] == ["seat.csv"]
    names = {path.name for path in (tmp_path / "elsewhere").iterdir()}
    assert names == {"job.toml", "mine.toml", "seat.csv", "seat-1.base.ply", "seat-1.impression.ply"}


def test_a_file_from_outside_that_is_gone_stops_the_save(scene, job_with_files, tmp_path):
    bpy.ops.padwright.load_job(filepath=str(job_with_files))
    (job_with_files.parent / "grids" / "seat.csv").unlink()
    with pytest.raises(RuntimeError, match=r"seat\.csv.* cannot be read"):
        bpy.ops.padwright.save_job(filepath=str(tmp_path / "saved" / "job.toml"))
    assert not (tmp_path / "saved").exists()


def test_a_field_counts_as_the_persons_once_it_differs_from_the_card_or_the_opened_job_gave_it(part, inside, tmp_path):
    read = inside("core.job.read").read_job

    def saved() -> set[str]:
        assert bpy.ops.padwright.save_job(filepath=str(tmp_path / "job.toml")) == {"FINISHED"}
        return set(read(tmp_path / "job.toml").given)

    before = saved()
    assert "load.body_mass_kg" in before  # the job that was opened gave it
    assert not {"printer.nozzle_mm", "printer.bed_mm", "material.card", "pad.fit_gap_mm"} & before
    part.nozzle_mm = 0.6
    assert saved() == before | {"printer.nozzle_mm"}
