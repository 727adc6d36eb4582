"""Arrays into the scene and back: no number is lost, whatever the scene's unit and however objects lie."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from mathutils import Euler, Matrix

from support.scanned import sphere

SCENES = {"meters": 1.0, "millimeters": 0.001, "inches": 0.0254}


@pytest.fixture(params=SCENES)
def unit(request, scene):
    scene.unit_settings.scale_length = SCENES[request.param]
    return SCENES[request.param]


@pytest.fixture
def bridge(inside):
    return inside("blender.bridge")


@pytest.fixture
def mesh(inside):
    ball = sphere(radius=37.3, rows=20, columns=30)
    colors = np.random.default_rng(1).integers(0, 256, (len(ball.vertices), 4), dtype=np.uint8)
    return inside("core.base.mesh").TriMesh(ball.vertices.astype(np.float32), ball.faces, colors)


def scan_object(bridge, mesh, scale):
    obj = bpy.data.objects.new("scan", bridge.new_mesh("scan", mesh))
    bpy.context.scene.collection.objects.link(obj)
    obj.scale = (scale,) * 3
    bpy.context.view_layer.update()
    bridge.adopt_scan(obj, (1.0, 1.0, 1.0))
    return obj


def test_a_scan_keeps_its_own_numbers_exactly(bridge, mesh, unit):
    obj = scan_object(bridge, mesh, 0.001 / unit)
    obj.rotation_euler, obj.location = Euler((0.3, 1.1, -2.0)), (5.0, -3.0, 0.7)
    bpy.context.view_layer.update()
    found = bridge.scan_numbers(obj, bpy.context, 1.0)
    assert np.array_equal(found.vertices, mesh.vertices)
    assert np.array_equal(found.faces, mesh.faces)
    assert np.array_equal(found.colors, mesh.colors)


def test_scaling_a_scan_object_scales_its_numbers(bridge, mesh, unit):
    obj = scan_object(bridge, mesh, 0.001 / unit)
    obj.scale = tuple(2.5 * each for each in obj.scale)
    bpy.context.view_layer.update()
    # The object's scale is a 32-bit number.
    assert np.allclose(bridge.scan_numbers(obj, bpy.context, 1.0).vertices, 2.5 * mesh.vertices, rtol=1e-6)


def test_a_scan_is_shown_at_its_true_size_and_stays_what_it_is(bridge, mesh, unit, array_of):
    obj = scan_object(bridge, mesh, 1.0)
    obj.location = (1.0, 2.0, 3.0)
    bpy.context.view_layer.update()
    bridge.show_at_true_size(obj, bpy.context.scene, 25.4, 0.97)
    bpy.context.view_layer.update()
    assert np.array_equal(bridge.scan_numbers(obj, bpy.context, 25.4).vertices, mesh.vertices)
    size = np.ptp(array_of(obj), axis=0)
    assert np.allclose(size, 25.4 * 0.97 * np.ptp(mesh.vertices, axis=0), rtol=1e-5)
    assert np.allclose(obj.matrix_world.translation, (1.0, 2.0, 3.0))


def test_an_object_of_the_scene_has_the_size_the_scene_shows(bridge, mesh, unit):
    obj = bpy.data.objects.new("own", bridge.new_mesh("own", mesh))
    bpy.context.scene.collection.objects.link(obj)
    obj.scale = (2.0, 1.0, 0.5)
    bpy.context.view_layer.update()
    found = bridge.scan_numbers(obj, bpy.context, 1.0)
    assert np.allclose(found.vertices, mesh.vertices * [2.0, 1.0, 0.5] * 1000 * unit, rtol=1e-6)


def test_a_place_in_the_scene_is_found_in_the_numbers_of_the_scan(bridge, mesh, unit):
    obj = scan_object(bridge, mesh, 0.01 / unit)
    obj.rotation_euler, obj.location = Euler((0.3, 1.1, -2.0)), (5.0, -3.0, 0.7)
    bpy.context.view_layer.update()
    point = mesh.vertices[7]
    world = obj.matrix_world @ obj.data.vertices[7].co
    # The modeller keeps places with 32 bits: 1e-6 of the largest number on the way, here 37 in scan units.
    scale = max(1.0, max(abs(each) for each in world) / obj.scale[0])
    assert np.allclose(bridge.point_in_scan(obj, world, bpy.context.scene, 1.0), point, atol=2e-6 * scale)


def test_motions_go_to_the_scene_and_back(bridge, unit):
    matrix = np.array(Matrix.LocRotScale((0.0, 0.0, 0.0), Euler((0.2, -0.4, 1.0)), None))
    matrix[:3, 3] = 12.5, -300.0, 41.0
    there = bridge.scene_matrix(matrix, bpy.context.scene)
    assert np.allclose(np.array(there)[:3, 3], matrix[:3, 3] / (1000 * unit), rtol=1e-6)
    assert np.allclose(bridge.mm_matrix(there, bpy.context.scene), matrix, rtol=1e-6)


def test_modifiers_count(bridge, mesh):
    obj = scan_object(bridge, mesh, 1.0)
    obj.modifiers.new("Mirror", "MIRROR").use_mirror_merge = False
    bpy.context.view_layer.update()
    assert len(bridge.scan_numbers(obj, bpy.context, 1.0).faces) == 2 * len(mesh.faces)


def test_what_cannot_be_read_is_said(bridge, mesh, inside):
    kinds = inside("core.base.errors")
    obj = scan_object(bridge, mesh, 1.0)
    bpy.context.view_layer.objects.active = obj
    bpy.ops.object.mode_set(mode="EDIT")
    with pytest.raises(kinds.InputError, match=r'"scan" is in Edit Mode\. Press Tab'):
        bridge.read_mesh(obj)
    bpy.ops.object.mode_set(mode="OBJECT")
    empty = bpy.data.objects.new("bare", bpy.data.meshes.new("bare"))
    with pytest.raises(kinds.InputError, match='"bare" has 0 vertices and no face'):
        bridge.read_mesh(empty)
    parent = bpy.data.objects.new("parent", None)
    bpy.context.scene.collection.objects.link(parent)
    parent.scale, obj.parent, obj.rotation_euler = (1.0, 3.0, 1.0), parent, Euler((0.0, 0.0, 0.7))
    bpy.context.view_layer.update()
    with pytest.raises(kinds.InputError, match="slanted or flat by its parent's scale"):
        bridge.scan_numbers(obj, bpy.context, 1.0)


def test_attributes_go_there_and_back(bridge, mesh, inside):
    attributes = inside("blender.attributes")
    obj = scan_object(bridge, mesh, 1.0)
    count = len(mesh.vertices)
    values = np.linspace(-3, 8, count)
    for kind, expected in ((np.float64, values.astype(np.float32)), (np.int8, np.int32(values)), (bool, values > 0)):
        attributes.write(obj.data, "padwright_test", (values > 0) if kind is bool else values.astype(kind))
        assert np.array_equal(attributes.read(obj.data, "padwright_test"), expected)
    assert attributes.read(obj.data, "no such thing") is None


def test_vertex_groups_go_there_and_back_as_fine_as_a_brush(bridge, mesh, inside):
    attributes = inside("blender.attributes")
    obj = scan_object(bridge, mesh, 1.0)
    share = np.random.default_rng(2).uniform(0, 1, len(mesh.vertices))
    share[::7] = 0.0
    attributes.write_group(obj, "one", np.ones(len(share)))
    attributes.write_group(obj, "one", share)  # what was there before goes
    attributes.write_group(obj, "two", 1.0 - share)
    found = attributes.read_groups(obj, ["one", "two", "three"])
    assert sorted(found) == ["one", "two"]
    half_a_step = 0.5 / 255 + 1e-6
    assert np.abs(found["one"] - share).max() <= half_a_step
    assert np.abs(found["two"] - 1.0 + share).max() <= half_a_step


def test_an_object_filled_anew_keeps_nothing_of_the_old(bridge, mesh, inside):
    attributes = inside("blender.attributes")
    obj = scan_object(bridge, mesh, 1.0)
    attributes.write_group(obj, "one", np.ones(len(mesh.vertices)))
    attributes.write(obj.data, "padwright_test", np.ones(len(mesh.vertices)))
    other = sphere(radius=5.0, rows=6, columns=8)
    bridge.refill(obj, other, 2.0)
    assert np.allclose(bridge.read_mesh(obj).vertices, 2.0 * other.vertices, rtol=1e-6)
    assert len(obj.vertex_groups) == 0
    assert attributes.read(obj.data, "padwright_test") is None


def test_faces_with_more_corners_are_read_as_triangles(bridge):
    mesh = bpy.data.meshes.new("quad")
    mesh.from_pydata([(0, 0, 0), (2, 0, 0), (2, 1, 0), (0, 1, 0), (0, 0, 1)], [], [(0, 1, 2, 3), (0, 3, 4)])
    found = bridge.read_mesh(bpy.data.objects.new("quad", mesh))
    assert len(found.faces) == 3
    assert found.area == pytest.approx(2.0 + 0.5)


def test_faces_the_modeller_cannot_hold_are_left_out(bridge, inside):
    corners = [[0, 0, 0], [1, 0, 0], [0, 1, 0], [np.nan, 0, 0]]
    bad = inside("core.base.mesh").TriMesh(np.array(corners, float), np.array([[0, 1, 2], [0, 1, 1], [1, 2, 3]]))
    made = bridge.new_mesh("bad", bad)
    assert [0, 1, 2] in [list(face.vertices) for face in made.polygons]
    assert all(len(set(face.vertices)) == 3 for face in made.polygons)
    assert np.isfinite([vertex.co[:] for vertex in made.vertices]).all()
