"""The direction in which the body loads the part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.errors import InputError, SolveError
from ...base.mesh import Bool, Float, TriMesh
from ..body.press_from_base import thin_direction

_LEAST_ONE_SIDED = 0.35
"""Least share of the clay's surface that adds up to one side. A flat slab gives 1, a half ball 0.5, clay all the way
round a handle 0 (geometry); below 0.35 the clay has no one side."""


_MOST_OFF_DEG = 60.0
TELL_OFF_DEG = 10.0
"""From here on a given direction is questioned: "auto" is good to 3 to 4 degrees on long curved parts, and 10 degrees
change a thickness by 1.5 % (1 / cos)."""


@dataclass(frozen=True)
class PressDirection:
    """The press direction and where it comes from."""

    # (3,); unit vector from the body into the part; None for wrap-around parts (the local inward normal).
    vector: Float | None
    # twice the angle by which two independent ways to find it disagree, at least 1 degree (our choice); 0 when it was
    # given.
    plus_minus_deg: float
    basis: str  # "given", "auto" or "inward"
    # how far a given direction is off the way the clay's body side faces; None where that says nothing.
    off_deg: float | None = None


def held_press(impression: TriMesh, is_clay: Bool, press: Float | None, outward: Float) -> float | None:
    """Return by how many degrees a given press direction is off the way the clay's body side faces.

    The press direction is (3,), the clay (n,); `outward`, (n, 3), leads away from the base. Returns None where the clay
    has no one side to hold it against.

    Raises InputError when the clay lies all around the base, so that it has no one side and no side faces the
    direction; when the direction points out of the part; and over 60 degrees: the body would slide along the part more
    than press it (sin 60 = 0.87 of its force), and every thickness along the direction would be more than twice the
    clay's.
    """
    if press is None:
        return None
    side, one_sided = clay_side(impression, is_clay, outward)
    area = impression.vertex_areas * is_clay
    facing = float((area * (impression.vertex_normals @ press)).sum() / max(area.sum(), 1e-12))
    if one_sided < _LEAST_ONE_SIDED and abs(facing) < _LEAST_ONE_SIDED and area.any():
        raise InputError(
            f"The clay lies all around the base: only {100 * one_sided:.0f} % of its surface adds up to one direction.",
            hint='Pressed from one side the pad has no thickness at its flanks. Write: press_direction = "inward"',
        )
    if facing > 0.0:
        x, y, z = -press
        raise InputError(
            f"The press direction points out of the part: the clay faces the same way ({facing:.2f} on average).",
            hint=f"It runs from the body into the part; turned round it is [{x:.4g}, {y:.4g}, {z:.4g}].",
        )
    if one_sided < _LEAST_ONE_SIDED:
        return None
    off = float(np.degrees(np.arccos(np.clip(press @ side, -1.0, 1.0))))
    if off > _MOST_OFF_DEG:
        raise InputError(
            f"The press direction is {off:.0f} degrees off the way the clay's body side faces.",
            hint='Up to 60 are taken. Check its axes, or set it to "auto".',
        )
    return off


def given_direction(value: object) -> Float:
    """Return a press direction that was given as three numbers, as a unit vector, (3,).

    Raises InputError when it is not three finite numbers with a length.
    """
    try:
        vector = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        vector = np.zeros(0)
    if vector.shape != (3,) or not np.isfinite(vector).all() or np.linalg.norm(vector) < 1e-9:
        raise InputError(
            f"The press direction {value!r} is not a direction.", hint='Give three numbers, "auto" or "inward".'
        )
    return vector / np.linalg.norm(vector)


def clay_side(impression: TriMesh, is_clay: Bool, outward: Float) -> tuple[Float, float]:
    """Return the direction against the clay's body side, (3,), and how one-sided the clay is (0 to 1).

    The clay is (n,); `outward`, (n, 3), leads away from the base; it settles the sign, whichever way the scan's faces
    are turned.

    Notes
    -----
    The vector area of the clay's surface, the sum of normal times area. It depends on the clay's edge alone (Stokes),
    so no dent, fold or noise inside changes it. What it is compared with is the sum of the same over small cells: on a
    dense scan noise turns single triangles every way and would count as surface.
    """
    face = is_clay[impression.faces[:, 0]] & is_clay[impression.faces[:, 1]] & is_clay[impression.faces[:, 2]]
    area = impression.face_normals[face] * impression.face_areas[face][:, None]
    total = area.sum(axis=0)
    one_sided = float(np.linalg.norm(total) / max(_surface_by_cells(impression.face_middles[face], area), 1e-12))
    away = (outward * (impression.vertex_areas * is_clay)[:, None]).sum(axis=0)
    if total @ away < 0:
        total = -total
    return -total / max(float(np.linalg.norm(total)), 1e-12), one_sided


def _surface_by_cells(middle: Float, area: Float) -> float:
    """Return the surface of faces (middles (m, 3), vector areas (m, 3)) smoothed over 1/25 of its extent, mm2."""
    if len(middle) == 0:
        return 0.0
    low = middle.min(axis=0)
    cell = float(np.linalg.norm(middle.max(axis=0) - low)) / 25.0
    index = np.floor((middle - low) / max(cell, 1e-12)).astype(np.int64)
    place = np.unique(index @ np.array([1, 64, 4096]), return_inverse=True)[1].reshape(-1)
    sums = np.stack([np.bincount(place, area[:, axis]) for axis in range(3)], axis=1)
    return float(np.linalg.norm(sums, axis=1).sum())


def auto_direction(base: TriMesh, impression: TriMesh, is_clay: Bool, outward: Float) -> PressDirection:
    """Return the press direction of a part pressed from one side: against the clay's vector area.

    The second way, for the uncertainty, is the thinnest direction of the base's side towards the body. Raises
    SolveError when the clay wraps around the base, so that there is no one direction.
    """
    side, one_sided = clay_side(impression, is_clay, outward)
    if one_sided < _LEAST_ONE_SIDED:
        raise SolveError(
            f"The clay has no one side: only {100 * one_sided:.0f} % of its surface adds up to a direction.",
            hint='Set press_direction to "inward" for a part the hand closes around, or give the direction.',
        )
    thin = thin_direction(base, side)
    between = float(np.degrees(np.arccos(np.clip(side @ thin, -1.0, 1.0))))
    return PressDirection(side, max(1.0, 2.0 * between), "auto")
