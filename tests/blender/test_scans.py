"""Scans into the scene, and places on them."""

from __future__ import annotations

from types import SimpleNamespace

import bpy
import numpy as np
import pytest
from mathutils import Vector
from tests.blender.test_panels import draw

from support.scanned import board
from support.writers import write_stl_binary


@pytest.fixture
def started(scene):
    bpy.ops.padwright.start_part(family="seat_pad", part_name="Seat", number="S-1", unit="mm")
    return scene.padwright


def test_starting_a_part_takes_the_family_s_defaults(started, inside):
    family = inside("core.job.cards").load_family("seat_pad")
    as_typed = inside("blender.bridge").as_typed
    for name, path in (("fit_gap_mm", ("pad", "fit_gap_mm")), ("share", ("load", "share"))):
        assert as_typed(getattr(started, name)) == family.defaults[path].value
    assert [zone.name for zone in started.zones] == [zone["name"] for zone in family.zones]
    assert started.zones[0].radius_mm == family.defaults[("zones", "radius_mm")].value


@pytest.mark.parametrize("name", ["start_part", "use_object", "pick_length", "pick_pairs", "set_length_end"])
def test_what_comes_before_an_import_leaves_no_box_that_would_do_it_again(name):
    # A value changed in the box for the last step undoes all that came since; an import does not take that box over.
    kind = getattr(bpy.types, f"PADWRIGHT_OT_{name}")
    assert "UNDO" in kind.bl_options and "REGISTER" not in kind.bl_options


@pytest.mark.parametrize("start", ["start", "load"])
def test_another_part_gets_a_scene_of_its_own(part, job_file, start):
    old = bpy.context.scene
    old.unit_settings.scale_length = 0.01
    base, number, zones = part.base, part.number, [zone.name for zone in part.zones]
    bpy.ops.ed.undo_push(message="base")
    if start == "start":
        bpy.ops.padwright.start_part("EXEC_DEFAULT", True, family="insole", part_name="Left", number="L-1", unit="mm")
    else:
        bpy.ops.padwright.load_job("EXEC_DEFAULT", True, filepath=str(job_file))
    new = bpy.context.scene
    assert new != old and new.padwright.is_started and new.padwright.base != base
    assert new.unit_settings.scale_length == old.unit_settings.scale_length
    assert (part.base, part.number, [zone.name for zone in part.zones]) == (base, number, zones)
    bpy.ops.ed.undo()
    assert len(bpy.data.scenes) == 1 and bpy.context.scene.padwright.number == number


def test_a_part_without_scans_is_started_anew_in_its_scene(started, scene):
    bpy.ops.padwright.start_part(family="insole", part_name="Sole", number="S-2", unit="mm")
    assert bpy.context.scene == scene and scene.padwright.family == "insole" and len(bpy.data.scenes) == 1


@pytest.mark.parametrize("scale_length", [1.0, 0.001])
def test_an_imported_scan_has_its_true_size(started, scene, tmp_path, array_of, scale_length):
    scene.unit_settings.scale_length = scale_length
    file = write_stl_binary(board(step=12.0), tmp_path / "board.stl")
    assert bpy.ops.padwright.import_scan(filepath=str(file), scan="base") == {"FINISHED"}
    assert started.base.name == "board"
    assert np.allclose(np.ptp(array_of(started.base), axis=0)[:2], [240.0, 180.0], rtol=1e-6)


def test_an_object_in_millimeters_can_be_used_in_a_scene_in_meters(started, inside, array_of):
    mesh = board(step=12.0)
    obj = bpy.data.objects.new("own", inside("blender.bridge").new_mesh("own", mesh))
    bpy.context.scene.collection.objects.link(obj)
    bpy.context.view_layer.objects.active = obj
    bpy.ops.padwright.use_object(scan="base", unit="mm")
    assert np.allclose(np.ptp(array_of(obj), axis=0)[:2], [240.0, 180.0], rtol=1e-6)
    assert np.array_equal(
        inside("blender.bridge").scan_numbers(obj, bpy.context, 1.0).vertices, mesh.vertices.astype(np.float32)
    )


