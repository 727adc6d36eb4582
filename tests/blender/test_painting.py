"""What the artist paints stays, whatever is done to the zone, its vertex group or the pad, and goes into the part."""

from __future__ import annotations

import bpy
import numpy as np
import pytest


@pytest.fixture
def planned(part):
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    return part


def paint(part, name, is_in, weight=1.0):
    group = part.pad.vertex_groups.get(name) or part.pad.vertex_groups.new(name=name)
    group.remove(range(len(part.pad.data.vertices)))
    group.add(np.flatnonzero(is_in).tolist(), weight, "REPLACE")


def half(part, axis=0):
    flat = np.zeros(3 * len(part.pad.data.vertices), dtype=np.float32)
    part.pad.data.vertices.foreach_get("co", flat)
    x = flat.reshape(-1, 3)[:, axis]
    return x > np.median(x)


def weights(part, inside, name):
    return inside("blender.attributes").read_groups(part.pad, [name]).get(name)


def painted(part, inside):
    return inside("blender.zones.painting").painted(part)


def test_what_no_brush_touched_is_not_painted(planned, inside):
    assert painted(planned, inside) == {}
    assert [zone.is_painted for zone in planned.zones] == [False, False]


def test_painted_zones_are_kept_and_used(planned, inside):
    is_half = half(planned)
    paint(planned, "bones", is_half)
    bpy.ops.padwright.plan_zones()
    assert [zone.is_painted for zone in planned.zones] == [True, False]
    attributes = inside("blender.attributes")
    assert np.array_equal(weights(planned, inside, "bones"), is_half.astype(float))
    label = attributes.read(planned.pad.data, "padwright_zone")
    body = attributes.read(planned.pad.data, "padwright_side") == 1
    # Only the border is rounded (2.5 mm): nearly all of the body side goes where it was painted.
    assert ((label == 0) == is_half)[body].mean() > 0.97


def test_paint_is_carried_over_to_a_new_pad_with_the_artist_s_own_groups(planned, inside):
    paint(planned, "bones", half(planned))
    paint(planned, "my own", half(planned, axis=1), weight=0.25)
    planned.pad.vertex_groups["my own"].lock_weight = True
    planned.fit_gap_mm += 0.2
    bpy.ops.padwright.build_pad()
    share = painted(planned, inside)[0]
    # The pads differ by 0.2 mm on the base side: the painted half stays the same half but for vertices at its border.
    assert ((share > 0.5) == half(planned)).mean() > 0.98
    own = weights(planned, inside, "my own")
    assert ((own > 0.1) == half(planned, axis=1)).mean() > 0.98 and own.max() == pytest.approx(0.25, abs=1 / 255)
    assert planned.pad.vertex_groups["my own"].lock_weight
    # What data gave is worked out anew: it is no paint.
    assert list(painted(planned, inside)) == [0]


def test_renaming_a_zone_renames_its_group(planned, inside):
    paint(planned, "bones", half(planned))
    planned.zones[0].name = "sit bones"
    assert [group.name for group in planned.pad.vertex_groups] == ["sit bones", "rest"]
    assert list(painted(planned, inside)) == [0]
    bpy.ops.padwright.plan_zones()
    assert np.array_equal(weights(planned, inside, "sit bones"), half(planned).astype(float))
    assert [group.name for group in planned.pad.vertex_groups] == ["sit bones", "rest"]


def test_a_zone_does_not_take_over_a_group_of_the_artist_s_by_its_name(planned, inside):
    paint(planned, "mine", half(planned))
    planned.zones[0].name = "mine"
    bpy.ops.padwright.plan_zones()
    assert planned.zones[0].group == "bones" and not planned.zones[0].is_painted
    assert np.array_equal(weights(planned, inside, "mine"), half(planned).astype(float))


