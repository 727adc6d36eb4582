"""Objects that are linked from another file, overridden, deleted, excluded, or in another mode."""

from __future__ import annotations

from pathlib import Path

import bmesh
import bpy
import pytest

STAGES = ("prepare_scans", "align_scans", "read_impression", "build_pad", "plan_zones", "cut_regions", "check_load")


def says(operator: str, text: str, **values) -> None:
    with pytest.raises(RuntimeError, match=text) as told:
        getattr(bpy.ops.padwright, operator)(**values)
    assert "Traceback" not in str(told.value)


def link(path: Path, kind: str, name: str):
    with bpy.data.libraries.load(str(path), link=True) as (_, wanted):
        setattr(wanted, kind, [name])
    return getattr(wanted, kind)[0]


@pytest.fixture
def library(part, tmp_path) -> Path:
    """Write a file with the base scan and a built pad in it."""
    bpy.ops.padwright.build_pad()
    path = tmp_path / "library.blend"
    bpy.data.libraries.write(str(path), {part.base, part.pad})
    return path


def test_a_mesh_linked_from_another_file_serves_as_a_scan(part, library):
    bpy.ops.padwright.align_scans()
    found = part.stages["alignment"].lines
    own = part.base
    own.data = link(library, "meshes", own.data.name)
    assert own.data.library is not None
    before = [tuple(vertex.co) for vertex in own.data.vertices[:50]]
    says("prepare_scans", '"base" is linked from another file: make it local first')
    bpy.context.view_layer.objects.active = own
    own.select_set(True)
    bpy.ops.object.make_local(type="SELECT_OBDATA")
    assert bpy.ops.padwright.align_scans() == {"FINISHED"}
    assert part.stages["alignment"].lines == found
    assert [tuple(vertex.co) for vertex in own.data.vertices[:50]] == before


def test_a_linked_scan_object_is_told_with_what_to_do(part, scene, library):
    linked = link(library, "objects", part.base.name)
    scene.collection.objects.link(linked)
    bpy.context.view_layer.update()
    bpy.context.view_layer.objects.active = linked
    says("use_object", "is linked from another file: make it local first", scan="base")
    part.base = linked
    for stage in STAGES[:4]:
        says(stage, "is linked from another file: make it local first")


def test_a_linked_pad_is_told_with_what_to_do(part, scene, library):
    name = part.pad.name
    own, part.pad = part.pad, link(library, "objects", part.pad.name)
    bpy.data.objects.remove(own)
    scene.collection.objects.link(part.pad)
    for operator in ("plan_zones", "build_pad", "paint_zone"):
        says(operator, f'"{name}" is linked from another file: make it local first')


def test_an_override_of_a_linked_scan_serves_as_a_scan(part, scene, library):
    linked = link(library, "objects", part.base.name)
    scene.collection.objects.link(linked)
    bpy.context.view_layer.update()
    override = linked.override_create(remap_local_usages=True)
    override.data.override_create(remap_local_usages=True)
    part.base = override
    assert bpy.ops.padwright.prepare_scans() == {"FINISHED"}
    assert part.base == override


@pytest.mark.parametrize("scan", ["base", "impression"])
def test_a_scan_deleted_by_hand_is_missed_and_undo_finds_it(part, scan):
    """The part still points at it, so the file keeps it; it is in no scene."""
    obj = getattr(part, scan)
    bpy.ops.ed.undo_push(message="before")
    with bpy.context.temp_override(selected_objects=[obj]):
        bpy.ops.object.delete("EXEC_DEFAULT", True)
    part = bpy.context.scene.padwright
    assert getattr(part, scan) is not None
    says("prepare_scans", f'"{scan}" was deleted: undo that, or choose another')
    bpy.ops.ed.undo()
    assert bpy.ops.padwright.prepare_scans() == {"FINISHED"}


def test_a_pad_deleted_by_hand_is_built_anew(part):
    for stage in STAGES[3:6]:
        getattr(bpy.ops.padwright, stage)()
    with bpy.context.temp_override(selected_objects=[part.pad]):
        bpy.ops.object.delete()
    for stage in STAGES[4:]:
        says(stage, "Build the pad first")
    bpy.ops.padwright.build_pad()
    assert part.pad.name in bpy.context.scene.objects
    assert bpy.ops.padwright.plan_zones() == {"FINISHED"}


def test_a_deleted_mesh_takes_its_scan_along(part):
    bpy.data.meshes.remove(part.base.data)
    says("prepare_scans", "Choose or import the base scan first")


def test_an_excluded_collection_is_told(part):
    bpy.ops.padwright.build_pad()
    bpy.context.view_layer.layer_collection.children["Padwright"].exclude = True
    for stage in ("prepare_scans", "build_pad", "plan_zones"):
        says(stage, "is in a collection that is excluded: include it")


@pytest.mark.parametrize("mode", ["EDIT", "SCULPT", "VERTEX_PAINT"])
def test_stages_and_lists_wait_for_object_mode(part, mode):
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    bpy.context.view_layer.objects.active = part.pad
    bpy.ops.object.mode_set(mode=mode)
    for operator in (*STAGES, "add_zone", "add_pair", "remove_zone", "drop_paint"):
        says(operator, "Go back to Object Mode first")


def test_weight_paint_mode_may_stay(part):
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    bpy.ops.padwright.paint_zone()
    assert bpy.context.mode == "PAINT_WEIGHT"
    assert bpy.ops.padwright.plan_zones() == {"FINISHED"}
    assert bpy.context.mode == "PAINT_WEIGHT"


def test_a_check_length_from_two_vertices_leaves_edit_mode_and_can_be_taken_back(part):
    bpy.context.view_layer.objects.active = part.base
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.object.mode_set("EXEC_DEFAULT", True, mode="EDIT")
    mesh = bmesh.from_edit_mesh(part.base.data)
    bpy.ops.mesh.select_all(action="DESELECT")
    mesh.verts.ensure_lookup_table()
    for index in (3, 700):
        mesh.verts[index].select_set(True)
    bmesh.update_edit_mesh(part.base.data)
    bpy.ops.ed.undo_push(message="select")
    count = len(part.lengths)
    bpy.ops.padwright.add_length("EXEC_DEFAULT", True)
    assert bpy.context.mode == "OBJECT"
    length = bpy.context.scene.padwright.lengths[count]
    assert tuple(length.start) != tuple(length.end)
    bpy.ops.ed.undo()
    assert len(bpy.context.scene.padwright.lengths) == count


def test_the_selection_does_not_matter_to_stages(part):
    for obj in bpy.context.view_layer.objects:
        obj.select_set(False)
    bpy.context.view_layer.objects.active = None
    for stage in STAGES:
        assert getattr(bpy.ops.padwright, stage)() == {"FINISHED"}, stage
    says("use_object", "Select a mesh object first", scan="base")
