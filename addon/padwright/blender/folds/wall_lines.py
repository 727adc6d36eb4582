"""The lines that folded walls stand on, as an object over the pad."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy

from .. import state

if TYPE_CHECKING:
    from ...core.stages.folds.layout import FoldLayout

_ABOVE_MM = 0.5  # so far above the pad, to be seen
_COLOR = (0.10, 0.14, 0.36, 1.0)


def write(context: bpy.types.Context, layout: FoldLayout, pose: Any) -> None:
    """Make the walls' lines those of a layout, a little above the pad; whether they are in sight stays as it is."""
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
