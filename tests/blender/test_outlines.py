"""Curves that the artist draws: footprint, reliefs and outlines of zones, as points of a scan and back."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest


@pytest.fixture
def read(inside):
    """Read a curve as the part's footprint would be read: points in a scan's own numbers, and which scan's."""
    outlines, drawn = inside("blender.pad.outlines"), inside("blender.pad.drawn")

    def points(obj, is_closed=True):
        bpy.context.view_layer.update()
        return outlines.read_points(bpy.context, drawn.Used("Footprint", obj, is_closed))

    return points


def curve(places, kind="POLY", is_closed=True, name="Mine"):
    """Make a curve as the artist's own tools do."""
    data = bpy.data.curves.new(name, "CURVE")
    data.dimensions = "3D"
    spline = data.splines.new(kind)
    points = spline.bezier_points if kind == "BEZIER" else spline.points
    points.add(len(places) - 1)
    for point, place in zip(points, places, strict=True):
        point.co = place if kind == "BEZIER" else (*place, 1.0)
        if kind == "BEZIER":
            point.handle_left_type = point.handle_right_type = "AUTO"
    spline.use_cyclic_u = is_closed
    obj = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(obj)
    return obj


def around(center, radius, count=12):
    turn = 2 * np.pi * np.arange(count) / count
    return [(center[0] + radius * np.cos(t), center[1] + radius * np.sin(t), center[2]) for t in turn]


def job_with_drawings(job_file: Path, case) -> Path:
    """Add a footprint, an opening, a channel and an outlined zone to the job; points of both scans."""
    size = 1.0 / (case.mm_per_unit * case.base_factor)  # a mm in the base file's own numbers
    middle = size * np.asarray(case.load_centers_in_base).mean(axis=0)
    press = np.asarray(case.press_direction_in_base)
    side = np.cross(press, [1.0, 0.0, 0.0])
    side /= np.linalg.norm(side)
    ahead = np.cross(side, press)

    def ring(center, first, second, count):
        turn = 2 * np.pi * np.arange(count) / count
        return center + size * (first * np.outer(np.cos(turn), ahead) + second * np.outer(np.sin(turn), side))

    def text(points):
        return str([[float(f"{each:.9g}") for each in point] for point in points])

    line = middle + size * np.outer(np.linspace(-45, 45, 7), ahead) - 20 * size * side
    lines = [
        "[pad]",
        f"footprint = {text(ring(middle, 105.0, 80.0, 40))}",
        "[[pad.reliefs]]",
        f'name = "nerve"\nkind = "channel"\npoints = {text(line)}\nwidth_mm = 9.0\ndepth_mm = 2.2',
        "[[pad.reliefs]]",
        f'kind = "opening"\npoints = {text(ring(middle + 45 * size * side, 14.0, 9.0, 16))}\nedge_radius_mm = 1.25',
    ]
    inner = text(ring(middle, 60.0, 45.0, 24))
    zone = f'[[zones]]\nname = "inner"\nlevel = 3\nsource = "outline"\npoints_on = "base"\npoints = {inner}\n'
    source = job_file.read_text("utf-8").replace("[[zones]]", zone + "[[zones]]", 1)
    path = job_file.with_name("drawn.toml")
    path.write_text(source + "\n".join(lines) + "\n", "utf-8")
    return path


@pytest.fixture(scope="session")
def drawn_job(job_file: Path, case) -> Path:
    return job_with_drawings(job_file, case)


def headless(inside, path: Path):
    job_read, pipeline, progress = (inside(f"core.{name}") for name in ("job.read", "run.pipeline", "base.progress"))
    return progress.drain(pipeline.run_job(job_read.read_job(path), path.parent))


def as_float32(points):
    return [[float(np.float32(each)) for each in point] for point in points]


