"""The mid-plane of a base along its press direction, and how far the imprint's two sides differ."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, Int, TriMesh
from ...geometry.matching import row_numbers
from .clay_columns import frame_along
from .load_centers import FoundLoadCenter

_SHARE = 0.95
_LIKENESS = 0.01
"""A base mirrors itself when the mirrored points lie within 1 % of its size of it (common practice, no source)."""

Foot = Callable[[Float], tuple[Float, Float, Float]]


@dataclass(frozen=True)
class SidePlane:
    """A plane between two sides that mirror each other."""

    point: Float  # (3,), mm
    normal: Float  # (3,); unit vector
    rms_mm: float  # how far the mirrored base lies from the base, over the nearest 95 % of it


@dataclass(frozen=True)
class LeftRight:
    """How the imprint differs between the two sides of the base's mid-plane."""

    plane: SidePlane  # its normal points to the first side
    # mean imprint depth of the first side less that of the second, over contact that has contact opposite.
    mean_mm: float
    rms_mm: float  # root mean square of the same difference
    # imprint depth of the strongest load center on the first side less that on the second.
    center_depth_mm: float | None
    center_offset_mm: float | None  # how far the middle between the two lies from the mid-plane, towards the first side


def mirrored(points: Float, plane: SidePlane) -> Float:
    """Return the points, (q, 3), mirrored in the plane."""
    return points - 2.0 * ((points - plane.point) @ plane.normal)[:, None] * plane.normal


