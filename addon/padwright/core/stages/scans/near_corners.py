"""Join corners that belong together and differ by rounding: files whose triangles share no vertices often have them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float, Int
from ...geometry.matching import first_equal

_SHARE = 0.01
"""Corners nearer than this share of the typical edge are one: a hundred times the rounding of 32-bit coordinates on a
scan of a thousand edges across, and far too little to lose shape. A choice of ours, no source."""
_FARTHEST_CELL = 2.0**52


@dataclass(frozen=True, eq=False)
class NearWeld:
    """Which points stand for which."""

    stands_for: Int  # (n,); for each point the one it is joined to, itself where none is near
    joined: int  # points joined to another
    farthest: float  # the longest way from a point to the one that stands for it


def weld_near(points: Float, faces: Int, border: Int, edge: float) -> NearWeld | None:
    """Join points (n, 3) of open borders that lie within a hundredth of the typical edge of each other; None for none.

    Only points on open borders, (b,), each once, are looked at, so a surface that hangs together is never touched; and
    where joining would take a triangle's corners together, all points it would join there stay apart. Equal points are
    one already.

    Notes
    -----
    Points within a distance d share a cell of width 2 d in at least one of the eight grids that are shifted by half a
    cell or not along each axis; so eight passes of a hash table find the pairs, in time linear in the points.
    """
    reach = _SHARE * edge
    if len(border) == 0 or not reach > 0.0:
        return None
    place = points[border]
    place = place - np.median(place, axis=0)
    owner = np.arange(len(border), dtype=np.int32)
    left = owner
    for shift in itertools.product((0.0, 0.5), repeat=3):
        cells = np.clip(np.floor(place[left] / (2.0 * reach) + shift), -_FARTHEST_CELL, _FARTHEST_CELL)
        first = left[first_equal([cells[:, axis].astype(np.int64) for axis in range(3)])]
        is_near = (first != left) & (np.linalg.norm(place[first] - place[left], axis=1) <= reach)
        owner[left[is_near]] = first[is_near]
        left = left[~is_near]
    if len(left) == len(border):
        return None
    while not np.array_equal(owner[owner], owner):
        owner = owner[owner]
    stands_for = np.arange(len(points), dtype=np.int32)
    stands_for[border] = border[owner]
    stands_for = _without_pinched(stands_for, faces)
    moved = np.flatnonzero(stands_for != np.arange(len(points)))
    if len(moved) == 0:
        return None
    way = np.linalg.norm(points[moved] - points[stands_for[moved]], axis=1)
    return NearWeld(stands_for, len(moved), float(way.max()))


def _without_pinched(stands_for: Int, faces: Int) -> Int:
    """Return the joins without those of any group that takes two corners of one triangle together."""
    new = stands_for[faces]
    pinched = np.zeros(len(stands_for), dtype=bool)
    for one, other in ((0, 1), (1, 2), (2, 0)):
        pinched[new[new[:, one] == new[:, other], one]] = True
    return np.where(pinched[stands_for], np.arange(len(stands_for), dtype=np.int32), stands_for)
