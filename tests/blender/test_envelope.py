"""The artist's own solid in place of the clay."""

from __future__ import annotations

import json

import bpy
import numpy as np
import pytest


def box(size_mm, place_mm, name="Block", open_end=False):
    """Make a box as an artist does, in a scene in meters."""
    half = np.array(size_mm) / 2000.0
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * half
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(corners.tolist(), [], faces[:-1] if open_end else faces)
    mesh.update()
    obj = bpy.data.objects.new(name, mesh)
    obj.location = np.array(place_mm) / 1000.0
    bpy.context.scene.collection.objects.link(obj)
    bpy.context.view_layer.update()
    return obj


@pytest.fixture
def flat(scene, inside):
    """A flat base, 200 by 160 mm, and no impression: the part has a given press direction."""
    bpy.ops.mesh.primitive_grid_add(x_subdivisions=100, y_subdivisions=80, size=1.0)
    base = bpy.context.active_object
    base.scale = (0.2, 0.16, 1.0)
    bpy.ops.object.transform_apply(scale=True)
    base.name = "Flat"
    assert bpy.ops.padwright.start_part(family="seat_pad", unit="mm") == {"FINISHED"}
    part = scene.padwright
    bpy.ops.padwright.use_object(scan="base")
    part.press, part.press_vector = "given", (0.0, 0.0, -1.0)
    part.fit_gap_mm, part.rim_radius_mm, part.least_thickness_mm = 0.5, 0.0, 4.0
    part.zones.clear()
    bpy.ops.padwright.add_zone()
    part.zones[0].source = "rest"
    return part


def volume(part):
    return float(part.stages["pad"].lines.split(" has ")[1].split(" cm3")[0])


def headless(inside, path):
    job_read, pipeline, progress = (inside(f"core.{name}") for name in ("job.read", "run.pipeline", "base.progress"))
    return progress.drain(pipeline.run_job(job_read.read_job(path), path.parent))


def test_an_envelope_less_the_base_is_the_pad(flat):
    part = flat
    with pytest.raises(RuntimeError, match="or an envelope of your own"):
        bpy.ops.padwright.build_pad()
    part.envelope = box((100.0, 80.0, 40.0), (0.0, 0.0, 0.0))
    assert bpy.ops.padwright.build_pad() == {"FINISHED"}
    # Half of the block stands over the base, less the gap of half a mm.
    assert volume(part) == pytest.approx(100 * 80 * 19.5 / 1000, rel=0.02)
    part.press = "auto"
    with pytest.raises(RuntimeError, match="Without an impression, give the press direction"):
        bpy.ops.padwright.build_pad()


def test_where_the_envelope_is_in_the_scene_is_where_it_counts(flat, array_of):
    part = flat
    part.envelope = box((50.0, 40.0, 20.0), (20.0, -10.0, 6.0))
    part.envelope.scale = (1.2, 1.0, 1.0)
    part.base.location, part.base.rotation_euler = (1.0, 2.0, -0.5), (0.0, 0.0, 0.7)
    bpy.context.view_layer.update()
    turned = part.base.matrix_world @ part.envelope.matrix_world
    part.envelope.matrix_world = turned
    bpy.context.view_layer.update()
    bpy.ops.padwright.build_pad()
    assert volume(part) == pytest.approx(60 * 40 * 15.5 / 1000, rel=0.02)
    middle = (array_of(part.pad).min(axis=0) + array_of(part.pad).max(axis=0)) / 2
    assert np.abs(middle - 1000 * np.array(turned.translation))[:2].max() < 0.5


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: box((50, 40, 20), (0, 0, 0), open_end=True), "not closed: 4 open edges"),
        (lambda: box((50, 40, 20), (0, 0, -40)), "stands out 0.0 mm over the base"),
        (lambda: box((50, 40, 20), (0, 0, 500)), "is 490 mm away from the base and only 50 mm long"),
        (lambda: bpy.data.objects.new("Nothing", None), "is no mesh in this scene"),
    ],
)
def test_an_envelope_that_cannot_be_used_is_told(flat, make, said):
    flat.envelope = make()
    with pytest.raises(RuntimeError, match=said):
        bpy.ops.padwright.build_pad()


