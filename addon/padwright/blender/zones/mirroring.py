"""A curve mirrored in a plane of the part, as an object of its own."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector

from .. import bridge


def mirrored_curve(context: bpy.types.Context, curve: bpy.types.Object, plane: Any, pose: Matrix) -> bpy.types.Object:
    """Return a copy of a curve object with its points mirrored.

    Parameters
    ----------
    plane : SidePlane
        Part frame, mm.
    pose : Matrix
        Of the part frame in the scene.
    """
    context.view_layer.update()
    normal = np.asarray(plane.normal, dtype=np.float64)
    matrix = np.eye(4)
    matrix[:3, :3] -= 2.0 * np.outer(normal, normal)
    matrix[:3, 3] = 2.0 * float(normal @ plane.point) * normal / bridge.mm_per_scene_unit(context.scene)
    world = curve.matrix_world
    local = world.inverted_safe() @ pose @ Matrix(matrix.tolist()) @ pose.inverted_safe() @ world
    made = curve.copy()
    made.data = curve.data.copy()
    for spline in made.data.splines:
        for point in spline.bezier_points:
            ends = [local @ end for end in (point.handle_left, point.co, point.handle_right)]
            point.handle_left, point.co, point.handle_right = ends
        for point in spline.points:
            point.co = Vector((*(local @ point.co.to_3d()), point.co[3]))
    for collection in curve.users_collection:
        collection.objects.link(made)
    return made
