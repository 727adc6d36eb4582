"""Lay out folded walls, and show the lines they stand on."""

import bpy

from ...core.base.text import counted
from .. import state
from ..stage_work import WRITERS, StageWork, part_pose

_ABOVE_MM = 0.5  # the lines lie so far above the pad, to be seen
_COLOR = (0.10, 0.14, 0.36, 1.0)


class PADWRIGHT_OT_lay_out_walls(StageWork, bpy.types.Operator):
    """Choose walls for the zones' firmness and lay them out; their lines are shown on the pad"""

    bl_label = "Lay Out Walls"
    stage = "folds"


def _write_walls(context, result):
    from ...core.stages.folds.layout import FoldLayout
    from ..regions import hand_edits

    part = context.scene.padwright
    layout = result.of(FoldLayout)
    show_lines(context, layout, part_pose(context, result))
    state.hide(part.pad, False)
    for obj in (*hand_edits.regions(context.scene).values(), part.solid, part.inside):
        state.hide(obj, True)
    state.show_scans(part, base=False, impression=False)
    height = layout.height_mm[layout.is_core]
    done = (
        f"{counted(len(layout.walls), 'wall')} of {layout.width_mm:g} mm, {layout.pitch_mm:g} mm from one to the next, "
        f"with {counted(layout.folds, 'fold')} between skins of {layout.body_skin_mm:g} mm; "
        f"they are {height.min():.0f} to {height.max():.0f} mm high"
    )
    return done, layout.notes


def show_lines(context, layout, pose):
    """Show the walls' lines a little above the pad."""
    import numpy as np

    from ...core.geometry.frames import inverse_rigid, moved
    from .. import bridge

    part = context.scene.padwright
    top = np.where(np.isfinite(layout.high_mm), layout.high_mm, np.nanmedian(layout.high_mm))
    places, edges, first = [], [], 0
    for wall in layout.walls:
        cell = np.rint((wall.points - layout.origin) / layout.step_mm).astype(int)
        cell = np.clip(cell, 0, np.array(top.shape) - 1)
        places.append(np.column_stack([wall.points, top[cell[:, 0], cell[:, 1]] + _ABOVE_MM]))
        edges += [(first + k, first + k + 1) for k in range(len(wall.points) - 1)]
        first += len(wall.points)
    points = moved(inverse_rigid(layout.to_plane), np.concatenate(places)) / bridge.mm_per_scene_unit(context.scene)
    if part.walls is None or part.walls.name not in context.scene.objects:
        name = f"{part.number} Walls"
        part.walls = bpy.data.objects.new(name, bpy.data.meshes.new(name))
        state.collection(context.scene).objects.link(part.walls)
    part.walls.data.clear_geometry()
    part.walls.data.from_pydata(points.tolist(), edges, [])
    part.walls.matrix_world, part.walls.color = pose, _COLOR
    state.hide(part.walls, False)


WRITERS["folds"] = _write_walls
