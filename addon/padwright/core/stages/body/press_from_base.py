"""The press direction where no clay shows it: from the base and where the body lies."""

from __future__ import annotations

import numpy as np

from ...base.errors import SolveError
from ...base.mesh import Float, TriMesh


def thin_direction(base: TriMesh, inward: Float) -> Float:
    """Return the direction, (3,), in which the base's side towards the body is thinnest, turned along `inward`, (3,).

    The least principal axis of the area-weighted positions of the faces turned to the body.
    """
    face = base.face_normals @ inward < -0.5
    if face.sum() < 3:
        return inward
    middle = base.face_middles[face]
    area = base.face_areas[face]
    middle = middle - np.average(middle, axis=0, weights=area)
    axis = np.linalg.eigh((middle * area[:, None]).T @ middle)[1][:, 0]
    return axis if axis @ inward > 0 else -axis


def direction_from_base(base: TriMesh, body: TriMesh) -> tuple[Float, float]:
    """Return the press direction, (3,), of a body that lies before a base, and plus-minus in degrees.

    The thinnest direction of the base's side to the body, turned from body to base; the second way, for the
    uncertainty, is against that side's mean normal.

    Raises SolveError where the base's side has no one direction.
    """
    middles = (np.average(mesh.triangles.mean(axis=1), axis=0, weights=mesh.face_areas) for mesh in (body, base))
    first, second = middles
    inward = (second - first) / max(float(np.linalg.norm(second - first)), 1e-12)
    for _ in range(2):  # where the middles lie says it roughly: the side is looked for again
        inward = thin_direction(base, inward)
    face = base.face_normals @ inward < -0.5
    total = (base.face_normals[face] * base.face_areas[face][:, None]).sum(axis=0)
    length = float(np.linalg.norm(total))
    if length < 1e-9:
        raise SolveError(
            "The press direction cannot be found from the base: no side of it looks to the body.",
            hint="Give body.press_direction, three numbers in the base scan's axes.",
        )
    between = float(np.degrees(np.arccos(np.clip(-(total / length) @ inward, -1.0, 1.0))))
    return inward, max(1.0, 2.0 * between)
