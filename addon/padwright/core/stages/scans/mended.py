"""Where a scan was mended: which faces it has that its file has not, and which were left out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Float, Int, TriMesh


@dataclass(frozen=True, eq=False)
class Mended:
    """What cleaning changed of a scan, in the scan's frame."""

    new: TriMesh  # what the cleaned scan has and the file has not: where holes were filled, or faces joined anew
    left_out: TriMesh  # what the file has and the cleaned scan has not

    @property
    def is_any(self) -> bool:
        """Whether anything was changed."""
        return len(self.new.faces) > 0 or len(self.left_out.faces) > 0

    def scaled(self, factor: float) -> Mended:
        """Return the same with every coordinate multiplied by a positive factor."""
        return Mended(self.new.scaled(factor), self.left_out.scaled(factor))

    def moved(self, matrix: Float) -> Mended:
        """Return the same moved by a rigid 4x4."""
        return Mended(self.new.transformed(matrix), self.left_out.transformed(matrix))


def find_mended(
    raw: TriMesh,
    number: Int,
    kept: Int,
    points: Float,
    faces: Int,
    new_points: Float,
    new_faces: NDArray[np.integer],
) -> Mended:
    """Compare a scan as its file has it with what cleaning left of it.

    `number`, (n,), says which point stands for each vertex of the file; `kept`, (m, 3), are the cleaned scan's faces in
    these numbers, `faces`, (m, 3), the same in those of `points`; new points and faces, numbered on from the points,
    close its holes. Faces are told by their corners, whichever way they are turned.
    """
    theirs = number[raw.faces]
    is_used = np.zeros(int(number.max(initial=-1)) + 1, dtype=bool)
    is_used[kept.reshape(-1)] = True
    is_there = is_used[theirs[:, 0]] & is_used[theirs[:, 1]] & is_used[theirs[:, 2]]
    is_anew = np.zeros(len(kept), dtype=bool)
    if not np.array_equal(theirs[is_there], kept):  # else faces went with all of a corner's, the rest stayed as it was
        there_keys, mine_keys = _keys(theirs[is_there], len(is_used)), _keys(kept, len(is_used))
        is_anew = ~np.isin(mine_keys, there_keys)
        is_there[is_there] = np.isin(there_keys, mine_keys)
    lost = raw.faces[~is_there]
    triangle = raw.vertices[lost]
    # Places that are no numbers leave no trace; joined corners leave faces without area, which nobody misses.
    is_finite = np.isfinite(triangle).all(axis=(1, 2))
    lost, triangle = lost[is_finite], triangle[is_finite]
    area = np.linalg.norm(np.cross(triangle[:, 1] - triangle[:, 0], triangle[:, 2] - triangle[:, 0]), axis=1)
    every = np.concatenate([points, new_points]) if len(new_points) else points
    return Mended(_alone(every, np.concatenate([faces[is_anew], new_faces])), _alone(raw.vertices, lost[area > 0.0]))


def _keys(faces: Int, count: int) -> NDArray[np.int64]:
    """Return one number for each row of three corners of so many in any order, (m,)."""
    rows = np.sort(faces, axis=1).astype(np.int64)
    return np.asarray((rows[:, 0] * count + rows[:, 1]) * count + rows[:, 2])


def _alone(vertices: Float, faces: NDArray[np.integer]) -> TriMesh:
    used, number = np.unique(faces, return_inverse=True)
    places = np.asarray(vertices[used.astype(np.int64)], dtype=np.float64).reshape(-1, 3)
    return TriMesh(places, number.reshape(-1, 3).astype(np.int32))
