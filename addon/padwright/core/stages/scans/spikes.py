"""Find points that no surface has: far away from everything, or drawn out of the surface like a needle."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Bool, Float, Int
from ...base.rows import lengths
from .topology import touches

_FAR = 8.0
"""Times the distance from the middle within which 98 % of the points lie. A choice of ours, no source."""
_LONG, _SHORT, _SLIM = 8.0, 2.5, 5.0
"""A needle's edges against the typical edge, its foot against the same, and its height against the foot."""


def far_points(points: Float, used: Bool) -> Bool:
    """Return which points lie absurdly far from the bulk of the used ones, (n,)."""
    sample = points[used]
    sample = sample[:: max(len(sample) // 200000, 1)]
    if len(sample) < 8:
        return np.zeros(len(points), dtype=bool)
    middle = np.median(sample, axis=0)
    reach = float(np.percentile(lengths(sample - middle), 98))
    offset = points - middle
    return used & (np.einsum("ij,ij->i", offset, offset) > (_FAR * reach) ** 2)


def needle_tips(points: Float, faces: Int, edge: float, chunk: int = 1 << 18) -> Int:
    """Return the vertices that are drawn out of the surface: every edge at them is long, their foot is small."""
    tips: list[Int] = []
    for begin in range(0, len(faces), chunk):
        part = faces[begin : begin + chunk]
        corner = [points.take(part[:, index], axis=0) for index in range(3)]
        length = [lengths(corner[(k + 1) % 3] - corner[k]) for k in range(3)]
        for tip in range(3):
            is_needle = (length[(tip + 1) % 3] < _SHORT * edge) & (
                np.minimum(length[tip], length[(tip + 2) % 3]) > _LONG * edge
            )
            tips.append(part[is_needle, tip])
    candidates, met = np.unique(np.concatenate(tips), return_counts=True) if tips else (np.zeros(0, int), None)
    if len(candidates) == 0:
        return np.zeros(0, dtype=np.int32)
    is_candidate = np.zeros(len(points), dtype=bool)
    is_candidate[candidates] = True
    touching = faces[touches(is_candidate, faces)]
    valence = np.bincount(touching.reshape(-1), minlength=len(points))[candidates]
    found = []
    for vertex in candidates[valence == met]:
        foot = np.setdiff1d(touching[(touching == vertex).any(axis=1)], [vertex])
        middle = points[foot].mean(axis=0)
        radius = np.linalg.norm(points[foot] - middle, axis=1).mean()
        if np.linalg.norm(points[vertex] - middle) > _SLIM * radius and radius < _SHORT * edge:
            found.append(vertex)
    return np.array(found, dtype=np.int32)