def test_a_loaded_job_s_points_become_curves_and_go_back_the_same(drawn_job, inside, tmp_path):
    bpy.ops.padwright.load_job(filepath=str(drawn_job))
    part = bpy.context.scene.padwright
    assert part.footprint.type == "CURVE" and [relief.curve.type for relief in part.reliefs] == ["CURVE", "CURVE"]
    zone = part.zones["inner"]
    assert zone.source == "outline" and zone.curve.data.splines[0].use_cyclic_u
    job_read = inside("core.job.read")
    given, found = job_read.read_job(drawn_job), inside("blender.scene").read_scene(bpy.context, tmp_path)
    assert as_float32(found.pad.footprint) == as_float32(given.pad.footprint)
    assert as_float32(found.zones[0].points) == as_float32(given.zones[0].points)
    assert found.zones[0].points_on == "base"
    for one, other in zip(found.pad.reliefs, given.pad.reliefs, strict=True):
        assert as_float32(one.points) == as_float32(other.points)
        for name in ("name", "kind", "points_on", "width_mm", "depth_mm", "edge_radius_mm"):
            assert getattr(one, name) == getattr(other, name)


def test_a_drawn_part_is_the_same_from_the_scene_and_from_its_saved_job(drawn_job, inside, tmp_path):
    bpy.ops.padwright.load_job(filepath=str(drawn_job))
    part = bpy.context.scene.padwright
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    bpy.ops.padwright.cut_regions()
    part.folder = str(tmp_path / "out")
    assert bpy.ops.padwright.export_part() == {"FINISHED"}
    assert bpy.ops.padwright.save_job(filepath=str(tmp_path / "saved" / "job.toml")) == {"FINISHED"}
    files = headless(inside, tmp_path / "saved" / "job.toml").files
    written = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert set(written) == {*files, "SEAT-1.run.json"}
    for name, data in files.items():
        assert written[name] == data, name
    # and the same points after loading what was saved
    text = (tmp_path / "saved" / "job.toml").read_text()
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    bpy.ops.padwright.load_job(filepath=str(tmp_path / "saved" / "job.toml"))
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "again" / "job.toml"))
    assert (tmp_path / "again" / "job.toml").read_text() == text


@pytest.mark.parametrize("scale_length", [1.0, 0.001, 0.0254])
def test_the_scene_s_unit_does_not_change_the_points(scene, drawn_job, inside, tmp_path, scale_length):
    scene.unit_settings.scale_length = scale_length
    bpy.ops.padwright.load_job(filepath=str(drawn_job))
    found = inside("blender.scene").read_scene(bpy.context, tmp_path)
    given = inside("core.job.read").read_job(drawn_job)
    assert as_float32(found.pad.footprint) == as_float32(given.pad.footprint)


@pytest.mark.parametrize("scale_length", [1.0, 0.001])
def test_a_curve_drawn_at_one_place_gives_the_same_points_in_any_unit(scene, job_file, read, case, scale_length):
    scene.unit_settings.scale_length = scale_length
    bpy.ops.padwright.load_job(filepath=str(job_file))
    size = 0.001 / scale_length  # a mm in the scene
    places = around((10.0, -20.0, 5.0), 60.0)
    points, on = read(curve([tuple(size * each for each in place) for place in places]))
    assert on == "base"
    assert np.allclose(np.array(points) * case.mm_per_unit, places, rtol=1e-6, atol=1e-4)


def test_scale_and_turn_of_the_curve_object_count(part, read, case):
    flat = curve(around((0.0, 0.0, 0.0), 0.05))
    plain, _ = read(flat)
    turned = curve([(y * 10, -x * 10, z) for x, y, z in around((0.0, 0.0, 0.0), 0.05)])
    turned.scale, turned.rotation_euler = (0.1, 0.1, 0.1), (0.0, 0.0, np.pi / 2)
    assert np.allclose(read(turned)[0], plain, atol=1e-4 / case.mm_per_unit)


def test_moving_the_base_takes_the_curves_along(drawn_job, inside, tmp_path):
    bpy.ops.padwright.load_job(filepath=str(drawn_job))
    part, scene = bpy.context.scene.padwright, inside("blender.scene")
    before = scene.read_scene(bpy.context, tmp_path)
    part.base.location, part.base.rotation_euler = (1.0, -2.0, 0.5), (0.4, 0.2, 2.0)
    after = scene.read_scene(bpy.context, tmp_path)
    assert after.pad == before.pad and after.zones == before.zones