def test_a_group_that_was_renamed_is_still_its_zone_s(planned, inside):
    paint(planned, "bones", half(planned))
    planned.pad.vertex_groups["bones"].name = "my stroke"
    assert np.array_equal(painted(planned, inside)[0], half(planned).astype(float))
    bpy.ops.padwright.plan_zones()
    assert planned.zones[0].group == "my stroke" and planned.zones[0].is_painted
    assert [group.name for group in planned.pad.vertex_groups] == ["my stroke", "rest"]


def test_a_group_that_was_deleted_makes_room_for_the_data(planned, inside):
    before = weights(planned, inside, "bones")
    paint(planned, "bones", half(planned))
    planned.pad.vertex_groups.remove(planned.pad.vertex_groups["bones"])
    bpy.ops.padwright.plan_zones()
    assert not planned.zones[0].is_painted
    assert np.array_equal(weights(planned, inside, "bones"), before)


def test_a_locked_group_is_never_written(planned, inside):
    before = weights(planned, inside, "bones")
    planned.pad.vertex_groups["bones"].lock_weight = True
    planned.zones[0].radius_mm *= 0.7
    bpy.ops.padwright.plan_zones()
    assert np.array_equal(weights(planned, inside, "bones"), before)
    assert planned.zones[0].is_painted
    planned.pad.vertex_groups["bones"].lock_weight = False
    bpy.ops.padwright.plan_zones()
    assert weights(planned, inside, "bones").sum() < 0.7 * before.sum()


def test_two_zones_of_one_name_keep_a_group_each_and_are_asked_apart(planned, inside):
    planned.zones[1].source, planned.zones[1].level = "paint", 2.0
    planned.zone_index = 0
    bpy.ops.padwright.add_zone()
    first, second = planned.zones[1], planned.zones[2]
    second.name = first.name = "twins"
    painting = inside("blender.zones.painting")
    painting.paint(planned, 1, half(planned).astype(float))
    painting.paint(planned, 2, (~half(planned)).astype(float))
    assert len({first.group, second.group}) == 2
    with pytest.raises(RuntimeError, match='Two zones are named "twins"'):
        bpy.ops.padwright.plan_zones()
    second.name = "twins no more"
    bpy.ops.padwright.plan_zones()
    assert np.array_equal(painting.painted(planned)[1], half(planned).astype(float))
    assert np.array_equal(painting.painted(planned)[2], (~half(planned)).astype(float))
    assert [group.name for group in planned.pad.vertex_groups][-1] == "twins no more"


def test_levels_and_order_change_no_paint(planned, inside):
    paint(planned, "bones", half(planned))
    planned.zones[0].level = 3.0
    planned.zone_index = 0
    bpy.ops.padwright.move_zone(direction="down")
    bpy.ops.padwright.move_zone(direction="up")
    bpy.ops.padwright.plan_zones()
    assert np.array_equal(weights(planned, inside, "bones"), half(planned).astype(float))


def test_an_edited_pad_is_not_written_on_and_building_it_keeps_the_paint(planned, inside):
    paint(planned, "bones", half(planned))
    mesh = bpy.data.meshes.new("cube")
    mesh.from_pydata([(0, 0, 0), (0.01, 0, 0), (0, 0.01, 0)], [], [(0, 1, 2)])
    other = bpy.data.objects.new("cube", mesh)
    bpy.context.scene.collection.objects.link(other)
    for obj in bpy.context.selected_objects:
        obj.select_set(False)
    planned.pad.hide_set(False)
    planned.pad.select_set(True)
    other.select_set(True)
    bpy.context.view_layer.objects.active = planned.pad
    bpy.ops.object.join()
    with pytest.raises(RuntimeError, match='Pad" was changed by hand'):
        bpy.ops.padwright.plan_zones()
    with pytest.raises(RuntimeError, match=r"The pad was edited: it has \d+ vertices and was built with \d+"):
        bpy.ops.padwright.smooth_paint()
    planned.fit_gap_mm += 0.1
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    assert planned.zones[0].is_painted
    assert ((weights(planned, inside, "bones") > 0.5) == half(planned)).mean() > 0.98


