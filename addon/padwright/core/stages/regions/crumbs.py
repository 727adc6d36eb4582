"""Crumbs of a zone, too small to be a region of their own, given to the zone around them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Bool, Float, TriMesh
from ...geometry.fields import pieces
from .surface_cut import Index

LEAST_WIDTHS = 5.0
"""A piece that a disc of so many least widths would cover is a crumb: with two beads of 0.45 mm 4.5 mm, a contour on
either side and not one cell of fill between them. Our own choice."""


@dataclass(frozen=True, eq=False)
class Joined:
    """Weights without crumbs."""

    weights: Float  # (b, k) float
    given_mm2: Float  # (k,) float, what each zone gave away
    count: int  # how many crumbs there were


def without_crumbs(mesh: TriMesh, weights: Float, may_vanish: Sequence[bool], least_width_mm: float) -> Joined:
    """Return weights under which every zone's pieces are large enough to be regions.

    A crumb goes to the neighbor it shares the longest border with, one that is no crumb where there is one.

    Parameters
    ----------
    mesh : TriMesh
        The body side, seen along the press direction.
    weights : (b, k) float
    may_vanish : sequence of k bool
        Zones that may go altogether (blend steps); of any other the largest piece stays, however small.
    least_width_mm : float
        A crumb's area is below that of a disc of `LEAST_WIDTHS` of it across.
    """
    least = np.pi / 4.0 * (LEAST_WIDTHS * least_width_mm) ** 2
    given = np.zeros(weights.shape[1])
    result, count = weights, 0
    edge = mesh.edges.astype(np.int64)
    while True:
        label = result.argmax(axis=1)
        part = pieces(mesh, label)
        area = np.asarray(np.bincount(part, mesh.vertex_areas), dtype=np.float64)
        of_part = np.zeros(len(area), dtype=np.int64)
        of_part[part] = label
        is_crumb = _crumbs(area, of_part, may_vanish, least)
        taker = _takers(edge, mesh.edge_lengths, part.astype(np.int64), of_part, is_crumb)
        if not (is_crumb & (taker >= 0)).any():
            return Joined(result, given, count)
        if result is weights:
            result = weights.copy()
        for number in np.flatnonzero(is_crumb & (taker >= 0)):
            inside, own, new = part == number, of_part[number], taker[number]
            result[np.ix_(inside, [own, new])] = result[np.ix_(inside, [new, own])]
            given[own] += area[number]
            count += 1


def _crumbs(area: Float, of_part: Index, may_vanish: Sequence[bool], least_mm2: float) -> Bool:
    is_crumb = area < least_mm2
    for column, may in enumerate(may_vanish):
        own = np.flatnonzero(of_part == column)
        if not may and len(own) and is_crumb[own].all():
            is_crumb[own[area[own].argmax()]] = False
    return is_crumb


def _takers(edge: Index, length: Float, part: Index, of_part: Index, is_crumb: Bool) -> Index:
    """Return for every crumb the label it goes to; -1 where it has no neighbor, or has to wait for its neighbors."""
    first, second = part[edge[:, 0]], part[edge[:, 1]]
    is_border = (first != second) & is_crumb[first]
    if (is_border & ~is_crumb[second]).any():
        is_border &= ~is_crumb[second]
    else:  # crumbs among themselves: the first gives way, the others are looked at anew
        is_border &= first == first[is_border].min(initial=len(is_crumb))
    border = np.zeros((len(is_crumb), int(of_part.max()) + 1))
    np.add.at(border, (first[is_border], of_part[second[is_border]]), length[is_border])
    # Rounded, so that a tie does not fall to the last bit.
    best = np.round(border, 6).argmax(axis=1)
    return np.where(border.sum(axis=1) > 0.0, best, -1)
