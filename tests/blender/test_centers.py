"""Load centers: each can be switched off or named in the window, and stays so."""

from __future__ import annotations

import json

import bpy
import numpy as np
import pytest
from tests.blender.test_panels import Layout, draw


@pytest.fixture
def read(part):
    bpy.ops.padwright.read_impression()
    assert len(part.centers) >= 2
    return part


def marks(part):
    return [obj for obj in bpy.context.scene.objects if "padwright_load_center" in obj]


def used(part, inside):
    memory, scene = inside("blender.stage_memory").memory(), inside("blender.scene")
    job = scene.read_scene(bpy.context, scene.work_folder(), with_zones=False)
    return memory.known(job, scene.work_folder(), "reading").reading.load_centers


def test_the_list_has_what_was_found(read, inside):
    found = used(read, inside)
    rows = [center for center in read.centers if center.is_used]
    assert [row.number for row in rows] == [each.number for each in found]
    assert [row.depth_mm for row in rows] == pytest.approx([each.depth_mm for each in found], rel=1e-6)
    assert not any(center.is_said for center in read.centers)
    assert "load_centers" not in inside("blender.scene").scene_tables(read)["impression"]
    assert "[centers]" in draw("impression")
    texts: list[str] = []
    bpy.types.PADWRIGHT_UL_centers.draw_item(None, bpy.context, Layout(texts), None, read.centers[1], 0, None, "", 1)
    assert "2" in texts  # as the mark in the viewport says, with or without a name
    assert inside("blender.state").stale(read, "reading") == ""


def test_one_that_is_switched_off_stays_so(read, inside):
    count = len(used(read, inside))
    read.centers[0].is_used = False
    assert inside("blender.state").stale(read, "reading") != ""
    bpy.ops.padwright.read_impression()
    assert len(used(read, inside)) == count - 1 == len(marks(read))
    assert not read.centers[0].is_used and read.centers[0].why == "switched off"
    assert inside("blender.state").stale(read, "reading") == ""
    for operator in ("read_impression", "build_pad", "plan_zones"):
        getattr(bpy.ops.padwright, operator)()
    read.body_side_smoothing_mm = 1.0
    bpy.ops.padwright.read_impression()
    assert len(used(read, inside)) == count - 1 == len(marks(read))
    read.center_index = 0
    assert "Not used: switched off." in " ".join(draw("impression"))
    read.centers[0].is_used = True
    bpy.ops.padwright.read_impression()
    assert len(used(read, inside)) == count == len(marks(read))


def test_a_deleted_mark_is_switched_off_and_does_not_come_back(read, inside):
    count = len(marks(read))
    before = inside("blender.state").stale(read, "reading")
    gone = read.centers[0].mark
    with bpy.context.temp_override(selected_objects=[gone], active_object=gone, object=gone):
        assert bpy.ops.object.delete(confirm=False) == {"FINISHED"}
    assert not before and inside("blender.state").stale(read, "reading") != ""
    texts: list[str] = []
    bpy.types.PADWRIGHT_UL_centers.draw_item(None, bpy.context, Layout(texts), None, read.centers[0], 0, None, "", 0)
    assert "deleted" in texts
    bpy.ops.padwright.build_pad()  # a later button is enough
    assert len(used(read, inside)) == count - 1 == len(marks(read))
    assert not read.centers[0].is_used and read.centers[0].is_said
    bpy.ops.padwright.read_impression()
    assert len(marks(read)) == count - 1


def test_a_name_is_that_of_the_mark_and_of_the_result(read, inside):
    read.centers[1].name = "left"
    bpy.ops.padwright.read_impression()
    assert read.centers[1].name == "left" and "left" in [obj.name for obj in marks(read)]
    assert [each.name for each in used(read, inside)].count("left") == 1
    assert any("left: " in label.text for label in inside("blender.view.overlay_items").gather(bpy.context).labels)
    read.centers[0].name = "left"
    with pytest.raises(RuntimeError, match="left"):
        bpy.ops.padwright.read_impression()