def test_two_selected_vertices_make_a_check_length(part, inside):
    flags = np.zeros(len(part.base.data.vertices), dtype=bool)
    flags[[10, 500]] = True
    part.base.data.vertices.foreach_set("select", flags)
    bpy.context.view_layer.objects.active = part.base
    bpy.ops.padwright.add_length()
    length = part.lengths[-1]
    # The scan's own numbers are the mesh's coordinates: the file was read with mm and the object scaled.
    assert tuple(length.start) == tuple(part.base.data.vertices[10].co)
    assert tuple(length.end) == tuple(part.base.data.vertices[500].co)
    assert length.scan == "base"


def test_the_cursor_gives_a_place_on_a_scan_that_was_moved_and_scaled(part):
    bpy.ops.padwright.prepare_scans()
    part.base.location, part.base.rotation_euler = (0.3, 0.1, -0.2), (0.5, 0.0, 1.0)
    bpy.context.view_layer.update()
    vertex = part.base.data.vertices[42].co
    bpy.context.scene.cursor.location = part.base.matrix_world @ vertex
    bpy.ops.padwright.set_length_end(end="start")
    assert np.allclose(part.lengths[0].start, vertex, atol=1e-3)
    assert not part.lengths[0].is_fitted


def test_pairs_from_the_cursor_align_the_scans(part, inside, case):
    bpy.ops.padwright.prepare_scans()
    bpy.context.view_layer.update()
    for length in case.lengths:
        for on_base, on_impression in (
            (length.base_from, length.impression_from),
            (length.base_to, length.impression_to),
        ):
            if len(part.pairs) == 4:
                break
            bpy.ops.padwright.add_pair()
            for scan, point in (("base", on_base), ("impression", on_impression)):
                obj = getattr(part, scan)
                bpy.context.scene.cursor.location = obj.matrix_world @ inside("blender.bridge").Vector(point)
                bpy.ops.padwright.set_pair_point(scan=scan)
    assert bpy.ops.padwright.align_scans() == {"FINISHED"}
    memory, scene = inside("blender.stage_memory").memory(), inside("blender.scene")
    job = scene.read_scene(bpy.context, scene.work_folder())
    found = memory.known(job, scene.work_folder(), "alignment").alignment
    assert found.method == "pairs"
    # Our own bound for a noise of 0.1 mm: a tenth of a degree over the seat's 150 mm, and half the noise.
    apart = found.matrix - case.impression_to_base
    assert np.abs(apart[:3, :3]).max() < 2e-3 and np.abs(apart[:3, 3]).max() < 0.5


def window():
    """Stand in for a window with two viewports, one of them through a camera; in the background there is no view."""
    sights = [SimpleNamespace(view_location=None, view_distance=17.0, view_perspective=p) for p in ("PERSP", "CAMERA")]
    areas = [
        SimpleNamespace(
            type="VIEW_3D",
            regions=[SimpleNamespace(type="UI", data=None), SimpleNamespace(type="WINDOW", data=sight)],
            spaces=SimpleNamespace(active=SimpleNamespace(clip_start=0.01, clip_end=1000.0)),
        )
        for sight in sights
    ]
    areas.append(SimpleNamespace(type="PROPERTIES", regions=[]))
    return SimpleNamespace(screen=SimpleNamespace(areas=areas)), sights, areas[0].spaces.active


@pytest.mark.parametrize("scale_length", [1.0, 0.001, 100.0])
def test_an_object_is_framed_as_a_whole(started, scene, tmp_path, inside, scale_length):
    scene.unit_settings.scale_length = scale_length
    bpy.ops.padwright.import_scan(filepath=str(write_stl_binary(board(step=12.0), tmp_path / "board.stl")), scan="base")
    context, sights, space = window()
    inside("blender.view.viewports").frame(context, [started.base])
    size = max(started.base.dimensions)
    middle = started.base.matrix_world @ (sum((Vector(each) for each in started.base.bound_box), Vector()) / 8)
    assert size < sights[0].view_distance < 3.0 * size
    assert (Vector(sights[0].view_location) - middle).length < 0.01 * size
    assert space.clip_start < 0.1 * size and space.clip_end > 10.0 * sights[0].view_distance
    assert sights[1].view_distance == 17.0  # a camera stays where it is


