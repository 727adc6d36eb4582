"""A scene in meters, in millimeters or in inches gives the same part."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

SETUPS = {
    "meters": ("METRIC", "METERS", 1.0),
    "millimeters": ("METRIC", "MILLIMETERS", 0.001),
    "inches shown": ("IMPERIAL", "INCHES", 1.0),
    "inches": ("IMPERIAL", "INCHES", 0.0254),
}
STAGES = ("build_pad", "plan_zones", "cut_regions", "check_load")


@pytest.fixture(params=SETUPS)
def unit(request, scene) -> float:
    system, shown, scale = SETUPS[request.param]
    scene.unit_settings.system = system
    scene.unit_settings.length_unit = shown
    scene.unit_settings.scale_length = scale
    return scale


def test_a_job_gives_the_same_part_to_the_last_bit(unit, scene, job_file, inside):
    memory = inside("blender.stage_memory").memory()
    scale, scene.unit_settings.scale_length = scene.unit_settings.scale_length, 1.0
    run(job_file)
    scene.unit_settings.scale_length = scale
    run(job_file)
    # Each stage is known by a digest of all it depends on: nothing to work out means that not one bit differs.
    assert memory.worked_out == []


def run(job_file) -> None:
    bpy.ops.padwright.load_job(filepath=str(job_file))
    for stage in STAGES:
        assert getattr(bpy.ops.padwright, stage)() == {"FINISHED"}


def test_objects_of_the_scene_give_the_same_part(unit, scene, job_file, inside, array_of):
    """The artist's own meshes have the size that the scene shows, in whatever unit."""
    bpy.ops.padwright.load_job(filepath=str(job_file))
    part = scene.padwright
    bpy.ops.padwright.build_pad()
    expected = array_of(part.pad)
    for scan in ("base", "impression"):
        own = getattr(part, scan).copy()
        for name in ("padwright_numbers", "padwright_scale"):
            del own[name]
        own.name = f"my {scan}"
        scene.collection.objects.link(own)
        bpy.context.view_layer.update()
        bpy.context.view_layer.objects.active = own
        size = getattr(part, f"{scan}_unit")
        assert bpy.ops.padwright.use_object(scan=scan, unit="scene") == {"FINISHED"}
        assert getattr(part, f"{scan}_unit") == size
    part.lengths.clear()  # these objects are at their true size already
    part.impression_scale = "as file"
    bpy.ops.padwright.build_pad()
    assert part.base.name == "my base"
    found = array_of(part.pad)
    # Scales are kept with 32 bits: 6e-8 of the size, which may tip a cell of the pad's grid here and there.
    assert np.allclose(found.min(axis=0), expected.min(axis=0), atol=0.05)
    assert np.allclose(found.max(axis=0), expected.max(axis=0), atol=0.05)


def test_the_cursor_gives_the_same_check_length(unit, scene, job_file):
    bpy.ops.padwright.load_job(filepath=str(job_file))
    part = scene.padwright
    bpy.ops.padwright.add_length()
    for end, place_mm in (("start", (10.0, 20.0, 30.0)), ("end", (110.0, 20.0, 30.0))):
        scene.cursor.location = [each / (1000.0 * unit) for each in place_mm]
        bpy.ops.padwright.set_length_end(end=end)
    length = part.lengths[len(part.lengths) - 1]
    # The modeller keeps the cursor with 32 bits.
    assert np.allclose(length.start, (10.0, 20.0, 30.0), atol=1e-4)
    assert np.allclose(length.end, (110.0, 20.0, 30.0), atol=1e-4)


def test_paint_in_any_unit_gives_the_same_zone(unit, scene, job_file):
    # Places are kept with 32 bits: a vertex on the border of the paint or of a cell may fall on the other side.
    assert painted_areas(scene, job_file, unit) == pytest.approx(painted_areas(scene, job_file, 1.0), rel=1e-3)


def painted_areas(scene, job_file, unit: float) -> list[float]:
    """Return the areas of the zones after half of the pad was painted."""
    scene.unit_settings.scale_length = unit
    bpy.ops.padwright.load_job(filepath=str(job_file))
    part = scene.padwright
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    matrix = part.pad.matrix_world
    right = [vertex.index for vertex in part.pad.data.vertices if (matrix @ vertex.co).x * 1000 * unit > 0.0]
    group = part.pad.vertex_groups[part.zones[0].name]
    group.remove(range(len(part.pad.data.vertices)))
    group.add(right, 1.0, "REPLACE")
    bpy.ops.padwright.plan_zones()
    assert part.zones[0].is_painted
    return [zone.area_cm2 for zone in part.zones]