def test_it_goes_into_the_job_and_back(read, inside, tmp_path):
    read.centers[0].is_used, read.centers[1].name = False, "left"
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "job.toml"))
    given = inside("core.job.read").read_job(tmp_path / "job.toml").impression.load_centers
    assert [(each.use, each.name) for each in given] == [(False, ""), (True, "left")]
    count = len(used_rows(read))
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    bpy.ops.padwright.load_job(filepath=str(tmp_path / "job.toml"))
    part = bpy.context.scene.padwright
    assert [(center.is_used, center.name) for center in part.centers] == [(False, ""), (True, "left")]
    bpy.ops.padwright.read_impression()
    assert len(used_rows(part)) == count and used_rows(part)[0].name == "left"
    again = inside("blender.scene").scene_tables(part)["impression"]["load_centers"]
    assert np.allclose([each["near"] for each in again], [each.near for each in given], rtol=1e-6)


def used_rows(part):
    return [center for center in part.centers if center.is_used]


def test_what_was_said_of_one_that_is_not_found_is_kept(read, inside):
    read.centers[0].is_used = False
    read.centers[0].near = [read.centers[0].near[0] + 60.0, *read.centers[0].near[1:]]
    bpy.ops.padwright.read_impression()
    lost = [center for center in read.centers if center.number == 0]
    assert len(lost) == 1 and lost[0].is_said and not lost[0].is_used
    texts: list[str] = []
    bpy.types.PADWRIGHT_UL_centers.draw_item(None, bpy.context, Layout(texts), None, lost[0], 0, None, "", 3)
    assert "not found" in texts


def test_undo_brings_the_list_and_the_marks_back(read):
    before = [(center.number, center.is_used, center.mark.name) for center in read.centers if center.mark]
    read.centers[0].is_used = False
    bpy.ops.ed.undo_push(message="off")
    bpy.ops.padwright.read_impression("EXEC_DEFAULT", True)
    bpy.ops.ed.undo()
    part = bpy.context.scene.padwright
    assert [center.mark.name for center in part.centers if center.mark] == [name for *_, name in before]
    assert len(marks(part)) == len(before)


def test_zones_that_take_only_named_ones_stay_as_the_job_says(read, inside):
    load = inside("blender.scene_load").load_zone
    zone = read.zones.add()
    load(zone, {"name": "one", "level": 4.0, "source": "load_centers", "radius_mm": 20.0, "load_centers": ["left"]})
    assert zone.source == "kept" and '"left"' in zone.kept


def test_a_scene_of_an_earlier_version_keeps_what_it_said(read, inside):
    kept = {
        **json.loads(read.kept or "{}"),
        "limits": {"fill_density_pct": [7.0, 33.0]},
        "impression": {"load_centres": [{"near": [1.0, 2.0, 3.0]}], "load_centre_count": [1.0, 3.0]},
    }
    read.kept = json.dumps(kept)
    zone = read.zones.add()
    zone.name, zone.source = "one", "kept"
    zone.kept = json.dumps({"source": "load_centres", "radius_mm": 20.0})
    scene = inside("blender.scene")
    job = scene.read_with_zone(bpy.context, scene.work_folder(), len(read.zones) - 1)
    assert job.limits.solid_share_pct == (7.0, 33.0) and job.impression.load_center_count == (1.0, 3.0)
    assert job.impression.load_centers == ()  # the list in the panel says nothing of any
    assert job.zones[-1].source == "load_centers"


def test_a_remembered_stage_is_shown_when_the_scene_shows_another(part, inside):
    bpy.ops.padwright.build_pad()
    first = len(part.pad.data.vertices), part.pad.dimensions[:]
    part.cover_mm += 3.0
    bpy.ops.padwright.build_pad()
    part.cover_mm -= 3.0
    bpy.ops.padwright.plan_zones()  # the pad is remembered
    assert (len(part.pad.data.vertices), part.pad.dimensions[:]) == first
    assert inside("blender.state").stale(part, "pad") == ""
