"""Where the scans cannot tell which of some poses is right: step through them, and take one."""

import bpy
from bpy.props import IntProperty

from .. import refusals, reporting, state
from ..button import Button
from ..stage_work import StageWork, lay_impression
from . import poses


class _OnPoses(Button):
    """Needs poses to choose between."""

    modes = {"OBJECT"}

    @classmethod
    def missing(cls, context, part):
        is_there = refusals.poses(part) is not None
        lacking = "" if is_there else "Align the scans first; poses are offered where the scans cannot tell"
        return state.missing(part, "alignment") or lacking


class PADWRIGHT_OT_show_pose(_OnPoses, bpy.types.Operator):
    """Show the impression in the next, or the previous, of the poses that fit"""

    bl_label = "Show Pose"
    bl_options = {"UNDO"}

    step: IntProperty(
        name="Step", description="To the next pose, or with -1 to the previous one", default=1, min=-1, max=1
    )

    def act(self, context, part):
        found = refusals.poses(part)
        before = poses.shown(part)
        at = (before - 1 + self.step) % len(found.candidates) if before else 0
        candidate = found.candidates[at]
        lay_impression(context, found.to_part, candidate.matrix)
        part.pose_shown, part.pose_shown_scans = candidate.number, poses.scans_of(part)
        reporting.tell(self, f"Pose {candidate.sentence}")


class PADWRIGHT_OT_use_pose(_OnPoses, StageWork, bpy.types.Operator):
    """Take the pose that is shown: the scans are aligned in it, and the job says so"""

    bl_label = "Use This Pose"
    stage = "alignment"

    def steps(self, context):
        """Read the scene as it is with the pose taken, and return the work; the scene itself stays as it is."""
        part = context.scene.padwright
        self._number = poses.shown(part) or refusals.poses(part).candidates[0].number
        before = part.pose, part.pose_scans
        poses.take(part, self._number)
        try:
            return super().steps(context)
        finally:
            part.pose, part.pose_scans = before

    def finish(self, context, result):
        poses.take(context.scene.padwright, self._number)
        super().finish(context, result)


class PADWRIGHT_OT_drop_pose(Button, bpy.types.Operator):
    """Forget which pose was taken; aligning finds and offers the poses again"""

    bl_label = "Choose Another Pose"
    bl_options = {"UNDO"}

    @classmethod
    def missing(cls, context, part):
        return "" if poses.taken(part) else "No pose was taken"

    def act(self, context, part):
        poses.take(part, 0)
        reporting.tell(self, "No pose is taken; align the scans again")
