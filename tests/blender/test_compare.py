"""The scan of a print held against the part in the window: what is shown is what the core finds; it is taken over."""

from __future__ import annotations

import bpy
import numpy as np
import pytest

from scan_making import ply_bytes

SHORT = 0.985  # the print came out so much smaller


@pytest.fixture
def printed(part, inside, tmp_path):
    """Return the part with its load checked, and a scan of its print beside it, turned and shrunk."""
    for stage in ("build_pad", "plan_zones", "cut_regions", "check_load"):
        getattr(bpy.ops.padwright, stage)()
    bridge = inside("blender.bridge")
    pad = bridge.read_mesh(part.pad)
    mm = bridge.mm_per_scene_unit(bpy.context.scene)
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    points = (pad.vertices * mm * SHORT) @ turn.T + np.array([40.0, -15.0, 8.0])
    points += np.random.default_rng(5).normal(0.0, 0.05, points.shape)
    (tmp_path / "print.ply").write_bytes(ply_bytes(points, pad.faces))
    part.folder = str(tmp_path / "out")
    part.compare.scan, part.compare.unit = str(tmp_path / "print.ply"), "mm"
    return part


def test_a_print_is_laid_on_the_part_and_its_shrinkage_can_be_taken_over(printed, inside, tmp_path):
    state, scene = inside("blender.state"), inside("blender.scene")
    assert not bpy.ops.padwright.show_print.poll()
    size = np.ptp(inside("blender.bridge").mesh_places(printed.pad), axis=0) * 1000.0
    found = printed.compare
    found.extent_x_mm = 0.0
    # One length by caliper: the whole height as it lay on the bed is hard to take; the longest side is not.
    job = scene.read_scene(bpy.context, scene.work_folder())
    steps = inside("blender.stage_memory").memory().reach(job, scene.work_folder(), state.STAGES[-1])
    made = inside("core.base.progress").drain(steps)
    _, laid = inside("core.run.laid_out").laid_out(made)
    on_bed = np.concatenate([body.mesh.vertices for body in laid.bodies]) @ laid.to_bed[:3, :3].T
    found.extent_x_mm = SHORT * float(np.ptp(on_bed[:, 0]))
    assert bpy.ops.padwright.compare_print() == {"FINISHED"}
    assert found.of == printed.revision
    assert found.obj.visible_get()
    assert printed.view.is_colored and printed.view.title == "Print Off the Part"
    # It lies on the part: no vertex is farther off than the shrinkage makes it.
    pad = inside("blender.bridge").read_mesh(printed.pad).scaled(1000.0)
    to_pad = np.array(printed.pad.matrix_world.inverted() @ found.obj.matrix_world)
    places = inside("blender.bridge").mesh_places(found.obj) @ to_pad[:3, :3].T + to_pad[:3, 3]
    away = inside("core.geometry.query").NearestSurface(pad).find(places * 1000.0).distance
    assert np.percentile(away, 95) < 0.6 * (1.0 - SHORT) * size.max()
    assert "x of the bed" in found.facts
    found.extent_long_mm = 2.0 * size.max()
    with pytest.raises(RuntimeError, match="at its longest"):
        bpy.ops.padwright.compare_print()
    found.extent_long_mm = 0.0
    assert "shrinkage_pct" in found.keys
    assert found.corrections.startswith("Make up for a shrinkage of 1.")
    bpy.ops.padwright.clear_colors()
    assert not found.obj.visible_get()  # it would lie over the pad
    assert bpy.ops.padwright.show_print() == {"FINISHED"}
    bpy.ops.padwright.show_values(values="thickness")
    assert printed.pad.visible_get() and not found.obj.visible_get()
    bpy.ops.padwright.clear_colors()
    assert bpy.ops.padwright.take_corrections() == {"FINISHED"}
    made_anew = scene.read_scene(bpy.context, scene.work_folder()).part
    assert (made_anew.revision, made_anew.previous) == ("2", str(tmp_path / "out"))
    corrected = scene.read_scene(bpy.context, scene.work_folder()).printer.shrinkage_pct
    assert corrected == pytest.approx([100.0 * (1.0 - SHORT)] * 3, abs=0.3)
    assert not bpy.ops.padwright.take_corrections.poll()


def test_what_is_no_print_is_said(part, tmp_path):
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    bpy.ops.padwright.cut_regions()
    assert not bpy.ops.padwright.compare_print.poll()
    part.compare.scan = str(tmp_path / "none.ply")
    with pytest.raises(RuntimeError, match=r"none\.ply"):
        bpy.ops.padwright.compare_print()
