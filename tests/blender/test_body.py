"""A scan of the body in place of clay: loaded, laid by landmarks or as it lies, pressed, and saved again."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from mathutils import Matrix
from tests.blender.test_panels import draw
from tests.support.scanned import board, sphere
from tests.support.writers import write_ply

LANDMARKS = ((0.0, 0.0, -100.0), (60.0, 0.0, -80.0), (0.0, 60.0, -80.0))
JOB = """schema = 1
[part]
name = "Ball seat"
number = "BALL-1"
family = "seat_pad"
[base]
scan = "base.ply"
unit = "mm"
[impression]
clay_thickness_mm = 25.0
imprint_depth_mm = 15.0
[body]
scan = "ball.ply"
scan_unit = "cm"
press_direction = [0.0, 0.0, -1.0]
{pairs}
[load]
force_n = 300.0
"""


@pytest.fixture
def ball(scene, tmp_path):
    """Return the scene's part with a board and a ball that lies aside, tenths of its size, laid by three landmarks."""
    write_ply(board(), tmp_path / "base.ply")
    write_ply(sphere(100.0).scaled(0.1), tmp_path / "ball.ply")
    pairs = "".join(
        f"[[body.pairs]]\nbody = {[each / 10.0 for each in mark]}\nbase = {[*mark[:2], mark[2] + 130.0]}\n"
        for mark in LANDMARKS
    )
    (tmp_path / "job.toml").write_text(JOB.format(pairs=pairs), "utf-8")
    assert bpy.ops.padwright.load_job(filepath=str(tmp_path / "job.toml")) == {"FINISHED"}
    return bpy.context.scene.padwright


def test_a_body_is_loaded_pressed_and_read(ball):
    assert ball.shows_body and len(ball.pairs) == 3 and ball.impression_unit == "cm"
    shown = " ".join(draw("body"))
    assert "<padwright.press_body>" in shown and "<padwright.pick_pairs>" in shown
    assert bpy.ops.padwright.press_body() == {"FINISHED"}
    said = ball.stages["body"].lines.split("\n")
    assert said[0].startswith("300 N press the body 15.0 mm deep")
    # It is laid by its landmarks: the ball's middle comes to lie over the board's.
    assert np.array(ball.impression.matrix_world.translation)[:2] == pytest.approx([0.0, 0.0], abs=1e-4)
    assert [pair.is_fitted for pair in ball.pairs] == [True] * 3
    assert bpy.ops.padwright.read_impression() == {"FINISHED"}
    assert ball.body.name.endswith("Body Side")


def test_without_landmarks_it_is_pressed_from_where_it_lies(ball, inside):
    ball.pairs.clear()
    ball.impression.matrix_world = Matrix.Translation((0.03, 0.0, 0.16)) @ ball.impression.matrix_world
    bpy.context.view_layer.update()
    assert bpy.ops.padwright.press_body() == {"FINISHED"}
    memory, scene = inside("blender.stage_memory").memory(), inside("blender.scene")
    job = scene.read_scene(bpy.context, scene.work_folder(), with_zones=False)
    assert job.impression.scan is None and len(job.body.pairs) == 4
    pressed = memory.known(job, scene.work_folder(), "body").find(inside("core.stages.body.pressed").PressedBody)
    # A ball on an even board presses under its middle, 30 mm aside; the board waves by 2 mm.
    assert pressed.clay.middle_mm[:2] == pytest.approx([30.0, 0.0], abs=2.0)


def test_moving_a_body_without_landmarks_outdates_what_was_made_of_it(ball, inside):
    """As its button presses it from where it lies now; moving base and body together changes nothing."""
    state = inside("blender.state")
    ball.pairs.clear()
    ball.impression.matrix_world = Matrix.Translation((0.03, 0.0, 0.16)) @ ball.impression.matrix_world
    bpy.context.view_layer.update()
    assert bpy.ops.padwright.press_body() == {"FINISHED"}
    assert bpy.ops.padwright.read_impression() == {"FINISHED"}
    both = (ball.base, ball.impression)
    where = [obj.matrix_world.copy() for obj in both]
    aside, turn = Matrix.Translation((0.2, -0.1, 0.3)), Matrix.Rotation(0.4, 4, "Z")

    def told():
        bpy.context.view_layer.update()
        return [state.stale(ball, stage) for stage in ("scans", "body", "reading")]

    assert told() == ["", "", ""]
    for obj, matrix in zip(both, where, strict=True):
        obj.matrix_world = aside @ turn @ matrix
    assert told() == ["", "", ""]
    for moved in (Matrix.Translation((0.001, 0.0, 0.0)) @ where[1], where[1] @ Matrix.Rotation(0.02, 4, "X")):
        ball.base.matrix_world, ball.impression.matrix_world = where[0], moved
        assert told() == ["", "Settings of the body changed since", "Settings of the body changed since"]
    ball.impression.matrix_world = where[1]
    assert told() == ["", "", ""]


def test_a_body_laid_by_landmarks_may_be_moved_by_hand(ball, inside):
    """Its place in the scene does not count: the landmarks lay it."""
    assert bpy.ops.padwright.press_body() == {"FINISHED"}
    ball.impression.matrix_world = Matrix.Translation((0.05, 0.0, 0.0)) @ ball.impression.matrix_world
    bpy.context.view_layer.update()
    assert inside("blender.state").stale(ball, "body") == ""


def test_depth_and_strength_of_the_clay_are_both_on_show_where_one_must_go(ball):
    assert "[clay_strength_kpa]" not in " ".join(draw("body"))  # the depth is given
    ball.clay_strength_kpa = 20.0
    with pytest.raises(RuntimeError, match=r"Strength: .*not both"):
        bpy.ops.padwright.press_body()
    assert {"[imprint_depth_mm]", "[clay_strength_kpa]"} <= set(draw("body"))


def test_what_is_missing_is_told(ball):
    ball.clay_thickness_mm = 0.0
    assert "Give the thickness of the virtual clay first" in " ".join(draw("body"))
    ball.shows_body = False
    with pytest.raises(RuntimeError, match="tick"):
        bpy.ops.padwright.press_body()