def test_a_smooth_curve_is_read_as_it_is_seen(part, read, case):
    count, radius = 8, 0.06
    points, _ = read(curve(around((0.0, 0.0, 0.02), radius, count), "BEZIER"))
    assert len(points) == 12 * count
    far = np.linalg.norm(np.array(points)[:, :2], axis=1) * case.mm_per_unit
    # Eight points with smooth handles leave a circle by 1.0 % (measured); straight lines between them by 7.6 %.
    assert np.abs(far / 60.0 - 1.0).max() <= 0.011
    thick = curve(around((0.0, 0.0, 0.02), radius, count), "BEZIER")
    thick.data.bevel_depth = 0.004
    assert read(thick)[0] == points
    wave = curve(around((0.0, 0.0, 0.02), radius, count), "BEZIER")
    shift = wave.modifiers.new("Shift", "HOOK")
    assert read(wave)[0] == points
    shift.object = bpy.data.objects.new("Hook", None)
    curves = len(bpy.data.curves)
    read(thick)
    assert len(bpy.data.curves) == curves  # nothing is left of the stand-in


def faulty(kind):
    places = around((0.0, 0.0, 0.0), 0.05)
    if kind == "open":
        return curve(places, is_closed=False), 'Footprint: "Mine" is open'
    if kind == "few":
        return curve(places[:2]), 'Footprint: "Mine" has 2 of 3 points'
    if kind == "one place":
        return curve([places[0]] * 4), "1 different points; 3 are needed"
    if kind == "no area":
        return curve([(0, 0, 0), (0.1, 0, 0), (0.2, 0, 0)]), r"surrounds 0\.0 mm2"
    if kind == "several":
        obj = curve(places)
        obj.data.splines.new("POLY")
        return obj, 'Footprint: "Mine" has 2 splines'
    if kind == "empty":
        obj = curve(places)
        obj.data.splines.clear()
        return obj, 'Footprint: "Mine" has 0 splines'
    if kind == "mesh":
        obj = bpy.data.objects.new("Mine", bpy.data.meshes.new("Mine"))
        bpy.context.scene.collection.objects.link(obj)
        return obj, 'Footprint: "Mine" is no curve'
    if kind == "array":
        obj = curve(places, "BEZIER")
        obj.modifiers.new("Copies", "ARRAY")
        return obj, "is no single line"
    obj = curve(places)
    bpy.context.scene.collection.objects.unlink(obj)
    if kind == "elsewhere":
        bpy.data.scenes.new("Other").collection.objects.link(obj)
    return obj, 'Footprint: "Mine" is not in this scene'


@pytest.mark.parametrize(
    "kind", ["open", "few", "one place", "no area", "several", "empty", "mesh", "array", "elsewhere", "deleted"]
)
def test_a_curve_that_cannot_be_used_is_told_and_stops_the_pad_only(part, kind):
    part.footprint, said = faulty(kind)
    with pytest.raises(RuntimeError, match=said):
        bpy.ops.padwright.build_pad()
    assert bpy.ops.padwright.prepare_scans() == {"FINISHED"}
    part.footprint = None
    assert bpy.ops.padwright.build_pad() == {"FINISHED"}


def test_the_outline_decides_where_the_pad_ends(part, array_of, case):
    bpy.ops.padwright.build_pad()
    whole = float(part.stages["pad"].lines.split(" has ")[1].split(" cm3")[0])
    assert bpy.ops.padwright.draw_footprint() == {"FINISHED"}
    assert bpy.context.mode == "EDIT_CURVE" and bpy.context.active_object == part.footprint
    with pytest.raises(RuntimeError, match="Object Mode"):
        bpy.ops.padwright.build_pad()
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.padwright.build_pad()
    started = float(part.stages["pad"].lines.split(" has ")[1].split(" cm3")[0])
    assert started == pytest.approx(whole, rel=0.03)  # the start lies along the rim
    points = part.footprint.data.splines[0].bezier_points
    middle = sum((each.co for each in points), points[0].co * 0) / len(points)
    for point in points:
        point.co = 0.6 * point.co + 0.4 * middle
    bpy.ops.padwright.build_pad()
    small = float(part.stages["pad"].lines.split(" has ")[1].split(" cm3")[0])
    assert small < 0.6 * started
