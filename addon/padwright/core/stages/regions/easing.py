"""Borders that cannot be cut through the pad as they lie: their field smoothed, and how far that moved them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Float, TriMesh
from ...geometry.smoothing import smoothed
from .surface_cut import cut_surface

EASINGS = ((1.5, 6.0), (2.5, 9.0), (4.0, 14.0), (6.0, 25.0))
"""Rounds of smoothing: over how many edges, and how many edges around the faults. Common practice."""


def eased(flat: TriMesh, shares: Float, places: Sequence[Float], edge_mm: float, round_number: int) -> Float:
    """Return weights smoothed around the places where a border could not be cut.

    As a Gaussian would, so a straight border stays and corners, prongs and islands give way. Outside the radius nothing
    changes.

    Parameters
    ----------
    flat : TriMesh
        The body side, seen along the press direction.
    shares : (b, k) float
    places : sequence of (3,) float, mm
        On `flat`.
    edge_mm : float
        Typical edge.
    round_number : int
        Which of `EASINGS`.
    """
    over, around = EASINGS[round_number]
    is_far = cKDTree(np.asarray(places)).query(flat.vertices)[0] > around * edge_mm
    return np.maximum(smoothed(flat, shares, over * edge_mm, is_fixed=np.asarray(is_far)), 0.0)


def lost(flat: TriMesh, before: Float, after: Float, may_vanish: Sequence[bool]) -> list[int]:
    """Return the zones that keep less than half the area they had, blend steps aside."""
    areas = flat.vertex_areas
    had, has = (np.bincount(each.argmax(axis=1), areas, before.shape[1]) for each in (before, after))
    return [int(column) for column in np.flatnonzero(has < 0.5 * had) if not may_vanish[column]]


def moved(flat: TriMesh, before: Float, after: Float) -> tuple[float, int]:
    """Return how far at most the borders lie from where they lay, either way, in mm, and the vertex nearest to there.

    0 where there were none or are none.
    """
    old, new = _border(flat, before), _border(flat, after)
    if len(old) == 0 or len(new) == 0:
        return 0.0, 0
    there, back = cKDTree(old).query(new)[0], cKDTree(new).query(old)[0]
    place = new[there.argmax()] if there.max() >= back.max() else old[back.argmax()]
    vertex = int(((flat.vertices - place) ** 2).sum(axis=1).argmin())
    return float(max(there.max(), back.max())), vertex


def _border(flat: TriMesh, shares: Float) -> Float:
    cut = cut_surface(flat, shares.argmax(axis=1).astype(np.int64), shares)
    ends = cut.vertices[cut.start], cut.vertices[cut.end]
    return np.concatenate([ends[0], 0.5 * (ends[0] + ends[1])])
