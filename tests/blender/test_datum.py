"""The part's own axes: from six points, from the mid-plane, and without either."""

from __future__ import annotations

import bpy
import numpy as np
import pytest


def set_points(part, inside, points):
    for index, point in enumerate(points):
        inside("blender.scans.datum").set_place(part, index, point)
    part.datum = "points"


def some_points(part):
    """Return six vertices of the base that span a plane, a line and an origin, its own numbers."""
    flat = np.zeros(3 * len(part.base.data.vertices), dtype=np.float32)
    part.base.data.vertices.foreach_get("co", flat)
    places = flat.reshape(-1, 3)
    x, y = places[:, 0], places[:, 1]
    picks = [x.argmin(), x.argmax(), y.argmax(), y.argmin(), (x + y).argmax(), (x - y).argmin()]
    return places[picks].astype(float)


def axes():
    return next(obj for obj in bpy.data.objects if obj.name.endswith("Part Frame"))


def test_six_points_make_the_frame_that_a_run_without_the_modeller_makes(part, inside, tmp_path, case):
    points = some_points(part)
    set_points(part, inside, points)
    where = [tuple(obj.matrix_world.translation) for obj in (part.base, part.impression)]
    assert bpy.ops.padwright.lay_on_datum() == {"FINISHED"}
    assert [tuple(obj.matrix_world.translation) for obj in (part.base, part.impression)] == where
    true_mm = points * case.mm_per_unit * part.base.scale[0] * 1000 / case.mm_per_unit
    expected = inside("core.geometry.frames").datum_frame(true_mm[:3], true_mm[3:5], true_mm[5])
    found = np.array(axes().matrix_world)
    found[:3, 3] *= 1000
    # The frame's z may look the other way than the first three points turn; the base's outside decides.
    assert np.abs(np.abs(found[:3, :3]) - np.abs(np.linalg.inv(expected)[:3, :3])).max() < 1e-5
    job = inside("blender.scene").read_scene(bpy.context, tmp_path)
    assert np.allclose(job.datum.plane, points[:3]) and np.allclose(job.datum.line, points[3:5])
    assert np.allclose(job.datum.point, points[5])
    reached = inside("blender.stage_memory").memory().known(job, tmp_path, "scans")
    assert np.abs(found - np.linalg.inv(reached.to_part)).max() < 1e-3


def test_the_pad_lies_on_the_base_whatever_its_frame(part, inside, array_of):
    bpy.ops.padwright.build_pad()
    plain = array_of(part.pad)
    set_points(part, inside, some_points(part))
    assert inside("blender.state").stale(part, "pad") == "Settings of the scans changed since"
    bpy.ops.padwright.build_pad()
    assert {"alignment", "pad"} <= set(inside("blender.stage_memory").memory().worked_out)
    moved = array_of(part.pad)
    # Another frame, another grid, the same part: its box agrees to a grid step or so.
    assert np.abs(plain.min(axis=0) - moved.min(axis=0)).max() < 1.5
    assert np.abs(plain.max(axis=0) - moved.max(axis=0)).max() < 1.5


def test_the_mid_plane_gives_a_frame_too(part, inside):
    part.datum = "symmetric"
    assert bpy.ops.padwright.lay_on_datum() == {"FINISHED"}
    first = np.array(axes().matrix_world)
    part.datum = "none"
    bpy.ops.padwright.lay_on_datum()
    assert sum(obj.name.endswith("Part Frame") for obj in bpy.data.objects) == 1
    assert np.abs(np.array(axes().matrix_world) - np.array(inside("blender.bridge").pose_of(part.base))).max() < 1e-6
    assert np.abs(first - np.array(axes().matrix_world)).max() > 1e-3


def test_points_come_from_the_cursor_or_the_selected_vertex(part, inside, case):
    vertex = part.base.data.vertices[100]
    bpy.context.scene.cursor.location = part.base.matrix_world @ vertex.co
    assert bpy.ops.padwright.set_datum_point(place="3") == {"FINISHED"}
    assert np.allclose(part.datum_places[3].numbers, vertex.co, atol=1e-3 / case.mm_per_unit)
    assert [place.is_set for place in part.datum_places] == [False] * 3 + [True] + [False] * 2
    assert part.datum == "points"
    for obj in bpy.context.selected_objects:
        obj.select_set(False)
    bpy.context.view_layer.objects.active = part.base
    part.base.select_set(True)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="DESELECT")
    bpy.ops.object.mode_set(mode="OBJECT")
    part.base.data.vertices[250].select = True
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.padwright.set_datum_point(place="5")
    bpy.ops.object.mode_set(mode="OBJECT")
    assert np.allclose(part.datum_places[5].numbers, part.base.data.vertices[250].co)


def test_what_is_missing_is_told(part):
    bpy.ops.padwright.set_datum_point(place="0")
    with pytest.raises(RuntimeError, match="1 of 6 points are set"):
        bpy.ops.padwright.build_pad()
    with pytest.raises(RuntimeError, match="1 of 6 points are set"):
        bpy.ops.padwright.lay_on_datum()
    assert bpy.ops.padwright.clear_datum() == {"FINISHED"}
    with pytest.raises(RuntimeError, match="No point is set"):
        bpy.ops.padwright.clear_datum()
    assert part.datum == "none"
    assert bpy.ops.padwright.lay_on_datum() == {"FINISHED"}


def test_points_on_one_line_are_told_by_the_stage(part, inside):
    points = some_points(part)
    points[1] = points[0] + 0.25 * (points[2] - points[0])
    set_points(part, inside, points)
    with pytest.raises(RuntimeError, match="lie on one line"):
        bpy.ops.padwright.lay_on_datum()


def test_a_job_s_datum_is_loaded_and_saved(scene, job_file, inside, tmp_path):
    text = job_file.read_text() + (
        "[datum]\nplane = [[0.5, 0, 0], [100, 0.1, 0], [0, 80, 0]]\nline = [[0, 0, 0], [10, 0, 0]]\npoint = [1, 2, 3]\n"
    )
    path = job_file.with_name("datum.toml")
    path.write_text(text)
    bpy.ops.padwright.load_job(filepath=str(path))
    job = inside("blender.scene").read_scene(bpy.context, tmp_path)
    assert job.datum == inside("core.job.read").read_job(path).datum


@pytest.mark.parametrize(("name", "values"), [("set_datum_point", {"place": "2"}), ("lay_on_datum", {})])
def test_undo_takes_it_back(part, name, values):
    bpy.ops.ed.undo_push(message="base")
    before = sorted(obj.name for obj in bpy.data.objects), tuple(part.base.scale)
    assert getattr(bpy.ops.padwright, name)("EXEC_DEFAULT", True, **values) == {"FINISHED"}
    bpy.ops.ed.undo()
    part = bpy.context.scene.padwright
    assert (sorted(obj.name for obj in bpy.data.objects), tuple(part.base.scale)) == before
    assert not part.datum_places and part.datum == "none"
