"""Load centers: from a reading into the list, what the artist says of each into the job, and marks in the scene."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np

from ...core.base.mesh import Float
from ...core.base.units import mm_per_unit
from ...core.geometry.frames import inverse_rigid, moved
from ...core.job.schema import Job
from .. import bridge, state
from ..bridge import as_typed

TITLE = "Load Center"
MARK = "padwright_load_center"
DEPTH = "padwright_depth_mm"
NAME = "padwright_center_name"


def tables(part: Any) -> list[dict[str, Any]]:
    """Return what a job says of the load centers that the artist has spoken of, or whose mark was deleted."""
    found = []
    for center in part.centers:
        if center.is_said or state.is_unmarked(center):
            is_used = center.is_used and not state.is_unmarked(center)
            table = {"near": as_typed(center.near), "use": is_used, "within_mm": as_typed(center.within_mm)}
            found.append({**table, "name": center.name} if center.name else table)
    return found


def load(part: Any, job: Job) -> None:
    """Set the list from a loaded job; what was found comes with the next reading."""
    part.centers.clear()
    for given in job.impression.load_centers if job.impression is not None else ():
        center = part.centers.add()
        center.name, center.is_used, center.near, center.within_mm = given.name, given.use, given.near, given.within_mm


def write(context: bpy.types.Context, result: Any, pose: Any) -> None:
    """Put the load centers of a reading into the list and mark those that are used; what was said of others stays."""
    part = context.scene.padwright
    found = sorted((*result.reading.load_centers, *result.reading.other_load_centers), key=lambda each: each.number)
    for center in part.centers:
        if state.is_unmarked(center):  # only then: setting it says something of a center
            center.is_used = False
    said = [
        {"name": each.name, "is_used": each.is_used, "near": list(each.near), "within_mm": each.within_mm}
        for each in part.centers
        if each.is_said
    ]
    owner = _owners(result, found, said)
    _remove_marks(context, part)
    part.centers.clear()
    for index, each in enumerate(found):
        kept = said[owner[index]] if index in owner else None
        near = kept["near"] if kept else _near(result, each.position_mm)
        center = _add(part, {"within_mm": 15.0, **(kept or {}), "name": each.name, "near": near})
        center.is_used, center.is_said = not each.unused_because, kept is not None
        center.number, center.depth_mm, center.why = each.number, float(each.depth_mm), each.unused_because
        if center.is_used:
            center.mark = _mark(context, center, each, pose)
    for index, kept in enumerate(said):
        if index not in owner.values():
            _add(part, kept)


def _add(part: Any, values: dict[str, Any]) -> Any:
    center = part.centers.add()
    for name, value in values.items():
        setattr(center, name, value)
    center.is_said = True
    return center


def _mm(result: Any) -> float:
    return float(mm_per_unit(result.base.unit) * result.base.factor)


def _near(result: Any, position_mm: Float) -> list[float]:
    """Return a place of the part frame in the base scan's own numbers."""
    place = moved(inverse_rigid(result.to_part), np.asarray(position_mm)[None])[0] / _mm(result)
    return [float(each) for each in place]


def _owners(result: Any, found: Sequence[Any], said: Sequence[dict[str, Any]]) -> dict[int, int]:
    """Return which entry of what was said is of which load center found: the closest pair first, one each."""
    press = result.reading.press.vector
    apart = []
    for at, each in enumerate(found):
        for index, entry in enumerate(said):
            way = (np.asarray(entry["near"]) - _near(result, each.position_mm)) * _mm(result)
            if press is not None:  # how deep it lies does not count
                along = result.to_part[:3, :3].T @ press
                way = way - (way @ along) * along
            if np.linalg.norm(way) <= entry["within_mm"]:
                apart.append((float(np.linalg.norm(way)), at, index))
    owner: dict[int, int] = {}
    for _, at, index in sorted(apart):
        if at not in owner and index not in owner.values():
            owner[at] = index
    return owner


def _remove_marks(context: bpy.types.Context, part: Any) -> None:
    place = state.collection(context.scene, f"{TITLE}s")
    old = {obj.name: obj for obj in place.objects if MARK in obj}
    old |= {center.mark.name: center.mark for center in part.centers if center.mark is not None}
    for obj in old.values():
        bpy.data.objects.remove(obj)


def _mark(context: bpy.types.Context, center: Any, found: Any, pose: Any) -> bpy.types.Object:
    size = 1.0 / bridge.mm_per_scene_unit(context.scene)
    mark = bpy.data.objects.new(center.name or f"{TITLE} {found.number}", None)
    mark[MARK], mark[DEPTH], mark[NAME] = found.number, float(found.depth_mm), center.name
    mark.empty_display_type, mark.empty_display_size = "SPHERE", 4.0 * size
    mark.location = pose @ bridge.Vector(found.position_mm * size)
    state.collection(context.scene, f"{TITLE}s").objects.link(mark)
    return mark
