"""Where the scans cannot tell which of some poses is right: step through them, and take one."""

import bpy
from bpy.props import IntProperty

from .. import refusals, reporting, state
from ..stage_work import StageWork
from . import poses


class _OnPoses:
    """Needs poses to choose between."""

    @classmethod
    def poll(cls, context):
        """Say what is missing."""
        part = context.scene.padwright
        missing = state.missing(part, "alignment")
        if not missing and context.mode != "OBJECT":
            missing = "Go back to Object Mode first"
        if not missing and refusals.poses(part) is None:
            missing = "Align the scans first; poses are offered where the scans cannot tell"
        return reporting.allowed(cls, missing)


class PADWRIGHT_OT_show_pose(_OnPoses, bpy.types.Operator):
    """Show the impression in the next, or the previous, of the poses that fit"""

    bl_idname = "padwright.show_pose"
    bl_label = "Show Pose"
    bl_options = {"UNDO"}

    step: IntProperty(
        name="Step", description="To the next pose, or with -1 to the previous one", default=1, min=-1, max=1
    )

    @reporting.told
    def execute(self, context):
        """Put the impression there."""
        from mathutils import Matrix

        from .. import bridge
        from ..stage_work import pose_in_scene

        part = context.scene.padwright
        found = refusals.poses(part)
        before = poses.shown(part)
        at = (before - 1 + self.step) % len(found.candidates) if before else 0
        candidate = found.candidates[at]
        place = pose_in_scene(context, found.to_part) @ bridge.scene_matrix(candidate.matrix, context.scene)
        size = part.impression.matrix_world.to_scale()
        part.impression.matrix_world = place @ Matrix.Diagonal((*size, 1.0))
        part.pose_shown, part.pose_shown_scans = candidate.number, poses.scans_of(part)
        state.show_scans(part, base=True, impression=True)
        context.view_layer.update()
        reporting.tell(self, f"Pose {candidate.sentence}")
        return {"FINISHED"}


class PADWRIGHT_OT_use_pose(_OnPoses, StageWork, bpy.types.Operator):
    """Take the pose that is shown: the scans are aligned in it, and the job says so"""

    bl_idname = "padwright.use_pose"
    bl_label = "Use This Pose"
    bl_options = {"REGISTER", "UNDO"}
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
        """Keep the number, and write the alignment."""
        poses.take(context.scene.padwright, self._number)
        super().finish(context, result)


class PADWRIGHT_OT_drop_pose(bpy.types.Operator):
    """Forget which pose was taken; aligning finds and offers the poses again"""

    bl_idname = "padwright.drop_pose"
    bl_label = "Choose Another Pose"
    bl_options = {"UNDO"}

    @classmethod
    def poll(cls, context):
        """Need a pose."""
        return reporting.allowed(cls, "" if poses.taken(context.scene.padwright) else "No pose was taken")

    def execute(self, context):
        """Forget it."""
        poses.take(context.scene.padwright, 0)
        reporting.tell(self, "No pose is taken; align the scans again")
        return {"FINISHED"}


CLASSES = (PADWRIGHT_OT_show_pose, PADWRIGHT_OT_use_pose, PADWRIGHT_OT_drop_pose)
