"""What all stage operators share: the way from the scene to a stage's result."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy

from ..core.base.progress import Steps
from . import refusals, reporting, state
from .long_work import LongWork
from .stage_memory import begun_memory, failing_stage, memory

if TYPE_CHECKING:
    from ..core.run.parts import MadePart


_PLANNED = ("regions", "folds", "load", "shape")  # stages that show the zones they were worked out from


class StageWork(LongWork):
    """Bring the part to a stage; a subclass says which and writes the result."""

    keeps_refusals = True

    @classmethod
    def missing(cls, context: bpy.types.Context, part: Any) -> str:
        """Return what the stage needs."""
        return state.missing(part, cls.stage)

    def at_fault(self) -> str:
        """Return the stage that raised the error: an earlier one may be worked out on the way."""
        return failing_stage()

    def steps(self, context: bpy.types.Context) -> Steps[MadePart]:
        """Read the scene and return the work up to the stage."""
        from . import scene
        from .regions import hand_edits

        remembered = begun_memory()
        folder = scene.work_folder()
        after = state.STAGES.index(self.stage)
        if after > state.STAGES.index("pad"):
            hand_edits.refuse(context.scene, with_regions=False)
        job = scene.read_scene(
            context,
            folder,
            with_zones=after >= state.STAGES.index("zones"),
            with_outlines=after >= state.STAGES.index("pad"),
        )
        return remembered.reach(job, folder, self.stage)

    def finish(self, context: bpy.types.Context, result: Any) -> None:
        """Write the result, note that the stage is done, tell."""
        from .pad import outlines
        from .regions import hand_edits

        part = context.scene.padwright
        outlines.hang_on_base(context)
        self.clear_old_colors(context)
        edited = [(obj.name, made_by) for obj, made_by in hand_edits.edited(context.scene)]
        written = {self.stage}
        for stage in state.STAGES[: state.STAGES.index(self.stage)]:
            # One that was remembered is written too where the scene shows another.
            if stage in memory().worked_out or state.done(part, stage) is None or state.stale(part, stage):
                self.write_stage(context, result, stage)
                written.add(stage)
        done, notes = WRITERS[self.stage](context, result)
        gone = [name for name, made_by in edited if made_by in written]
        if gone:
            notes = (f"What was changed by hand in {', '.join(gone)} is gone; undo brings it back", *notes)
        state.mark(part, self.stage, [done, *notes])
        refusals.drop(part, self.stage)
        reporting.tell(self, done, notes)

    def clear_old_colors(self, context: bpy.types.Context) -> None:
        """Take away colors that show a value of what is made anew: without its values it would be seen in none."""
        from .view import value_colors

        made_anew = (*memory().worked_out, self.stage)
        if context.scene.padwright.view.is_colored and not set(made_anew) <= {"zones", "load"}:
            value_colors.clear(context)

    def write_stage(self, context: bpy.types.Context, result: Any, stage: str) -> None:
        """Write an earlier stage that was worked out on the way."""
        part = context.scene.padwright
        if stage in WRITERS and state.is_wanted(part, stage) and not (stage == "zones" and self.stage not in _PLANNED):
            done, notes = WRITERS[stage](context, result)
            state.mark(part, stage, [done, *notes])


def part_pose(context: bpy.types.Context, result: MadePart) -> Any:
    """Return where the part frame lies in the scene: with the base scan."""
    return pose_in_scene(context, result.to_part)


def pose_in_scene(context: bpy.types.Context, to_part: Any) -> Any:
    """Return where the part frame lies in the scene, by the 4x4 in mm from the base scan's frame to it."""
    import numpy as np

    from . import bridge

    base = context.scene.padwright.base
    return bridge.pose_of(base) @ bridge.scene_matrix(np.linalg.inv(to_part), context.scene)


def lay_impression(context: bpy.types.Context, to_part: Any, matrix: Any) -> None:
    """Put the impression where a pose has it, by its 4x4 in the part frame, mm, and show both scans.

    `to_part` leads from the base scan's frame to the part frame.
    """
    from mathutils import Matrix

    from . import bridge

    part = context.scene.padwright
    place = pose_in_scene(context, to_part) @ bridge.scene_matrix(matrix, context.scene)
    size = part.impression.matrix_world.to_scale()
    part.impression.matrix_world = place @ Matrix.Diagonal((*size, 1.0))
    state.show_scans(part, base=True, impression=True)
    context.view_layer.update()


def result_object(
    context: bpy.types.Context, current: bpy.types.Object | None, name: str, mesh: Any, pose: Any
) -> bpy.types.Object:
    """Return the object that shows a mesh of the part, mm, made or filled anew."""
    from . import bridge

    factor = 1.0 / bridge.mm_per_scene_unit(context.scene)
    if current is None or current.name not in context.scene.objects:
        current = bpy.data.objects.new(name, bridge.new_mesh(name, mesh, factor))
        state.collection(context.scene).objects.link(current)
    else:
        bridge.refill(current, mesh, factor)
    current.matrix_world = pose
    return current


WRITERS: dict[str, Any] = {}
"""Stage -> function (context, part) that writes its result and returns (sentence, notes); each file adds its own."""
