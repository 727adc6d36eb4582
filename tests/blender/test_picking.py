"""Places on scans by clicking: what a line of sight meets, what it snaps to, and what is kept of it."""

from __future__ import annotations

import math

import bpy
import numpy as np
import pytest
from mathutils import Euler, Matrix, Vector


@pytest.fixture
def ready(part):
    """The scans at their true size, the base moved and turned."""
    bpy.ops.padwright.prepare_scans()
    part.base.matrix_world = (
        Matrix.Translation((0.3, -0.1, 0.2)) @ Matrix.Rotation(0.7, 4, "Z") @ part.base.matrix_world
    )
    bpy.context.view_layer.update()
    return part


def view_on(inside, obj, *, is_flat: bool, turn=(0.4, 0.2, 0.3)):
    """Return a view of an object from aside, as a viewport of 800 by 600 pixels has it."""
    corners = np.array([obj.matrix_world @ Vector(corner) for corner in obj.bound_box])
    size = float(np.linalg.norm(np.ptp(corners, axis=0)))
    eye = Matrix.Translation(Vector(corners.mean(axis=0))) @ Euler(turn).to_matrix().to_4x4()
    eye = eye @ Matrix.Translation((0.0, 0.0, 2.0 * size))
    near, far, aspect = 0.01 * size, 1000.0 * size, 800 / 600
    if is_flat:
        width = 0.8 * size
        lens = Matrix(
            (
                (1 / width, 0, 0, 0),
                (0, aspect / width, 0, 0),
                (0, 0, -2 / (far - near), -(far + near) / (far - near)),
                (0, 0, 0, 1),
            )
        )
    else:
        lens = Matrix(
            (
                (2.0, 0, 0, 0),
                (0, 2.0 * aspect, 0, 0),
                (0, 0, -(far + near) / (far - near), -2 * far * near / (far - near)),
                (0, 0, -1, 0),
            )
        )
    return inside("core.geometry.views").View(np.array(lens @ eye.inverted()), 800, 600)


def seen_vertex(inside, part, view, scan="base"):
    """Return a vertex in the middle of the picture that nothing hides, in the mesh's coordinates, and its pixel."""
    obj = getattr(part, scan)
    local = inside("blender.bridge").read_mesh(obj).vertices
    matrix = np.array(obj.matrix_world)
    pixels, _ = view.pixels(local @ matrix[:3, :3].T + matrix[:3, 3])
    for index in np.argsort(np.hypot(*(pixels - [400, 300]).T)):
        place = inside("blender.scans.scan_places").place_under(bpy.context, scan, view, tuple(pixels[index]), 1.0)
        numbers = local[index] * (1000.0 if scan == "pad" else 1.0)  # the pad is numbered in mm, a scene in meters
        if place is not None and np.allclose(place.numbers, numbers, rtol=1e-6):
            return local[index], pixels[index]
    raise AssertionError("no vertex is seen")


@pytest.mark.parametrize("is_flat", [True, False])
def test_a_click_takes_the_nearest_vertex_or_with_no_snapping_the_surface(ready, inside, is_flat):
    view = view_on(inside, ready.base, is_flat=is_flat)
    place_under = inside("blender.scans.scan_places").place_under
    vertex, pixel = seen_vertex(inside, ready, view)
    beside = pixel + np.array([0.6, -0.5])
    place = place_under(bpy.context, "base", view, tuple(beside), 2.0)
    # Before snapping the scan's numbers are those of the mesh, to the last bit.
    assert place.is_vertex and place.numbers == vertex.tolist()
    free = place_under(bpy.context, "base", view, tuple(beside))
    assert not free.is_vertex and free.numbers != place.numbers
    obj = ready.base
    is_found, near, _, _ = obj.closest_point_on_mesh(Vector(free.numbers))
    assert is_found and math.dist(near, free.numbers) < 1e-4  # mm: on the surface, within 32 bits at 0.3 m
    back, _ = view.pixels(np.array(obj.matrix_world @ Vector(free.numbers))[None])
    assert np.abs(back[0] - beside).max() < 0.01  # and where the mouse is


def test_other_objects_do_not_count_and_what_is_beside_gives_nothing(ready, inside):
    view = view_on(inside, ready.base, is_flat=False)
    place_under = inside("blender.scans.scan_places").place_under
    _, pixel = seen_vertex(inside, ready, view)
    before = place_under(bpy.context, "base", view, tuple(pixel), 8.0)
    size = max(ready.base.dimensions)
    wall = bpy.data.objects.new("wall", bpy.data.meshes.new("wall"))
    wall.data.from_pydata([(-9, -9, 0), (9, -9, 0), (9, 9, 0), (-9, 9, 0)], [], [(0, 1, 2, 3)])
    bpy.context.scene.collection.objects.link(wall)
    wall.location.z = ready.base.matrix_world.translation.z + size
    bpy.context.view_layer.update()
    assert place_under(bpy.context, "base", view, tuple(pixel), 8.0) == before
    assert place_under(bpy.context, "base", view, (1.0, 1.0), 8.0) is None


