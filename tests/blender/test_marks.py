"""A textured clay scan in the window: its pictures come in and go out, its colors are listed and made zones of."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from tests.blender.test_panels import draw

from padwright.core.base.mesh import TriMesh
from support.painted import BLUE, RED, Textured, glb_file, obj_files, rings, textured


@pytest.fixture(scope="module")
def drawn(case) -> Textured:
    """Return the case's impression scan with a ring of each of two pens, seen across its press direction."""
    press = np.asarray(case.impression_to_base)[:3, :3].T @ np.asarray(case.press_direction_in_base)
    across = np.linalg.svd(press[None])[2][1:]
    mesh = TriMesh(case.impression.vertices, case.impression.faces)
    middle = (mesh.vertices @ across.T).mean(axis=0)
    paint = rings(((0, 0), 25, 2.0, RED), ((0, 60), 20, 2.0, BLUE))
    return textured(
        mesh, lambda places: paint(np.column_stack([places @ across.T - middle, np.zeros(len(places))])), 10
    )


@pytest.fixture
def with_texture(part, drawn, tmp_path):
    """Put the textured scan in the place of the impression, as a person imports it."""
    (tmp_path / "clay.glb").write_bytes(glb_file(drawn))
    for name, data in obj_files(drawn).items():
        (tmp_path / name).write_bytes(data)
    bpy.ops.padwright.import_scan(filepath=str(tmp_path / "clay.obj"), scan="impression")
    return part


def test_an_imported_scan_brings_its_texture(with_texture, drawn, inside):
    data = with_texture.impression.data
    assert len(data.uv_layers) == 1 and len(data.materials) == 1
    assert inside("blender.scans.textures").image_of(data.materials[0]).size[:] == drawn.pixels.shape[1::-1]
    assert inside("blender.scans.scan_colors").has_colors(with_texture.impression)
    assert not inside("blender.scans.scan_colors").has_colors(with_texture.base)


def test_the_colors_are_listed_and_one_is_taken_for_the_zone(with_texture):
    zone = with_texture.zones[0]
    zone.source = "color_marks"
    with_texture.zone_index = 0
    assert "<padwright.find_colors>" in draw("zones")
    bpy.ops.padwright.find_colors()
    names = [each.name for each in with_texture.scan_colors]
    assert names[1:3] == ["red", "blue"]
    # Rings of 25 and 20 mm, 2 mm wide, on slopes.
    for found, radius in zip(with_texture.scan_colors[1:3], (25, 20), strict=True):
        assert found.area_cm2 == pytest.approx(2 * np.pi * radius * 2 / 100, rel=0.15)
    bpy.ops.padwright.take_color(number=1)
    assert tuple(zone.color) == tuple(with_texture.scan_colors[1].color)
    assert draw("zones").count("<padwright.take_color>") == 3


def of_two_pens(part):
    bpy.ops.padwright.add_zone()
    for zone, color in zip(part.zones, ("red", "blue"), strict=False):
        zone.source, zone.color_name = "color_marks", color


def test_zones_of_two_pens_come_from_the_texture(with_texture):
    of_two_pens(with_texture)
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    # The rings are seen along the press direction; on the body side they lie on slopes.
    for zone, radius in zip(with_texture.zones, (26, 21), strict=False):
        assert zone.area_cm2 == pytest.approx(np.pi * radius**2 / 100, rel=0.1)


def test_a_saved_job_has_the_texture_beside_it_and_brings_it_back(with_texture, tmp_path):
    of_two_pens(with_texture)
    packed = with_texture.impression.data.materials[0].node_tree.nodes["Image Texture"].image.packed_file.data[:]
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "saved" / "job.toml"))
    assert (tmp_path / "saved" / "seat-1.impression.1.png").read_bytes() == packed
    bpy.ops.padwright.load_job(filepath=str(tmp_path / "saved" / "job.toml"))
    part = bpy.context.scene.padwright
    assert [zone.color_name for zone in part.zones][:2] == ["red", "blue"]
    bpy.ops.padwright.find_colors()
    assert [each.name for each in part.scan_colors][1:3] == ["red", "blue"]


def test_what_is_painted_onto_the_picture_counts(with_texture, inside):
    image = with_texture.impression.data.materials[0].node_tree.nodes["Image Texture"].image
    pixels = np.zeros(4 * image.size[0] * image.size[1], dtype=np.float32)
    image.pixels.foreach_get(pixels)
    colors = pixels.reshape(-1, 4)
    colors[: len(colors) // 3, :3] = (0.0, 0.6, 0.1)
    image.pixels.foreach_set(pixels)
    bpy.ops.padwright.find_colors()
    assert "green" in [each.name for each in with_texture.scan_colors]


def test_a_picture_that_is_gone_is_named(with_texture):
    image = with_texture.impression.data.materials[0].node_tree.nodes["Image Texture"].image
    image.unpack(method="REMOVE")
    image.filepath = "/nowhere/skin.png"
    image.reload()
    with pytest.raises(RuntimeError, match="has no pixels; its file is not at"):
        bpy.ops.padwright.find_colors()


def shadings():
    spaces = [area.spaces.active for area in bpy.context.screen.areas if area.type == "VIEW_3D"]
    return [(each.shading.type, each.shading.color_type, each.shading.light) for each in spaces]


def looks():
    return {obj.name: (obj.hide_get(), obj.display_type) for obj in bpy.context.view_layer.objects}


def test_the_scan_is_shown_alone_in_its_own_colors_and_all_is_put_back(with_texture):
    with_texture.zones[0].source = "color_marks"
    with_texture.zone_index = 0
    bpy.ops.padwright.build_pad()
    before, shaded = looks(), shadings()
    assert shaded and "TEXTURE" not in [color for _, color, _ in shaded]
    assert "<padwright.show_scan_colors>" in draw("zones") and "<padwright.clear_colors>" not in draw("zones")
    for _ in range(2):  # again: what was before is not forgotten
        assert bpy.ops.padwright.show_scan_colors() == {"FINISHED"}
    assert set(shadings()) == {("SOLID", "TEXTURE", "FLAT")}
    seen = [obj for obj in bpy.context.view_layer.objects if obj.type == "MESH" and obj.visible_get()]
    assert seen == [with_texture.impression]
    nodes = with_texture.impression.data.materials[0].node_tree.nodes
    assert nodes.active == nodes["Image Texture"]  # what such a viewport shows of a material
    assert "<padwright.clear_colors>" in draw("zones")
    assert bpy.ops.padwright.clear_colors() == {"FINISHED"}
    assert (looks(), shadings()) == (before, shaded)
    bpy.ops.padwright.show_scan_colors()
    bpy.ops.padwright.show_values(values="thickness")  # from one to the other
    assert {color for _, color, _ in shadings()} == {"VERTEX"} and with_texture.pad.visible_get()
    bpy.ops.padwright.clear_colors()
    assert (looks(), shadings()) == (before, shaded)


def test_colors_at_vertices_are_shown_too_and_a_scan_without_any_says_so(part):
    with pytest.raises(RuntimeError, match="has no colors"):
        bpy.ops.padwright.show_scan_colors()
    part.impression.data.color_attributes.new("Pen", "BYTE_COLOR", "POINT")
    bpy.ops.padwright.show_scan_colors()
    assert {color for _, color, _ in shadings()} == {"VERTEX"}
    bpy.ops.padwright.clear_colors()
    assert "VERTEX" not in {color for _, color, _ in shadings()}
