"""Lay out folded walls, and show the lines they stand on."""

import bpy

from ...core.base.text import counted
from .. import state
from ..stage_memory import memory
from ..stage_work import WRITERS, StageWork, part_pose
from . import wall_lines


class PADWRIGHT_OT_lay_out_walls(StageWork, bpy.types.Operator):
    """Choose walls for the zones' firmness and lay them out; their lines are shown on the pad"""

    bl_label = "Lay Out Walls"
    stage = "folds"


def _write_walls(context, result):
    from ...core.stages.folds.layout import FoldLayout
    from .. import scene
    from ..regions import hand_edits

    part = context.scene.padwright
    checked = memory().known(result.job, scene.work_folder(), "load")  # it may have had to lay them out anew
    layout = result.of(FoldLayout) if checked is None else checked.firmness.folded.layout
    wall_lines.write(context, layout, part_pose(context, result))
    for obj in (*hand_edits.regions(context.scene).values(), *state.made(part)):
        state.hide(obj, obj not in (part.pad, part.walls))
    state.show_scans(part, base=False, impression=False)
    height = layout.height_mm[layout.is_core]
    done = (
        f"{counted(len(layout.walls), 'wall')} of {layout.width_mm:g} mm, {layout.pitch_mm:g} mm from one to the next, "
        f"with {counted(layout.folds, 'fold')} between skins of {layout.body_skin_mm:g} mm; "
        f"they are {height.min():.0f} to {height.max():.0f} mm high"
    )
    return done, layout.notes


WRITERS["folds"] = _write_walls