def test_turned_inside_out_or_mirrored_it_is_the_same_solid(flat):
    part = flat
    part.envelope = box((100.0, 80.0, 40.0), (0.0, 0.0, 0.0))
    part.envelope.data.flip_normals()
    bpy.ops.padwright.build_pad()
    first = volume(part)
    part.envelope.scale = (-1.0, 1.0, 1.0)
    bpy.ops.padwright.build_pad()
    assert volume(part) == first == pytest.approx(100 * 80 * 19.5 / 1000, rel=0.02)


def test_the_envelope_goes_beside_the_job_and_comes_back(flat, inside, tmp_path):
    part = flat
    part.envelope = box((100.0, 80.0, 40.0), (3.0, 0.0, 0.0))
    for name in ("build_pad", "plan_zones", "cut_regions"):
        assert getattr(bpy.ops.padwright, name)() == {"FINISHED"}
    part.folder = str(tmp_path / "out")
    bpy.ops.padwright.export_part()
    assert bpy.ops.padwright.save_job(filepath=str(tmp_path / "saved" / "job.toml")) == {"FINISHED"}
    name = inside("core.base.slugs").slug(part.number) + ".envelope.ply"
    assert (tmp_path / "saved" / name).exists()
    files = headless(inside, tmp_path / "saved" / "job.toml").files
    for each, data in files.items():
        assert (tmp_path / "out" / each).read_bytes() == data, each
    mesh = inside("core.stages.scans.read").read_scan((tmp_path / "saved" / name).read_bytes(), name).mesh
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    bpy.ops.padwright.load_job(filepath=str(tmp_path / "saved" / "job.toml"))
    part = bpy.context.scene.padwright
    assert part.envelope is not None and part.impression is None
    assert not {"envelope", "footprint", "reliefs"} & set(json.loads(part.kept)["pad"]), part.kept
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "again" / "job.toml"))
    again = inside("core.stages.scans.read").read_scan((tmp_path / "again" / name).read_bytes(), name).mesh
    assert np.array_equal(again.faces, mesh.faces)
    assert np.abs(again.vertices - mesh.vertices).max() <= 1e-5  # a mesh of the modeller has 32 bits
    read_job = inside("core.job.read").read_job
    assert read_job(tmp_path / "again" / "job.toml") == read_job(tmp_path / "saved" / "job.toml")


def test_changing_the_envelope_makes_the_pad_stale(flat, inside):
    part, state = flat, inside("blender.state")
    part.envelope = box((100.0, 80.0, 40.0), (0.0, 0.0, 0.0))
    bpy.ops.padwright.build_pad()
    assert state.stale(part, "pad") == ""
    part.envelope.location.x += 0.004
    bpy.context.view_layer.update()
    assert state.stale(part, "pad") == "Settings of the pad changed since"
    bpy.ops.padwright.build_pad()
    assert inside("blender.stage_memory").memory().worked_out == ["pad"]
    assert state.stale(part, "pad") == ""
    for vertex in part.envelope.data.vertices:
        vertex.co.z *= 1.1
    part.envelope.data.update()
    bpy.context.view_layer.update()
    assert state.stale(part, "pad") != ""


def test_undo_of_a_pad_from_an_envelope_leaves_the_envelope(flat):
    flat.envelope = box((100.0, 80.0, 40.0), (0.0, 0.0, 0.0))
    bpy.ops.ed.undo_push(message="base")
    before = sorted(obj.name for obj in bpy.data.objects)
    bpy.ops.padwright.build_pad("EXEC_DEFAULT", True)
    bpy.ops.ed.undo()
    assert sorted(obj.name for obj in bpy.data.objects) == before
    assert bpy.context.scene.padwright.envelope.name == "Block"