def test_a_corner_is_taken_from_just_beside_the_scan(box, inside):
    view = view_on(inside, box, is_flat=True, turn=(0.0, 0.0, 0.0))
    corner = np.array(box.matrix_world @ Vector(box.data.vertices[7].co))
    pixel = view.pixels(corner[None])[0][0]
    outside = tuple(pixel + np.sign(pixel - [400, 300]) * 4.0)
    scan_places = inside("blender.scans.scan_places")
    assert scan_places.place_under(bpy.context, "base", view, outside) is None
    place = scan_places.place_under(bpy.context, "base", view, outside, 12.0)
    assert place.is_vertex
    assert np.allclose(np.abs(place.numbers)[:2], [40.0, 30.0], rtol=1e-6)


@pytest.fixture
def box(scene):
    bpy.ops.padwright.start_part(family="seat_pad", part_name="Seat", number="S-1", unit="mm")
    made = bpy.data.objects.new("box", bpy.data.meshes.new("box"))
    x, y, z = 0.04, 0.03, 0.02
    corners = [(i, j, k) for k in (-z, z) for j in (-y, y) for i in (-x, x)]
    faces = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    made.data.from_pydata(corners, [], faces)
    scene.collection.objects.link(made)
    bpy.context.view_layer.objects.active = made
    bpy.context.view_layer.update()
    bpy.ops.padwright.use_object(scan="base")
    return made


def test_modifiers_count(box, inside):
    view = view_on(inside, box, is_flat=False, turn=(0.0, 0.0, 0.0))
    box.modifiers.new("Finer", "SUBSURF").levels = 2
    bpy.context.view_layer.update()
    place = inside("blender.scans.scan_places").place_under(bpy.context, "base", view, (400.0, 300.0))
    evaluated = box.evaluated_get(bpy.context.evaluated_depsgraph_get())
    smooth = max(vertex.co.z for vertex in evaluated.data.vertices)
    assert smooth < 0.95 * 0.02  # the modifier rounds the box
    assert place.numbers[2] == pytest.approx(1000.0 * smooth, rel=1e-3)


def test_a_hidden_scan_is_said(ready, inside):
    view = view_on(inside, ready.base, is_flat=False)
    ready.base.hide_set(True)
    with pytest.raises(inside("core.base.errors").InputError, match="is hidden"):
        inside("blender.scans.scan_places").place_under(bpy.context, "base", view, (400.0, 300.0))


def test_a_picked_length_and_its_undo(part):
    count = len(part.lengths)
    bpy.ops.ed.undo_push(message="base")
    done = bpy.ops.padwright.pick_length(
        "EXEC_DEFAULT", True, scan="base", start=(0, 0, 0), end=(3, 4, 0), measured_mm=5.1, length_name="slot"
    )
    assert done == {"FINISHED"}
    length = bpy.context.scene.padwright.lengths[-1]
    assert (length.name, length.scan, tuple(length.end)) == ("slot", "base", (3.0, 4.0, 0.0))
    assert length.measured_mm == pytest.approx(5.1)
    bpy.ops.ed.undo()
    assert len(bpy.context.scene.padwright.lengths) == count


def test_an_added_length_without_ends_is_filled_by_the_next_pick(part):
    bpy.ops.padwright.add_length()
    part.lengths[-1].measured_mm = 12.0
    count = len(part.lengths)
    bpy.ops.padwright.pick_length(scan="impression", start=(0, 0, 0), end=(0, 0, 12))
    assert len(part.lengths) == count
    assert (part.lengths[-1].scan, part.lengths[-1].measured_mm) == ("impression", 12.0)
    bpy.ops.padwright.pick_length(scan="base", start=(0, 0, 0), end=(0, 0, 9))
    assert len(part.lengths) == count + 1
    with pytest.raises(RuntimeError, match="same place"):
        bpy.ops.padwright.pick_length(scan="base", start=(1, 1, 1), end=(1, 1, 1))


def test_picked_pairs(part):
    for number in range(3):
        bpy.ops.padwright.pick_pairs(base_point=(number, 0, 0), impression_point=(0, number, 0))
    assert [tuple(pair.impression) for pair in part.pairs] == [(0, 0, 0), (0, 1, 0), (0, 2, 0)]
    assert all(pair.has_base and pair.has_impression for pair in part.pairs)
    with pytest.raises(RuntimeError, match="points are not given"):
        bpy.ops.padwright.pick_pairs()


