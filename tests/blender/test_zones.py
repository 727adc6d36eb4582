"""The list of zones, where each comes from, and what paint is begun from, smoothed by and mirrored in."""

from __future__ import annotations

import bpy
import numpy as np
import pytest


@pytest.fixture
def built(part):
    bpy.ops.padwright.build_pad()
    return part


@pytest.fixture
def core(inside):
    """Return the part as the core knows it, with its pad."""
    progress, scene = inside("core.base.progress"), inside("blender.scene")

    def known():
        folder = scene.work_folder()
        job = scene.read_with_zone(bpy.context, folder, None)
        return progress.drain(inside("blender.stage_memory").memory().reach(job, folder, "pad"))

    return known


def shown(part, inside, number):
    return inside("blender.zones.painting").shares(part)[number]


def disc(result, center, radius):
    """Return 1 within a radius (mm) of a place on the body side, seen along the press direction."""
    away = result.pad.mesh.vertices - center
    away = away - np.outer(away @ result.pad.press_direction, result.pad.press_direction)
    return (np.linalg.norm(away, axis=1) < radius).astype(float)


def bone(result, number=0):
    return result.reading.load_centers[number].position_mm


def test_a_zone_to_paint_that_is_not_painted_is_said(built):
    bpy.ops.padwright.add_zone()
    with pytest.raises(RuntimeError, match='Zone "zone 1" is to be painted and is not'):
        bpy.ops.padwright.plan_zones()


def test_a_new_zone_stands_before_the_one_that_takes_the_rest(built):
    bpy.ops.padwright.plan_zones()
    bpy.ops.padwright.add_zone()
    assert [zone.name for zone in built.zones] == ["bones", "zone 1", "rest"]
    assert built.zone_index == 1
    bpy.ops.padwright.move_zone(direction="up")
    assert [zone.name for zone in built.zones] == ["zone 1", "bones", "rest"]
    assert built.zone_index == 0
    bpy.ops.padwright.remove_zone()
    assert [zone.name for zone in built.zones] == ["bones", "rest"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda part: part.zones.clear(), "Add a zone first"),
        (lambda part: setattr(part.zones[1], "name", ""), "Zone 2 has no name"),
        (lambda part: setattr(part.zones[1], "name", "bones"), 'Two zones are named "bones"'),
    ],
)
def test_what_is_missing_of_the_list_is_said_before_any_work(built, change, said):
    change(built)
    with pytest.raises(RuntimeError, match=said):
        bpy.ops.padwright.plan_zones()


def test_start_from_data_paints_what_the_data_gives_by_itself(built, inside, core):
    built.zone_index = 0
    assert bpy.ops.padwright.start_from_data() == {"FINISHED"}
    assert built.zones[0].is_painted
    result = core()
    radius = built.zones[0].radius_mm
    wished = np.maximum(disc(result, bone(result, 0), radius), disc(result, bone(result, 1), radius))
    body = inside("blender.attributes").read(built.pad.data, "padwright_side") == 1
    # A ramp of an edge (1.8 mm) either way of a border of two circles, of 400 cm2.
    assert ((shown(built, inside, 0) > 0.5) == (wished > 0.5))[body].mean() > 0.99
    before = shown(built, inside, 0)
    built.zones[0].radius_mm = 15.0
    bpy.ops.padwright.plan_zones()
    assert np.array_equal(shown(built, inside, 0), before)


def test_rest_and_paint_are_no_data_to_start_from(built):
    built.zone_index = 1
    with pytest.raises(RuntimeError, match="Choose data for the zone first"):
        bpy.ops.padwright.start_from_data()


def test_smoothing_closes_speckles(built, inside, core):
    result = core()
    solid = disc(result, bone(result), 25.0)
    speckled = solid * (np.random.default_rng(1).random(len(solid)) < 0.8)
    inside("blender.zones.painting").paint(built, 0, speckled)
    built.zone_index = 0
    bpy.ops.padwright.smooth_paint(width_mm=5.0)
    core_share = inside("core.stages.zones.paint").smoothed_share(result.pad, np.round(speckled * 255) / 255, 5.0)
    # Written in 255 steps.
    assert np.abs(shown(built, inside, 0) - core_share).max() <= 0.5 / 255 + 1e-6
    near = disc(result, bone(result), 18.0) > 0
    side = inside("blender.attributes").read(built.pad.data, "padwright_side") == 1
    assert (shown(built, inside, 0)[near & side] > 0.5).all()


