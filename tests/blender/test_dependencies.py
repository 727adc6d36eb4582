"""What makes a stage outdated in the window is what changes its key in the memory: by content, from one list."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from tests.blender.test_panels import draw


@pytest.fixture
def done(part):
    """Do the first four stages."""
    bpy.ops.padwright.build_pad()
    return part


def outdated(part, inside):
    state = inside("blender.state")
    return [name for name in state.STAGES if state.stale(part, name)]


def changed(part, inside, change):
    """Return the stages whose text in the window, and those whose key in the memory, a change alters."""
    state, scene = inside("blender.state"), inside("blender.scene")
    memory = inside("core.run.memory").StageMemory()

    def now():
        bpy.context.view_layer.update()
        folder = scene.work_folder()
        job = scene.read_scene(bpy.context, folder)
        texts = state.all_settings(part)
        return [texts[name] for name in state.STAGES], [memory.key(job, folder, name) for name in state.STAGES]

    before = now()
    change()
    found = [[a != b for a, b in zip(one, other, strict=True)] for one, other in zip(before, now(), strict=True)]
    return tuple([name for name, is_other in zip(state.STAGES, each, strict=True) if is_other] for each in found)


def move_a_vertex(obj, far=0.5):
    obj.data.vertices[0].co.x += far
    obj.data.update()


def test_another_name_changes_nothing(done, inside):
    done.base.name, done.base.data.name = "my seat", "seat mesh"
    done.impression.name = "clay"
    assert outdated(done, inside) == []


def test_an_edited_scan_outdates_every_stage_that_rests_on_it(done, inside):
    move_a_vertex(done.base)
    assert outdated(done, inside) == ["scans", "alignment", "reading", "pad"]
    assert "Settings of the scans changed since" in " ".join(draw("scans"))
    move_a_vertex(done.base, -0.5)


CHANGES = {
    "renamed": lambda part: setattr(part.base, "name", "other"),
    "moved": lambda part: setattr(part.base, "location", (1.0, 2.0, 3.0)),
    "scaled": lambda part: setattr(part.impression, "scale", 1.01 * part.impression.scale),
    "edited": lambda part: move_a_vertex(part.impression),
    "fewer faces": lambda part: _without_a_face(part.base.data),
    "painted": lambda part: _colored(part.impression.data),
    "modified": lambda part: part.base.modifiers.new("Move", "DISPLACE"),
    "at true size": lambda part: bpy.ops.padwright.prepare_scans(),
    "colors on show": lambda part: _values_on_show(part),
    "number": lambda part: setattr(part, "number", "OTHER-2"),
    "length": lambda part: setattr(part.lengths[0], "measured_mm", 150.0),
    "a pose of these scans": lambda part: _pose(part),
    "a pose of other scans": lambda part: setattr(part, "pose", 2),
    "level": lambda part: setattr(part.zones[0], "level", 3.0),
    "gear": lambda part: setattr(part, "is_mirrored", True),
}


def _without_a_face(mesh):
    import bmesh

    made = bmesh.new()
    made.from_mesh(mesh)
    made.faces.ensure_lookup_table()
    bmesh.ops.delete(made, geom=[made.faces[0]], context="FACES_ONLY")
    made.to_mesh(mesh)
    made.free()


def _pose(part):
    from importlib import import_module

    import_module("bl_ext.dev.padwright.blender.alignment.poses").take(part, 2)


def _colored(mesh):
    mesh.color_attributes.new("Pen", "BYTE_COLOR", "POINT").data[0].color = (1.0, 0.0, 0.0, 1.0)
    mesh.color_attributes.active_color_index = len(mesh.color_attributes) - 1


def _values_on_show(part):
    from importlib import import_module

    colors = import_module("bl_ext.dev.padwright.blender.view.value_colors")
    colors.show(bpy.context, part.base, np.zeros(len(part.base.data.vertices)), title="T", unit="mm")


@pytest.mark.parametrize("name", CHANGES)
def test_a_change_of_the_scene_counts_in_the_window_as_it_does_in_the_memory(part, inside, name):
    in_window, in_memory = changed(part, inside, lambda: CHANGES[name](part))
    assert in_window == in_memory


def _other(part, name):
    """Return another value that a property takes."""
    prop, value = part.bl_rna.properties[name], getattr(part, name)
    if prop.type == "BOOLEAN":
        return not value
    if prop.type == "ENUM":
        return next(each.identifier for each in prop.enum_items if each.identifier not in (value, "own", "given"))
    if prop.type == "STRING":
        return f"{value}7"
    if prop.type == "INT":
        return value + 1 if value else 3  # 0 stands for not given: some keys begin at 2
    return (0.0, 1.0, 0.0) if prop.is_array else value * 1.01 + (0.5 if value else 2.0)


NOT_READ = {"goal", "mat_file"}  # alone they make the job ask for more: tests of their own
OF_VIRTUAL_CLAY = ("imprint_depth_mm", "clay_strength_kpa")  # idle where clay was scanned; one excludes the other


def test_a_changed_property_outdates_the_stages_whose_key_it_is_in(part, inside):
    places = inside("blender.job_places")
    names = {**places.PLAIN, **places.OPTIONAL, **places.OTHERS}
    part.press, part.grip_pressure_kpa = "given", 0.0
    part.rows_run, part.run_vector = "given", (1.0, 0.0, 0.0)
    for name in names:
        if name in NOT_READ or name in ("press", "rows_run", *OF_VIRTUAL_CLAY):
            continue
        if name.startswith("mat_"):  # idle without a file
            continue
        in_window, in_memory = changed(part, inside, lambda name=name: setattr(part, name, _other(part, name)))
        assert in_window == in_memory, name


@pytest.mark.parametrize("name", ["clay_thickness_mm", "scan_load_share", *OF_VIRTUAL_CLAY])
def test_a_changed_property_of_virtual_clay_outdates_the_stages_whose_key_it_is_in(part, inside, name):
    part.press, part.shows_body, part.clay_thickness_mm = "given", True, 25.0  # the one scan does for a body
    in_window, in_memory = changed(part, inside, lambda: setattr(part, name, _other(part, name)))
    assert in_window == in_memory
    assert "body" in in_window


@pytest.mark.parametrize("name", OF_VIRTUAL_CLAY)
def test_what_only_virtual_clay_reads_outdates_nothing_where_clay_was_scanned(part, inside, name):
    assert changed(part, inside, lambda: setattr(part, name, _other(part, name))) == ([], [])


def test_panels_see_a_change_that_the_modeller_tells_of(done, inside, monkeypatch):
    prints = inside("blender.mesh_prints")
    assert "changed since" not in " ".join(draw("pad"))
    counted = []
    content = prints._content
    monkeypatch.setattr(prints, "_content", lambda mesh: counted.append(mesh) or content(mesh))
    for _ in range(3):
        draw("pad")
        draw("scans")
    assert counted == []  # drawing again works nothing out
    move_a_vertex(done.base)
    bpy.context.view_layer.update()
    assert "Settings of the scans changed since" in " ".join(draw("pad"))
    assert counted == [done.base.data]


def test_a_renamed_or_edited_curve_and_envelope(done, inside):
    bpy.ops.padwright.draw_footprint()
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.padwright.build_pad()
    done.footprint.name = "my outline"
    assert outdated(done, inside) == []
    cube = bpy.data.objects.new("solid", bpy.data.meshes.new("solid"))
    cube.data.from_pydata(
        [(0, 0, 0), (1, 0, 0), (0, 1, 0), (0.2, 0.2, 1)], [], [(0, 2, 1), (0, 1, 3), (1, 2, 3), (2, 0, 3)]
    )
    bpy.context.scene.collection.objects.link(cube)
    done.envelope = cube
    state = inside("blender.state")
    before = state.all_settings(done)["pad"]
    cube.name = "other"
    assert state.all_settings(done)["pad"] == before
    cube.data.vertices[3].co.x = 0.25  # inside the same box
    assert state.all_settings(done)["pad"] != before