def test_picking_asks_in_turn_and_takes_back(inside):
    pick_session, place = inside("blender.scans.pick_session"), inside("blender.scans.pick_session").PickedPlace
    session = pick_session.Session(pick_session.PAIR_CLICKS, True, "pair", 3)
    asked = []
    for number in range(5):
        asked.append((session.wanted.scan, session.line().split("   |")[0].split(":")[0]))
        session.take(place(session.wanted.scan, [float(number), 0.0, 0.0], True))
    assert asked == [
        (scan, f"Pair {3 + number // 2}") for number, scan in enumerate(["base", "impression"] * 2 + ["base"])
    ]
    assert [[each.numbers[0] for each in pair] for pair in session.finished] == [[0, 1], [2, 3]]
    assert "Ctrl: the nearest vertex" in session.line()
    session.is_snapping = True
    assert "Ctrl: the place itself" in session.line()
    assert "Enter: keep 2 pairs" in session.line()
    told = session.line("Nothing of it is there. ")  # what to click is still said
    assert told.startswith("Nothing of it is there. Pair 5: click the same place on the impression scan   |")
    assert session.take_back() and session.take_back()
    assert len(session.finished) == 1 and session.wanted.scan == "impression"
    assert all(session.take_back() for _ in range(3)) and not session.take_back()
    once = pick_session.Session(pick_session.length_clicks("base"), False, "length")
    for _ in range(2):
        assert once.wanted is not None
        once.take(place("base", [0.0, 0.0, 0.0], True))
    assert once.wanted is None and len(once.finished) == 1


def test_looks_are_set_back_exactly(part, inside):
    for stage in ("build_pad", "plan_zones", "cut_regions"):
        getattr(bpy.ops.padwright, stage)()
    part.impression.hide_set(True)
    part.base.display_type = "WIRE"
    before = {obj.name: (obj.display_type, obj.hide_get()) for obj in bpy.context.view_layer.objects}
    looks = inside("blender.scans.pick_session").Looks(bpy.context)
    looks.only(bpy.context, part.base)
    assert part.base.display_type == "TEXTURED"
    assert {obj.display_type for obj in bpy.data.collections["Regions"].objects} == {"BOUNDS"}
    looks.only(bpy.context, part.impression)
    assert part.impression.visible_get() and part.base.display_type == "BOUNDS"
    bpy.data.objects.remove(part.body)  # deleted meanwhile
    looks.put_back(bpy.context)
    after = {obj.name: (obj.display_type, obj.hide_get()) for obj in bpy.context.view_layer.objects}
    assert after == {name: look for name, look in before.items() if name in after}


def boxes_in_view(inside, *objects):
    axes = np.array(inside("blender.view.viewports").right_and_up(bpy.context))
    return [np.array([obj.matrix_world @ Vector(corner) for corner in obj.bound_box]) @ axes.T for obj in objects]


def test_while_pairs_are_picked_both_scans_are_seen_with_their_marks(part, inside):
    bpy.ops.padwright.align_scans()  # one lies on the other
    pick_session = inside("blender.scans.pick_session")
    before = [each.copy() for each in (part.base.matrix_world, part.impression.matrix_world)]
    looks = pick_session.Looks(bpy.context)
    looks.both(bpy.context, part.base, part.impression)
    looks.both(bpy.context, part.base, part.impression)  # for the next click: they stay where they are
    base, impression = boxes_in_view(inside, part.base, part.impression)
    assert impression[:, 0].min() > base[:, 0].max()
    assert part.base.matrix_world == before[0]
    for obj in (part.base, part.impression):
        assert obj.visible_get() and obj.display_type == "TEXTURED"
    place = inside("blender.scans.pick_session").PickedPlace
    session = pick_session.Session(pick_session.PAIR_CLICKS, True, "pair")
    session.take(place("base", list(part.base.data.vertices[5].co), True))
    session.take(place("impression", list(part.impression.data.vertices[5].co), True))
    pick_session.current[:] = [session]
    try:
        items = inside("blender.view.overlay_items").gather(bpy.context)
    finally:
        pick_session.stop()
    on = [part.base.matrix_world @ part.base.data.vertices[5].co]
    on.append(part.impression.matrix_world @ part.impression.data.vertices[5].co)
    assert len(items.marks) == 2
    assert all((Vector(mark.at) - at).length < 1e-5 for mark, at in zip(items.marks, on, strict=True))
    looks.put_back(bpy.context)
    for now, then in zip((part.base.matrix_world, part.impression.matrix_world), before, strict=True):
        assert np.allclose(now, then, atol=1e-7)


def test_scans_that_lie_apart_in_the_view_stay_where_they_are(part, inside):
    bpy.ops.padwright.prepare_scans()
    part.impression.location.x += 5.0
    bpy.context.view_layer.update()
    right, _ = inside("blender.view.viewports").right_and_up(bpy.context)
    part.impression.location = Vector(5.0 * right)
    bpy.context.view_layer.update()
    before = part.impression.matrix_world.copy()
    looks = inside("blender.scans.pick_session").Looks(bpy.context)
    looks.both(bpy.context, part.base, part.impression)
    assert part.impression.matrix_world == before


def test_a_click_on_the_pad_is_a_place_in_the_part_frame(part, inside):
    bpy.ops.padwright.build_pad()
    part.base.hide_set(True)
    view = view_on(inside, part.pad, is_flat=True)
    at, pixel = seen_vertex(inside, part, view, "pad")
    place = inside("blender.scans.scan_places").place_under(bpy.context, "pad", view, tuple(pixel))
    assert place.numbers == pytest.approx(at * 1000.0, abs=0.05)  # mm; the scene is in meters