def test_mirroring_makes_both_sides_alike_as_the_core_does(built, inside, core):
    result = core()
    inside("blender.zones.painting").paint(built, 0, disc(result, bone(result), 20.0))
    built.zone_index = 0
    bpy.ops.padwright.mirror_zone()
    run_paint, paint = inside("core.run.paint_starts"), inside("core.stages.zones.paint")
    plane = run_paint.mirror_plane(result)
    wished = paint.mirrored_share(result.pad, disc(result, bone(result), 20.0), plane).share
    assert np.abs(shown(built, inside, 0) - wished).max() <= 0.5 / 255 + 1e-6
    other = disc(result, bone(result, 1), 10.0) > 0
    side = inside("blender.attributes").read(built.pad.data, "padwright_side") == 1
    # The two bones of the case lie opposite each other to a few mm.
    assert (shown(built, inside, 0)[other & side] > 0.5).all()
    assert [zone.name for zone in built.zones] == ["bones", "rest"]


def test_mirrored_apart_a_zone_of_its_own_lies_on_the_other_side(built, inside, core):
    result = core()
    inside("blender.zones.painting").paint(built, 0, disc(result, bone(result), 20.0))
    built.zone_index, built.zones[0].level = 0, 3.5
    bpy.ops.padwright.mirror_zone(way="apart")
    assert [zone.name for zone in built.zones] == ["bones", "bones mirrored", "rest"]
    assert built.zone_index == 1 and built.zones[1].level == 3.5 and built.zones[1].is_painted
    first, second = shown(built, inside, 0), shown(built, inside, 1)
    assert first.any() and second.any() and not ((first > 0.5) & (second > 0.5)).any()
    bpy.ops.padwright.plan_zones()
    assert built.zones[0].area_cm2 == pytest.approx(built.zones[1].area_cm2, rel=0.05)


def test_mirroring_is_taken_back_and_done_again_exactly(built, inside, core):
    result = core()
    inside("blender.zones.painting").paint(built, 0, disc(result, bone(result), 20.0))
    before = shown(built, inside, 0)
    bpy.ops.ed.undo_push(message="painted")
    built.zone_index = 0
    bpy.ops.padwright.mirror_zone("EXEC_DEFAULT", True)
    after = shown(built, inside, 0)
    assert not np.array_equal(before, after)
    bpy.ops.ed.undo()
    assert np.array_equal(shown(bpy.context.scene.padwright, inside, 0), before)
    bpy.ops.ed.redo()
    assert np.array_equal(shown(bpy.context.scene.padwright, inside, 0), after)


def test_mirroring_an_empty_zone_or_an_outdated_pad_is_refused(built):
    built.zone_index = 0
    with pytest.raises(RuntimeError, match="bones has no paint and no planned area"):
        bpy.ops.padwright.mirror_zone()
    bpy.ops.padwright.plan_zones()
    built.fit_gap_mm += 0.1
    with pytest.raises(RuntimeError, match="Settings of the pad changed since the pad was built"):
        bpy.ops.padwright.mirror_zone()


