"""The bare base that both scans show, well clear of the clay, and the fit on it alone.

Where clay thins out to nothing the impression stands off by a few tenths: too little to be cut off as clay, always
outward, and enough to turn a base of weak shape by a degree. So what lies next to clay takes no part.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...base.mesh import Float
from .cloud import Cloud
from .refine import ROUGHER, BothScans, Matches, Ready, RefinedPose, refine

NEIGHBORS = 16
"""Gaps averaged to tell thin clay from noise."""

_AROUND = 18
"""Nearest points of the whole scan that have so many, about, in its sample: one in ten was held back."""

THIN_CLAY = 4.0
"""Standard deviations that such a mean must exceed to be clay."""

CLEAR_CELLS = 1.0
"""Cells to keep clear of what is clay or unseen (own measurement, docs/models/align.md)."""

LEAST_KEPT = 0.3
"""Below this share of the points that lie on the other scan, too few are clear of clay: all of them stay in."""


def refine_bare(
    both: BothScans, fit: RefinedPose, *, rounds: int = 2, pinned: tuple[Float, Float, float] | None = None
) -> tuple[RefinedPose, BothScans]:
    """Return a pose, known to a few tenths of a mm, refined on bare base only, and the scans with what took part.

    The clay is told apart anew so many rounds; `pinned` as for `refine`.
    """
    bare = both = both.in_order()
    for turn in range(rounds):
        matches = both.matches(fit.matrix, both.within(fit.width_mm))
        noise = min(fit.noise_mm, ROUGHER * both.noise_mm)
        bare = both.taken(
            _bare(both.base, both.base_at, matches[1], noise),
            _bare(both.impression, both.impression_at, matches[0], noise),
        )
        settled = 0.02 if turn + 1 < rounds else 2e-3
        fit = refine(bare, fit.matrix, start_width=fit.width_mm, steps=12, settled=settled, pinned=pinned)
    return fit, bare


def _bare(ready: Ready, cloud: Cloud, match: Matches, noise: float) -> NDArray[np.intp]:
    """Return the indices of a sample's points on bare base and clear of clay.

    Notes
    -----
    How far the means of neighbors scatter is judged from the negative ones (clay makes none of those): between the
    noise over the root of their count, for white noise, and the noise itself, for one with waves of centimeters.
    """
    is_seen = match.is_seen & (np.abs(match.gap) < 4.0 * noise)
    seen = np.flatnonzero(is_seen)
    if len(seen) <= NEIGHBORS:
        return seen
    near = ready.around[cloud.number, :_AROUND]
    counts, gaps = np.zeros(len(ready.cloud.points)), np.zeros(len(ready.cloud.points))
    counts[cloud.number], gaps[cloud.number] = is_seen, np.where(is_seen, match.gap, 0.0)
    count = np.maximum(1.0, counts[near].sum(axis=1))
    mean_gap = gaps[near].sum(axis=1) / count
    inside = -mean_gap[is_seen & (mean_gap < 0.0) & (count >= 0.5 * NEIGHBORS)]
    scatter = 1.4826 * float(np.median(inside)) if len(inside) >= NEIGHBORS else 0.0
    limit = THIN_CLAY * np.clip(scatter, noise / np.sqrt(count), noise)
    is_clay = (count < 0.5 * NEIGHBORS) | (np.abs(mean_gap) > limit)
    if not is_clay.any():
        return seen
    clear = CLEAR_CELLS * cloud.cell
    distance, _ = cKDTree(cloud.points[is_clay]).query(cloud.points[seen], distance_upper_bound=clear)
    kept = seen[~np.isfinite(distance)]
    return kept if len(kept) >= LEAST_KEPT * len(seen) else seen[~is_clay[seen]]