def test_dropped_paint_makes_room_for_the_data(planned, inside):
    before = weights(planned, inside, "bones")
    paint(planned, "bones", half(planned))
    bpy.ops.padwright.plan_zones()
    planned.zone_index = 0
    bpy.ops.padwright.drop_paint()
    bpy.ops.padwright.plan_zones()
    assert not planned.zones[0].is_painted
    assert np.array_equal(weights(planned, inside, "bones"), before)


def test_removing_a_painted_zone_is_taken_back_with_its_paint(planned, inside):
    paint(planned, "bones", half(planned))
    bpy.ops.ed.undo_push(message="painted")
    planned.zone_index = 0
    bpy.ops.padwright.remove_zone("EXEC_DEFAULT", True)
    assert "bones" not in planned.pad.vertex_groups and len(planned.zones) == 1
    bpy.ops.ed.undo()
    part = bpy.context.scene.padwright
    assert np.array_equal(painted(part, inside)[0], half(part).astype(float))


def test_loading_a_job_leaves_the_painted_pad_in_the_scene_and_can_be_taken_back(planned, inside, job_file):
    paint(planned, "bones", half(planned))
    old = planned.pad.name
    bpy.ops.ed.undo_push(message="painted")
    bpy.ops.padwright.load_job("EXEC_DEFAULT", True, filepath=str(job_file))
    assert bpy.context.scene.padwright.pad is None and "bones" in bpy.data.objects[old].vertex_groups
    assert planned.pad.name == old  # in the scene it was in
    bpy.ops.ed.undo()
    part = bpy.context.scene.padwright
    assert part.pad.name == old
    assert np.array_equal(painted(part, inside)[0], half(part).astype(float))


def test_painting_before_any_plan_works(part, inside):
    bpy.ops.padwright.build_pad()
    part.zone_index = 0
    assert bpy.ops.padwright.paint_zone() == {"FINISHED"}
    assert bpy.context.mode == "PAINT_WEIGHT" and part.pad.vertex_groups.active.name == "bones"
    part.pad.vertex_groups["bones"].add(np.flatnonzero(half(part)).tolist(), 1.0, "REPLACE")
    assert bpy.ops.padwright.end_painting() == {"FINISHED"}
    assert bpy.context.mode == "OBJECT" and part.zones[0].is_painted
    bpy.ops.padwright.plan_zones()
    assert np.array_equal(weights(part, inside, "bones"), half(part).astype(float))


def test_paint_that_was_looked_at_makes_the_plan_stale(planned, inside):
    state = inside("blender.state")
    planned.zone_index = 0
    bpy.ops.padwright.paint_zone()
    paint(planned, "bones", half(planned))
    assert state.stale(planned, "zones") == ""
    bpy.ops.padwright.end_painting()
    assert state.stale(planned, "zones") == "Settings of the zones changed since"
    bpy.ops.padwright.plan_zones()
    assert state.stale(planned, "zones") == ""


def test_what_disturbs_the_brush_is_said(planned, capfd):
    tools = bpy.context.scene.tool_settings
    tools.use_auto_normalize = tools.use_multipaint = True
    planned.pad.vertex_groups["bones"].lock_weight = True
    planned.zone_index = 0
    bpy.ops.padwright.paint_zone()
    told = capfd.readouterr().out
    assert "Auto Normalize is on" in told and "Multi-Paint is on" in told and '"bones" is locked' in told


def test_the_brush_works_on_the_zone_s_own_group(planned):
    planned.zone_index = 1
    assert bpy.ops.padwright.paint_zone() == {"FINISHED"}
    assert bpy.context.mode == "PAINT_WEIGHT"
    assert planned.pad.vertex_groups.active.name == "rest"
    assert bpy.ops.padwright.plan_zones() == {"FINISHED"}  # from within the brush