@pytest.mark.parametrize("unit", [1.0, 0.001])
def test_an_outline_is_mirrored_as_a_curve_in_meters_and_in_millimeters(scene, job_file, inside, core, unit):
    scene.unit_settings.scale_length = unit
    bpy.ops.padwright.load_job(filepath=str(job_file))
    part = scene.padwright
    bpy.ops.padwright.build_pad()
    result = core()
    pose = inside("blender.stage_work").part_pose(bpy.context, result)
    mm = inside("blender.bridge").mm_per_scene_unit(scene)
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    across, along = np.linalg.svd(result.pad.press_direction[None])[2][1:]
    ring = bone(result) + 15.0 * (np.outer(np.cos(turn), across) + np.outer(np.sin(turn), along))
    data = bpy.data.curves.new("ring", "CURVE")
    data.dimensions = "3D"
    spline = data.splines.new("POLY")
    spline.points.add(23)
    for point, place in zip(spline.points, ring / mm, strict=True):
        point.co = (*(pose @ inside("blender.bridge").Vector(place)), 1.0)
    spline.use_cyclic_u = True
    curve = bpy.data.objects.new("ring", data)
    scene.collection.objects.link(curve)
    part.zones[0].source, part.zones[0].curve, part.zone_index = "outline", curve, 0
    bpy.ops.padwright.mirror_zone()
    made = part.zones[1]
    assert (made.name, made.source, made.level) == ("bones mirrored", "outline", part.zones[0].level)
    plane = inside("core.run.paint_starts").mirror_plane(result)
    wished = inside("core.stages.reading.left_right").mirrored(ring, plane)
    to_part = (pose.inverted() @ made.curve.matrix_world).to_4x4()
    found = np.array([to_part @ point.co.to_3d() for point in made.curve.data.splines[0].points]) * mm
    assert np.abs(found - wished).max() < 2e-3  # 32 bits
    bpy.ops.padwright.plan_zones()
    # Along the press direction both are alike; the two hollows are steeper than flat, and not equally.
    assert part.zones[0].area_cm2 == pytest.approx(part.zones[1].area_cm2, rel=0.1)
    assert part.zones[0].area_cm2 == pytest.approx(np.pi * 1.5**2, rel=0.15)


def test_color_marks_take_the_color_to_the_digit_and_ask_for_colors(built, inside, tmp_path):
    zone = built.zones[0]
    zone.source, zone.color, zone.tolerance = "color_marks", (1.0, 165 / 255, 0.0), 0.2
    scene = inside("blender.scene")
    job = scene.read_with_zone(bpy.context, scene.work_folder(), 0)
    assert job.zones[0].color == "#ffa500" and job.zones[0].color_tolerance == 0.2
    with pytest.raises(RuntimeError, match="has no colors: no texture"):
        bpy.ops.padwright.plan_zones()


def test_color_marks_on_a_colored_scan_make_a_zone_that_comes_back_from_its_job(built, inside, tmp_path):
    mesh = built.impression.data
    places = np.zeros(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", places)
    places = places.reshape(-1, 3)
    colors = np.ones((len(places), 4), dtype=np.float32)
    colors[places[:, 0] > np.median(places[:, 0]), 1:3] = 0.0
    layer = mesh.color_attributes.new("marks", "BYTE_COLOR", "POINT")
    layer.data.foreach_set("color_srgb", colors.ravel())
    mesh.color_attributes.active_color = mesh.color_attributes["marks"]
    built.zones[0].source, built.zones[0].color = "color_marks", (1.0, 0.0, 0.0)
    bpy.ops.padwright.plan_zones()
    assert 0.3 < built.zones[0].area_cm2 / sum(zone.area_cm2 for zone in built.zones) < 0.7
    area = built.zones[0].area_cm2
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "job.toml"))
    bpy.ops.padwright.load_job(filepath=str(tmp_path / "job.toml"))
    part = bpy.context.scene.padwright
    assert part.zones[0].source == "color_marks" and tuple(part.zones[0].color) == (1.0, 0.0, 0.0)
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    assert part.zones[0].area_cm2 == pytest.approx(area, rel=1e-5)


def test_a_new_zone_can_be_told_from_the_rest(part, inside):
    for level in (1.0, 2.0, 2.5, 4.0):
        part.zones["rest"].level = level
        for _ in range(3):
            bpy.ops.padwright.add_zone()
            assert part.zones[part.zone_index].level != level
    free_level = inside("blender.zones.zone_needs").free_level
    assert free_level([4.0, 2.0], 2.0) == 3.0 and free_level([], None) == 2.0


def test_a_zone_as_firm_as_the_rest_is_told(part):
    from tests.blender.test_panels import draw

    part.zone_index = 0
    assert "told apart" not in " ".join(draw("zones"))
    part.zones[0].level = part.zones["rest"].level
    assert "told apart" in " ".join(draw("zones"))
    part.zone_index = 1  # the rest itself
    assert "told apart" not in " ".join(draw("zones"))