def mid_planes_along(base: TriMesh, direction: Float, foot: Foot) -> tuple[SidePlane, ...]:
    """Return the planes through the press direction in which the base's body side mirrors itself, best first.

    The direction is a unit vector, (3,); `foot` gives signed distance, normal and nearest point of the base, for points
    (q, 3): `BaseSurface.foot`.

    Notes
    -----
    From 12 planes through the direction and the middle, Gauss-Newton on the distances of the mirrored points to the
    surface, the farthest twentieth left out in each step (trimmed, as Chetverikov, Svirko, Stepanov & Krsek 2002,
    doi 10.1109/ICPR.2002.1047997). The plane may tilt away from the direction by the little it must.
    """
    frame = frame_along(direction)
    points = _even_points(base, frame[2])
    if len(points) < 50:
        return ()
    middle = points.mean(axis=0)
    size = float(np.sqrt(((points - middle) ** 2).sum(axis=1).mean()))
    few = points[:: max(1, len(points) // 200)]
    angles = np.arange(12) * np.pi / 12.0
    starts = [_Plane(np.cos(angle) * frame[0] + np.sin(angle) * frame[1], 0.0, np.inf) for angle in angles]
    chosen: list[_Plane] = []
    for plane in sorted(_fitted(few, starts, middle, foot, 3), key=lambda plane: plane.rms):
        if plane.rms > 4.0 * _LIKENESS * size or abs(plane.normal @ frame[2]) > 0.2:
            continue
        if all(abs(plane.normal @ other.normal) < np.cos(np.radians(20.0)) for other in chosen):
            chosen.append(plane)
    fitted = _fitted(points, chosen, middle, foot, 4)
    found = sorted((plane for plane in fitted if plane.rms <= _LIKENESS * size), key=lambda plane: plane.rms)
    # A plane that fits clearly worse than the best is not the body's: a tenth of a mm is what noise leaves in a mean.
    found = [plane for plane in found if plane.rms <= 2.0 * found[0].rms + 0.1]
    return tuple(SidePlane(middle + plane.offset * plane.normal, plane.normal, plane.rms) for plane in found)


def left_right(
    impression: TriMesh,
    depth: Float,
    is_contact: Bool,
    centers: tuple[FoundLoadCenter, ...],
    plane: SidePlane,
    direction: Float,
) -> LeftRight | None:
    """Return how the imprint differs across the plane; None when less than a fifth of the patch has a counterpart."""
    index = np.flatnonzero(is_contact).astype(np.int32)
    side = (impression.vertices[index] - plane.point) @ plane.normal
    gap, mate = _across(impression, index, plane, direction, 1)
    mate = index[mate]
    is_paired = (gap < 4.0) & is_contact[mate]
    weight = impression.vertex_areas[index]
    share = float(weight[is_paired].sum() / max(weight.sum(), 1e-12))
    first = is_paired & (side > 0)
    if share < 0.2 or not first.any():
        return None
    difference = depth[index[first]] - depth[mate[first]]
    mean = float(np.average(difference, weights=weight[first]))
    rms = float(np.sqrt(np.average(difference**2, weights=weight[first])))
    away = [float((center.position_mm - plane.point) @ plane.normal) for center in centers]
    ones = [k for k, value in enumerate(away) if value > 5.0][:1]
    twos = [k for k, value in enumerate(away) if value < -5.0][:1]
    deeper = offset = None
    if ones and twos:
        deeper = centers[ones[0]].depth_mm - centers[twos[0]].depth_mm
        offset = 0.5 * (away[ones[0]] + away[twos[0]])
    return LeftRight(plane, mean, rms, deeper, offset)


def opposite(impression: TriMesh, values: Float, is_in: Bool, plane: SidePlane, direction: Float) -> tuple[Float, Bool]:
    """Return the values found at each vertex's mirrored place, and where there is one inside the patch."""
    index = np.flatnonzero(is_in).astype(np.int32)
    answer, has_mate = np.array(values, dtype=np.float64), np.zeros(len(values), dtype=bool)
    if len(index) < 4:
        return answer, has_mate
    gap, mate = _across(impression, index, plane, direction, 4)
    weight = 1.0 / np.maximum(gap, 1e-6) ** 2  # between vertices: by inverse squared distance (Shepard 1968)
    found = gap[:, 0] < 4.0
    answer[index[found]] = ((weight * values[index[mate]]).sum(axis=1) / weight.sum(axis=1))[found]
    has_mate[index[found]] = True
    return answer, has_mate


def _across(impression: TriMesh, index: Int, plane: SidePlane, direction: Float, count: int) -> tuple[Float, Int]:
    """Return distance and number (in `index`) of the nearest vertices to each mirrored one, seen along the direction.

    Seen along it, because a deeper side's surface lies lower than the mirrored one: the nearest point in space would
    be beside the true counterpart.
    """
    flat = frame_along(direction)[:2]
    tree = cKDTree(impression.vertices[index] @ flat.T)
    gap, mate = tree.query(mirrored(impression.vertices[index], plane) @ flat.T, k=count)
    return gap, mate


def _even_points(base: TriMesh, up: Float) -> Float:
    """Return about 800 points spread evenly over the base less its underside, whatever their order."""
    face = base.face_normals @ up > -0.3  # the sides pin the plane best
    area = base.face_areas[face]
    if not face.any():
        return np.zeros((0, 3))
    middle = base.face_middles[face]
    # The cells' origin is the middle of the part, so that a plain turn by a quarter or half leaves them alike.
    center = np.average(middle, axis=0, weights=area)
    cell = np.round((middle - center) / np.sqrt(area.sum() / 800.0)).astype(np.int64)
    group = row_numbers(cell)
    total = np.bincount(group, area)
    return np.stack([np.bincount(group, area * middle[:, k]) / total for k in range(3)], axis=1)


class _Plane(NamedTuple):
    normal: Float  # (3,)
    offset: float  # along it from the middle of the points, mm
    rms: float  # mm


def _fitted(points: Float, planes: list[_Plane], middle: Float, foot: Foot, steps: int) -> list[_Plane]:
    """Return the planes after so many steps of Gauss-Newton; the surface is asked for all of them at once."""
    if not planes:
        return []
    local = points - middle
    for step in range(steps + 1):
        away = [local @ plane.normal - plane.offset for plane in planes]
        turned = [local - 2.0 * off[:, None] * plane.normal + middle for off, plane in zip(away, planes, strict=True)]
        distance, normal, _ = foot(np.concatenate(turned))
        asked = zip(planes, away, np.split(distance, len(planes)), np.split(normal, len(planes)), strict=True)
        planes = [_moved(plane, local, *found, is_last=step == steps) for plane, *found in asked]
    return planes


def _moved(plane: _Plane, local: Float, away: Float, distance: Float, facing: Float, *, is_last: bool) -> _Plane:
    """Return the plane after a step, with what it was off before it; `is_last`: where it was."""
    size = np.abs(distance)
    kept = size <= np.quantile(size, _SHARE)
    rms = float(np.sqrt((distance[kept] ** 2).mean()))
    if is_last:
        return plane._replace(rms=rms)
    across = frame_along(plane.normal)[:2]
    along = facing @ plane.normal
    turns = [-2.0 * ((local @ a) * along + away * (facing @ a)) for a in across]
    change = np.linalg.lstsq(np.column_stack([2.0 * along, *turns])[kept], -distance[kept], rcond=None)[0]
    normal = plane.normal + np.clip(change[1:], -0.2, 0.2) @ across
    return _Plane(normal / np.linalg.norm(normal), plane.offset + float(change[0]), rms)