def test_a_scan_imported_in_place_of_another_is_seen_alone(started, tmp_path, capfd):
    file = str(write_stl_binary(board(step=12.0), tmp_path / "board.stl"))
    bpy.ops.padwright.import_scan(filepath=file, scan="base")
    first = started.base
    bpy.ops.padwright.import_scan(filepath=file, scan="impression")
    assert first.visible_get()
    bpy.ops.padwright.import_scan(filepath=file, scan="base")
    assert started.base != first and first.hide_get() and started.base.visible_get()
    assert '"board" was the base scan until now; it is hidden.' in capfd.readouterr().out


@pytest.fixture
def framed(inside, monkeypatch):
    """Return what the viewports were asked to show, in turn."""
    found = []
    viewports = inside("blender.view.viewports")
    monkeypatch.setattr(viewports, "frame", lambda _, objects: found.append([obj.name for obj in objects]))
    return found


def test_imported_scans_are_framed_and_their_size_is_said(started, tmp_path, capfd, framed):
    file = write_stl_binary(board(step=12.0), tmp_path / "board.stl")
    bpy.ops.padwright.import_scan(filepath=str(file), scan="base")
    assert "read in millimeters it is 240 x 180 x 29 mm" in capfd.readouterr().out
    bpy.ops.padwright.import_scan(filepath=str(file), scan="impression")
    assert framed == [["board"], ["board", "board.001"]]
    assert any(text.startswith("240 x 180 x ") for text in draw("scans"))


def test_a_size_that_cannot_be_is_told_at_import_and_in_the_panel_until_the_unit_is_right(
    started, tmp_path, capfd, framed
):
    file = write_stl_binary(board(step=12.0), tmp_path / "board.stl")
    started.base_unit = "m"
    bpy.ops.padwright.import_scan(filepath=str(file), scan="base")
    said = 'The unit is likely "mm": choose Millimeters as its unit.'
    assert said in capfd.readouterr().out
    shown = " ".join(draw("scans"))
    assert said in shown and "240000 x 180000 x " in shown
    started.base_unit = "mm"
    assert "likely" not in " ".join(draw("scans"))
    pressed = write_stl_binary(board(step=10.0), tmp_path / "pressed.stl")
    bpy.ops.padwright.import_scan(filepath=str(pressed), scan="impression")
    framed.clear()
    bpy.ops.padwright.prepare_scans()  # which shows the base at its new size
    assert framed == [["board", "pressed"]]
    bpy.ops.padwright.prepare_scans()
    assert len(framed) == 1  # a person's view is left alone where sizes stay


def test_a_scan_moved_and_scaled_has_the_size_that_the_job_gets(part, inside):
    sizes, scene = inside("blender.scans.sizes"), inside("blender.scene")
    part.base.scale = 1.1 * part.base.scale
    part.base.rotation_euler.z = 0.5
    bpy.context.view_layer.update()
    job = scene.read_scene(bpy.context, scene.work_folder())
    from importlib import import_module

    read = import_module("bl_ext.dev.padwright.core.stages.scans.read").read_scan
    mesh = read((scene.work_folder() / job.base.scan).read_bytes(), job.base.scan).mesh
    assert np.allclose(sizes.size_mm(part, "base"), np.ptp(mesh.vertices, axis=0), rtol=1e-5)


def test_the_file_window_offers_every_format_that_is_read(inside, monkeypatch):
    operators = inside("blender.scans.operators_scans")
    monkeypatch.setattr(operators.ImportHelper, "invoke", lambda *_: {"RUNNING_MODAL"})
    shown = SimpleNamespace()
    assert operators.PADWRIGHT_OT_import_scan.invoke(shown, None, None) == {"RUNNING_MODAL"}
    assert shown.filter_glob == "*.glb;*.obj;*.off;*.ply;*.stl"
