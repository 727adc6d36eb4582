"""Curves to start drawing from: where the part is, at its size, in the scene."""

from __future__ import annotations

from dataclasses import dataclass

import bpy
import numpy as np
from mathutils import Vector

from ...core.base.errors import InputError
from ...core.base.mesh import Float
from ...core.stages.reading.starts import across, laid_on, line_within, outline_around
from .. import attributes, bridge
from . import outlines

_LIFT_MM = 1.0  # so far a drawn curve lies above a surface that the body presses
_NEAR_MM = 15.0  # a 3D cursor no farther from the part is meant
_BODY_SIDE = 1
_FACING = 0.3  # a mean normal shorter than this says nothing of where the part faces


@dataclass(frozen=True)
class DrawingGround:
    """What is drawn on: points of the part's upper side with their normals, mm in the scene."""

    points: Float
    normals: Float
    what: str


def around_part(context: bpy.types.Context, what: str, name: str) -> tuple[bpy.types.Object, str]:
    """Return a new closed curve around the pad, the clay or the base, whatever is there first, and which it was."""
    ground = _ground(context)
    share = 1.0 if ground.what != "base" else 0.6  # the base reaches farther than any pad on it
    line = outline_around(ground.points, _up(context, ground, None), lift_mm=_lift(context), share=share)
    return _curve(context, what, name, line, is_closed=True), ground.what


def figure_on_part(
    context: bpy.types.Context, what: str, name: str, *, is_line: bool, share: float
) -> tuple[bpy.types.Object, float]:
    """Return a new curve at the 3D cursor, or amid the part, and its length: a share of the part's width."""
    ground = _ground(context)
    cursor = np.array(context.scene.cursor.location) * bridge.mm_per_scene_unit(context.scene)
    apart = np.linalg.norm(ground.points - cursor, axis=1)
    nearest = int(np.argmin(apart))
    is_meant = apart[nearest] <= _NEAR_MM
    up = _up(context, ground, ground.normals[nearest] if is_meant else None)
    is_facing = ground.normals @ up > 0.5
    middle = cursor if is_meant else (ground.points[is_facing] if is_facing.any() else ground.points).mean(axis=0)
    frame = across(ground.points, up)
    extent = np.ptp(ground.points @ frame[:2].T, axis=0)
    long_mm = float(np.round(share * (extent[0] if is_line else extent[1])))
    apart = np.linalg.norm(ground.points - middle, axis=1)
    is_near = apart <= max(long_mm, np.partition(apart, 20)[20])
    is_upper = is_near & (ground.normals @ up > 0.0)  # not the far side of a sleeve
    near = ground.points[is_upper if is_upper.sum() >= 20 else is_near]
    figure = line_within(near, frame, middle, long_mm) if is_line else _ellipse(long_mm, 0.6 * long_mm)
    if is_line:
        long_mm = float(np.round(np.ptp(figure[:, 0])))
    line = laid_on(near, frame, middle, figure, _lift(context))
    return _curve(context, what, name, line, is_closed=not is_line), long_mm


def _ellipse(length: float, width: float) -> Float:
    turn = 2.0 * np.pi * np.arange(8) / 8
    return 0.5 * np.stack([length * np.cos(turn), width * np.sin(turn)], axis=1)


def _lift(context: bpy.types.Context) -> float:
    """Return how far a curve lies above: a channel around a base is measured from its curve, so there not at all."""
    return 0.0 if context.scene.padwright.press == "inward" else _LIFT_MM


def _ground(context: bpy.types.Context) -> DrawingGround:
    part = context.scene.padwright
    context.view_layer.update()
    for obj, what in ((part.pad, "pad"), (part.body, "clay"), (part.base, "base")):
        if obj is None or context.scene.objects.get(obj.name) != obj:
            continue
        mesh = bridge.read_mesh(obj)
        matrix = np.array(obj.matrix_world, dtype=np.float64)
        matrix[:3] *= bridge.mm_per_scene_unit(context.scene)
        placed = mesh.transformed(matrix)
        is_used = _upper_side(part, obj, what, len(mesh.vertices))
        if is_used.sum() >= 20:
            return DrawingGround(placed.vertices[is_used], placed.vertex_normals[is_used], what)
    raise InputError("There are fewer than 20 points of a part to draw around.", hint="Choose another base scan.")


def _upper_side(part: bpy.types.PropertyGroup, obj: bpy.types.Object, what: str, count: int) -> np.ndarray:
    every = np.ones(count, dtype=bool)
    if what == "pad":
        side = attributes.read(obj.data, attributes.SIDE)
        return every if side is None or len(side) != count else side == _BODY_SIDE
    if what == "clay":
        thickness = attributes.read(obj.data, attributes.THICKNESS)
        return ~every if thickness is None else thickness >= part.least_thickness_mm
    return every


def _up(context: bpy.types.Context, ground: DrawingGround, normal: Float | None) -> Float:
    """Return where the part faces: against the press direction, or as its surface does, or towards the viewer."""
    part = context.scene.padwright
    if part.press == "given":
        turn = np.array(bridge.pose_of(part.base))[:3, :3]
        return np.asarray(-turn @ np.array(part.press_vector) / np.linalg.norm(part.press_vector))
    mean = ground.normals.mean(axis=0)
    if np.linalg.norm(mean) > _FACING and part.press != "inward":
        return np.asarray(mean / np.linalg.norm(mean))
    if normal is not None and np.linalg.norm(normal) > 0.0:
        return normal / np.linalg.norm(normal)
    region = getattr(context, "region_data", None)
    return np.array(region.view_rotation @ Vector((0.0, 0.0, 1.0)) if region is not None else (0.0, 0.0, 1.0))


def _curve(context: bpy.types.Context, what: str, name: str, line: Float, *, is_closed: bool) -> bpy.types.Object:
    base = context.scene.padwright.base
    back = np.linalg.inv(np.array(base.matrix_world, dtype=np.float64))
    local = (line / bridge.mm_per_scene_unit(context.scene)) @ back[:3, :3].T + back[:3, 3]
    curve = outlines.make_curve(context, what, name, local, base, is_closed=is_closed, is_smooth=True)
    context.view_layer.update()
    if context.view_layer.objects.get(curve.name) != curve:
        outlines.remove_curve(curve)
        raise InputError(
            f'The collection "{outlines.COLLECTION}" is switched off.', hint="Switch it on in the Outliner."
        )
    return curve


def look_onto(context: bpy.types.Context, obj: bpy.types.Object) -> None:
    """Turn the viewport, where there is one, so that a curve is seen as the body presses: what counts is seen."""
    region = getattr(context, "region_data", None)
    if region is None or context.scene.padwright.press == "inward":
        return
    up = _up(context, _ground(context), None)
    corners = [obj.matrix_world @ Vector(corner) for corner in obj.bound_box]
    middle = sum(corners, Vector()) / len(corners)
    region.view_perspective = "ORTHO"
    region.view_rotation = Vector(up).to_track_quat("Z", "Y")
    region.view_location = middle
    region.view_distance = 2.2 * max((corner - middle).length for corner in corners)
