"""Where a scan was mended: which of its faces are new, and which were left out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Int, TriMesh

_SAME_MM = 1e-3  # places nearer than this are the same: cleaning moves none, scaling rounds


@dataclass(frozen=True, eq=False)
class Mended:
    """What cleaning changed of a scan."""

    is_new: Bool  # (m,); faces of the cleaned scan that the file does not have: where holes were filled
    left_out: TriMesh  # what the file has and the cleaned scan does not

    @property
    def is_any(self) -> bool:
        """Whether anything was changed."""
        return bool(self.is_new.any()) or len(self.left_out.faces) > 0


def find_mended(raw: TriMesh, clean: TriMesh) -> Mended:
    """Compare a scan as its file has it with what cleaning made of it; both in one frame, mm.

    Faces are told by their corners' places, whichever way they are turned; places of the file that are no numbers are
    left out without a trace.
    """
    finite = np.flatnonzero(np.isfinite(raw.vertices).all(axis=1))
    away, nearest = cKDTree(clean.vertices).query(raw.vertices[finite], distance_upper_bound=_SAME_MM)
    same = np.full(len(raw.vertices), -1, dtype=np.int64)
    same[finite] = np.where(np.isfinite(away), nearest, -1)
    corners = same[raw.faces]
    is_whole = (corners >= 0).all(axis=1)
    count = len(clean.vertices)
    there, mine = _keys(corners[is_whole], count), _keys(clean.faces.astype(np.int64), count)
    is_left_out = np.ones(len(raw.faces), dtype=bool)
    is_left_out[is_whole] = ~np.isin(there, mine)
    is_left_out &= np.isfinite(raw.vertices).all(axis=1)[raw.faces].all(axis=1)
    left_out = raw.submesh(is_left_out)
    # Joined corners leave faces without area behind, which nobody misses.
    return Mended(~np.isin(mine, there), left_out.submesh(left_out.face_areas > 0.0))


def _keys(corners: Int, count: int) -> Int:
    """Return one number for each face, (m,), the same for the same three corners of so many."""
    ordered = np.sort(np.asarray(corners, dtype=np.int64), axis=1)
    return np.asarray((ordered[:, 0] * count + ordered[:, 1]) * count + ordered[:, 2])
