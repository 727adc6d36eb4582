"""What the artist paints stays, and goes into the part."""

from __future__ import annotations

import bpy
import numpy as np
import pytest


@pytest.fixture
def planned(part):
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    return part


def paint(part, name, is_in):
    group = part.pad.vertex_groups.get(name) or part.pad.vertex_groups.new(name=name)
    group.remove(range(len(part.pad.data.vertices)))
    group.add(np.flatnonzero(is_in).tolist(), 1.0, "REPLACE")


def half(part):
    flat = np.zeros(3 * len(part.pad.data.vertices), dtype=np.float32)
    part.pad.data.vertices.foreach_get("co", flat)
    x = flat.reshape(-1, 3)[:, 0]
    return x > np.median(x)


def test_what_no_brush_touched_is_not_painted(planned, inside):
    assert inside("blender.painting").painted(planned) == {}
    assert [zone.is_painted for zone in planned.zones] == [False, False]


def test_painted_zones_are_kept_and_used(planned, inside):
    is_half = half(planned)
    paint(planned, "bones", is_half)
    bpy.ops.padwright.plan_zones()
    assert [zone.is_painted for zone in planned.zones] == [True, False]
    attributes = inside("blender.attributes")
    assert np.array_equal(attributes.read_groups(planned.pad, ["bones"])["bones"], is_half.astype(float))
    label = attributes.read(planned.pad.data, "padwright_zone")
    body = attributes.read(planned.pad.data, "padwright_side") == 1
    # Only the border is rounded (2.5 mm): nearly all of the body side goes where it was painted.
    assert ((label == 0) == is_half)[body].mean() > 0.97


def test_paint_is_carried_over_to_a_new_pad(planned, inside):
    paint(planned, "bones", half(planned))
    planned.fit_gap_mm += 0.2
    bpy.ops.padwright.build_pad()
    share = inside("blender.painting").painted(planned)[0]
    # The pads differ by 0.2 mm on the base side: the painted half stays the same half but for vertices at its border.
    assert ((share > 0.5) == half(planned)).mean() > 0.98


def test_dropped_paint_makes_room_for_the_data(planned, inside):
    before = inside("blender.attributes").read_groups(planned.pad, ["bones"])["bones"]
    paint(planned, "bones", half(planned))
    bpy.ops.padwright.plan_zones()
    planned.zone_index = 0
    bpy.ops.padwright.drop_paint()
    bpy.ops.padwright.plan_zones()
    assert not planned.zones[0].is_painted
    assert np.array_equal(inside("blender.attributes").read_groups(planned.pad, ["bones"])["bones"], before)


def test_a_zone_to_paint_that_is_not_painted_is_said(planned):
    bpy.ops.padwright.add_zone()
    with pytest.raises(RuntimeError, match='Zone "zone 1" is to be painted and is not'):
        bpy.ops.padwright.plan_zones()


def test_a_new_zone_stands_before_the_one_that_takes_the_rest(planned):
    bpy.ops.padwright.add_zone()
    assert [zone.name for zone in planned.zones] == ["bones", "zone 1", "rest"]
    assert planned.zone_index == 1
    bpy.ops.padwright.move_zone(direction="up")
    assert [zone.name for zone in planned.zones] == ["zone 1", "bones", "rest"]
    assert planned.zone_index == 0
    bpy.ops.padwright.remove_zone()
    assert [zone.name for zone in planned.zones] == ["bones", "rest"]


def test_the_brush_works_on_the_zone_s_own_group(planned):
    planned.zone_index = 1
    assert bpy.ops.padwright.paint_zone() == {"FINISHED"}
    assert bpy.context.mode == "PAINT_WEIGHT"
    assert planned.pad.vertex_groups.active.name == "rest"
    assert bpy.ops.padwright.plan_zones() == {"FINISHED"}  # from within the brush
