"""Openings, channels and outlines that the artist adds, edits and takes back."""

from __future__ import annotations

import bpy
import numpy as np
import pytest


def kinds():
    return {obj.name: obj.type for obj in bpy.data.objects}


def worked_out(inside):
    return inside("blender.stage_memory").memory().worked_out


@pytest.fixture
def padded(part):
    bpy.ops.padwright.build_pad()
    return part


def volume(part):
    return float(part.stages["pad"].lines.split(" has ")[1].split(" cm3")[0])


@pytest.mark.parametrize("kind", ["opening", "channel"])
def test_a_relief_takes_out_what_its_curve_says(padded, kind, case):
    part, before = padded, volume(padded)
    assert bpy.ops.padwright.add_relief(kind=kind) == {"FINISHED"}
    relief = part.reliefs[0]
    assert bpy.context.mode == "OBJECT" and bpy.context.active_object == relief.curve
    assert relief.name == f"{kind} 1" and relief.kind == kind and relief.edge_radius_mm == 1.0
    points = np.array([tuple(each.co) for each in relief.curve.data.splines[0].bezier_points])
    long_mm = np.linalg.norm(np.ptp(points, axis=0)) * case.mm_per_unit
    bpy.ops.padwright.build_pad()
    taken = before - volume(part)
    if kind == "channel":
        # Width times depth times length, less rounded edges and the ends: between half of it and all with both ends.
        whole = relief.width_mm * relief.depth_mm * long_mm / 1000.0
        assert 0.5 * whole < taken < 1.2 * whole
    else:
        assert 1.0 < taken < 0.1 * before
    bpy.ops.padwright.remove_relief()
    assert not part.reliefs and "Outlines" in bpy.data.collections
    assert not bpy.data.collections["Outlines"].objects
    bpy.ops.padwright.build_pad()
    assert volume(part) == before


def test_the_start_lies_at_the_3d_cursor_when_it_is_on_the_part(padded, array_of, case):
    part = padded
    places = array_of(part.pad)
    side = np.zeros(len(places), dtype=np.int32)
    part.pad.data.attributes["padwright_side"].data.foreach_get("value", side)
    body = places[side == 1]
    target = body[np.argmin(np.linalg.norm(body - (body.mean(axis=0) + np.array([30.0, 15.0, 0.0])), axis=1))]
    bpy.context.scene.cursor.location = target / 1000.0
    bpy.ops.padwright.add_relief(kind="opening")
    curve = part.reliefs[0].curve
    bpy.context.view_layer.update()
    points = [curve.matrix_world @ each.co for each in curve.data.splines[0].bezier_points]
    assert np.linalg.norm(1000 * np.mean(points, axis=0) - target) < 4.0
    bpy.context.scene.cursor.location = (5.0, 5.0, 5.0)  # far from the part: it does not count
    bpy.ops.padwright.add_relief(kind="opening")
    other = part.reliefs[1].curve
    bpy.context.view_layer.update()
    points = [1000 * np.array(other.matrix_world @ each.co) for each in other.data.splines[0].bezier_points]
    assert np.linalg.norm(np.mean(points, axis=0) - body.mean(axis=0)) < 15.0


@pytest.mark.parametrize("scale_length", [0.001, 0.0254])
def test_starts_have_the_same_size_in_any_unit(scene, job_file, case, scale_length, inside):
    found = []
    for length in (1.0, scale_length):
        bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
        bpy.context.scene.unit_settings.scale_length = length
        bpy.ops.padwright.load_job(filepath=str(job_file))
        part = bpy.context.scene.padwright
        bpy.ops.padwright.add_relief(kind="channel")
        drawn = inside("blender.pad.drawn")
        found.append(
            inside("blender.pad.outlines").read_points(bpy.context, drawn.Used("x", part.reliefs[0].curve, None))
        )
    assert np.allclose(found[0][0], found[1][0], rtol=0, atol=1e-3 / case.mm_per_unit)


def test_only_pad_and_later_are_done_again_after_a_change_of_a_curve(part, inside):
    state = inside("blender.state")
    bpy.ops.padwright.draw_footprint()
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.padwright.add_relief(kind="channel")
    bpy.ops.padwright.cut_regions.poll()
    for name in ("build_pad", "plan_zones", "cut_regions"):
        getattr(bpy.ops.padwright, name)()
    bpy.ops.padwright.cut_regions()
    assert worked_out(inside) == []
    assert state.stale(part, "pad") == ""
    part.footprint.data.splines[0].bezier_points[0].co *= 1.02
    assert state.stale(part, "pad") == "Settings of the pad changed since"
    assert state.stale(part, "reading") == "" and state.stale(part, "alignment") == ""
    bpy.ops.padwright.cut_regions()
    assert worked_out(inside) == ["pad", "zones", "regions"]
    assert state.stale(part, "regions") == ""
    part.reliefs[0].width_mm += 1.0
    assert state.stale(part, "pad") != ""
    bpy.ops.padwright.cut_regions()
    assert worked_out(inside) == ["pad", "zones", "regions"]
    part.average_sides = True
    assert state.stale(part, "reading") == "Settings of the reading changed since"


