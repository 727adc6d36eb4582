"""Poses between which the scans cannot tell: stepped through, one taken, kept in the file and in the job."""

from __future__ import annotations

from dataclasses import replace

import bpy
import numpy as np
import pytest
from mathutils import Matrix
from tests.blender.test_panels import draw


@pytest.fixture
def unsure(part, inside, monkeypatch):
    """Align as ever, and then say that a pose turned by half a turn fits as well."""
    work, candidates = inside("core.stages.alignment.work"), inside("core.stages.alignment.candidates")
    truly = work.align_scans
    asked = []

    def align(base, impression, *, seed, pose):
        asked.append(pose)
        found = yield from truly(base, impression, seed=seed, pose=None)
        turned = found.matrix @ np.diag([-1.0, -1.0, 1.0, 1.0])
        if pose is not None and pose > 2:
            raise inside("core.base.errors").InputError("There is no such pose.", hint="Take 1 or 2.")
        if pose is not None:
            return replace(found, pose=pose, matrix=(found.matrix, turned)[pose - 1])
        offered = [
            candidates.Candidate(1, found.matrix, 0.5, 1.0, 0.0, 0.0, False, 0.0, 0.0, "the best"),
            candidates.Candidate(2, turned, 0.49, 0.98, 0.01, 0.02, True, 9.0, 180.0, "turned 180 degrees"),
        ]
        raise candidates.UnsurePoseError(
            "2 poses fit.", hint="Take one, or pick pairs.", candidates=tuple(offered), base=base, impression=impression
        )

    monkeypatch.setattr(work, "align_scans", align)
    monkeypatch.setattr(inside("blender.stage_memory"), "_memory", None)
    return part, asked


def refused(name):
    with pytest.raises(RuntimeError, match="2 poses fit"):
        getattr(bpy.ops.padwright, name)()


def place(part):
    bpy.context.view_layer.update()
    matrix = part.impression.matrix_world
    return np.array(Matrix.LocRotScale(*matrix.decompose()[:2], None))


@pytest.mark.parametrize("button", ["align_scans", "build_pad"])
def test_the_panel_offers_the_poses_and_shows_each_in_the_viewport(unsure, button):
    part, _ = unsure
    assert not bpy.ops.padwright.show_pose.poll()
    refused(button)
    assert "2 poses fit" in draw("alignment") and "<padwright.use_pose>" not in draw("alignment")
    seen = []
    for step, number in ((1, 1), (1, 2), (1, 1), (-1, 2)):
        assert bpy.ops.padwright.show_pose(step=step) == {"FINISHED"}
        texts = " ".join(draw("alignment"))
        assert f"2 poses fit: {number} of 2" in texts and "<padwright.use_pose>" in texts
        seen.append((number, place(part)))
    assert "explains 98 % as much" in texts and "turned 180 degrees" in texts
    assert np.allclose(seen[0][1], seen[2][1], atol=1e-6) and np.allclose(seen[1][1], seen[3][1], atol=1e-6)
    assert not np.allclose(seen[0][1], seen[1][1], atol=1e-2)


def test_a_pose_is_shown_where_the_base_lies(unsure, inside):
    part, _ = unsure
    refused("align_scans")
    bpy.ops.padwright.show_pose()
    before = np.linalg.inv(np.array(part.base.matrix_world)) @ np.array(part.impression.matrix_world)
    part.base.matrix_world = Matrix.Translation((0.3, 0.2, 0.1)) @ Matrix.Rotation(0.7, 4, "X") @ part.base.matrix_world
    bpy.context.view_layer.update()
    for _ in range(2):
        bpy.ops.padwright.show_pose()
    bpy.context.view_layer.update()
    after = np.linalg.inv(np.array(part.base.matrix_world)) @ np.array(part.impression.matrix_world)
    assert np.allclose(after, before, atol=2e-3)  # mm: matrices have 32 bits, and the scans lie 0.3 m from the origin


def test_the_pose_taken_is_that_of_the_part_the_file_and_the_job(unsure, inside, tmp_path):
    part, asked = unsure
    refused("align_scans")
    bpy.ops.padwright.show_pose()
    bpy.ops.padwright.show_pose()
    shown = place(part)
    assert bpy.ops.padwright.use_pose() == {"FINISHED"}
    assert asked[-1] == 2 and part.pose == 2
    assert np.allclose(place(part), shown, atol=1e-5)
    texts = " ".join(draw("alignment"))
    assert "Pose 2, taken by you." in texts and "poses fit" not in texts
    assert inside("blender.state").stale(part, "alignment") == ""
    bpy.ops.padwright.read_impression()  # a later stage does not ask again
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "job.toml"))
    assert inside("core.job.read").read_job(tmp_path / "job.toml").alignment.pose == 2
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "a.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "a.blend"))
    assert inside("blender.alignment.poses").taken(bpy.context.scene.padwright) == 2
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    bpy.ops.padwright.load_job(filepath=str(tmp_path / "job.toml"))
    assert inside("blender.alignment.poses").taken(bpy.context.scene.padwright) == 2


def test_it_goes_with_the_scans_it_is_of_and_pairs_go_before_it(unsure, inside):
    part, asked = unsure
    poses = inside("blender.alignment.poses")
    refused("align_scans")
    bpy.ops.padwright.show_pose()
    bpy.ops.padwright.use_pose()
    assert poses.taken(part) == 1
    part.lengths[0].measured_mm += 1.0
    assert poses.taken(part) == 0
    refused("align_scans")  # asked anew
    assert asked[-1] is None and inside("blender.refusals").poses(part) is not None
    part.lengths[0].measured_mm -= 1.0
    assert poses.taken(part) == 1
    for number in range(3):
        bpy.ops.padwright.pick_pairs(base_point=(number, 0, 0), impression_point=(0, number, 0))
    assert poses.taken(part) == 0
    tables = inside("blender.scene").scene_tables(part)
    assert "pose" not in tables["alignment"]


def test_another_can_be_chosen_and_undo_brings_the_first_back(unsure):
    part, _ = unsure
    refused("align_scans")
    bpy.ops.padwright.show_pose()
    bpy.ops.padwright.use_pose()
    bpy.ops.ed.undo_push(message="taken")
    assert bpy.ops.padwright.drop_pose("EXEC_DEFAULT", True) == {"FINISHED"}
    assert part.pose == 0
    refused("align_scans")
    assert "2 poses fit" in " ".join(draw("alignment"))
    bpy.ops.ed.undo()
    assert bpy.context.scene.padwright.pose == 1


def test_a_pose_that_is_refused_itself_is_not_taken_and_the_others_stay(unsure, inside, monkeypatch):
    part, _ = unsure
    refused("align_scans")
    bpy.ops.padwright.show_pose()
    work, errors = inside("core.stages.alignment.work"), inside("core.base.errors")

    def align(*_, **__):
        raise errors.SolveError("No real fit.", hint="Pick pairs.")
        yield

    monkeypatch.setattr(work, "align_scans", align)
    with pytest.raises(RuntimeError, match="No real fit"):
        bpy.ops.padwright.use_pose()
    assert part.pose == 0 and part.pose_scans == ""
    texts = " ".join(draw("alignment"))
    assert "No real fit." in texts and "2 poses fit: 1 of 2" in texts