def test_a_curve_of_the_artist_s_own_stays_put_when_the_scan_is_scaled(part, inside, case):
    """The check lengths scale the base by one percent under the curve: it goes with it, and nothing is done twice."""
    data = bpy.data.curves.new("Mine", "CURVE")
    data.dimensions = "3D"
    spline = data.splines.new("POLY")
    spline.points.add(23)
    center = np.asarray(case.load_centers_in_base).mean(axis=0) / 1000 / case.base_factor
    for point, turn in zip(spline.points, 2 * np.pi * np.arange(24) / 24, strict=True):
        point.co = (*(center + np.array([0.08 * np.cos(turn), 0.07 * np.sin(turn), 0.01])), 1.0)
    spline.use_cyclic_u = True
    obj = bpy.data.objects.new("Mine", data)
    bpy.context.scene.collection.objects.link(obj)
    part.footprint = obj
    scene = inside("blender.scene")
    before = scene.read_scene(bpy.context, scene.work_folder()).pad.footprint
    assert bpy.ops.padwright.build_pad() == {"FINISHED"}
    assert part.base.scale[0] == pytest.approx(case.base_factor * case.mm_per_unit / 1000, rel=1e-3)
    assert scene.read_scene(bpy.context, scene.work_folder()).pad.footprint == before
    bpy.ops.padwright.build_pad()
    assert worked_out(inside) == []


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("draw_footprint", {}),
        ("draw_zone_outline", {}),
        ("add_relief", {"kind": "opening"}),
        ("add_relief", {"kind": "channel"}),
        ("remove_relief", {}),
        ("edit_curve", {"what": "relief"}),
    ],
)
def test_undo_takes_it_back_as_if_it_had_not_been(part, name, values):
    bpy.ops.padwright.add_relief(kind="channel")
    bpy.ops.ed.undo_push(message="base")
    before = kinds(), len(part.reliefs), part.footprint, part.zones[0].source, bpy.context.mode
    assert getattr(bpy.ops.padwright, name)("EXEC_DEFAULT", True, **values) == {"FINISHED"}
    after = kinds(), bpy.context.mode
    bpy.ops.ed.undo()
    part = bpy.context.scene.padwright
    assert (kinds(), len(part.reliefs), part.footprint, part.zones[0].source, bpy.context.mode) == before
    assert [obj.name for obj in bpy.data.curves] == ["Channel 1"]
    bpy.ops.ed.redo()
    assert (kinds(), bpy.context.mode) == after


def test_a_drawn_outline_makes_the_zone(padded):
    part = padded
    part.zone_index = 0
    assert bpy.ops.padwright.draw_zone_outline() == {"FINISHED"}
    zone = part.zones[0]
    assert zone.source == "outline" and bpy.context.active_object == zone.curve
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.padwright.plan_zones()
    points = np.array([tuple(each.co) for each in zone.curve.data.splines[0].bezier_points])
    spread = np.sort(np.ptp(points, axis=0))[::-1][:2]
    # An ellipse of those two diameters, in cm2, seen along the press direction; smooth handles make it a percent more.
    assert zone.area_cm2 == pytest.approx(np.pi / 4 * spread[0] * spread[1] / 100, rel=0.1)
    assert bpy.ops.padwright.edit_curve(what="zone") == {"FINISHED"}
    assert bpy.context.mode == "EDIT_CURVE" and bpy.context.active_object == zone.curve
    bpy.ops.object.mode_set(mode="OBJECT")
    zone.curve = None
    with pytest.raises(RuntimeError, match=f'Zone "{zone.name}" has no curve'):
        bpy.ops.padwright.plan_zones()


def test_a_painted_zone_is_not_given_an_outline(part):
    part.zones[part.zone_index].is_painted = True
    with pytest.raises(RuntimeError, match="drop the paint first"):
        bpy.ops.padwright.draw_zone_outline()


def test_a_relief_whose_curve_was_deleted_is_told(part):
    bpy.ops.padwright.add_relief(kind="channel")
    curve = part.reliefs[0].curve
    for collection in list(curve.users_collection):
        collection.objects.unlink(curve)
    with pytest.raises(RuntimeError, match='Channel 1: "Channel 1" is not in this scene'):
        bpy.ops.padwright.build_pad()
    bpy.data.objects.remove(curve)
    with pytest.raises(RuntimeError, match="Channel 1 has no curve"):
        bpy.ops.padwright.build_pad()
    with pytest.raises(RuntimeError, match="has no curve"):
        bpy.ops.padwright.edit_curve(what="relief")


def test_the_artist_s_own_curve_outlives_its_relief(part):
    bpy.ops.padwright.add_relief(kind="opening")
    made = part.reliefs[0].curve
    theirs = bpy.data.objects.new("Theirs", made.data.copy())
    bpy.context.scene.collection.objects.link(theirs)
    part.reliefs[0].curve = theirs
    bpy.ops.padwright.remove_relief()
    assert "Theirs" in bpy.data.objects and made.name in bpy.data.objects
