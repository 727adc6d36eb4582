"""How far the noise of gaps reaches over the surface, and what a sum over many gaps is uncertain by for that."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.spatial.distance import cdist

from ...base.mesh import Float, sums_by
from ...geometry.matching import row_numbers

MOST_PATCHES = 300
"""Patches whose covariance is looked at: finer ones tell nothing more, and the work grows with their third power."""

_REACHES = 7
_WHITE = (0.01, 0.1, 0.4, 0.9)
"""Shares of the variance, of one point, tried for the part that neighbors do not share."""


@dataclass(frozen=True, eq=False)
class GapNoise:
    """The noise of the gaps between two scans, and how it adds up."""

    reach_mm: float  # distance over which the shared part falls to 1/e
    of_sum: Float  # (k, k); covariance of the weighted sum of rows times gaps; zero with no more gaps than unknowns


def gap_noise(places: Float, gaps: Float, rows: Float, weights: Float, least_patch: float) -> GapNoise:
    """Return the noise of gaps (n,), mm, left after a fit at places (n, 3), that may be correlated over any distance.

    A gap changes by row . motion of the fit's rows, (n, k); weights, (n,), are above 0. `least_patch` is the edge, mm,
    of the smallest patches whose mean gaps are compared.

    Notes
    -----
    Mean gaps of patches have the covariance s^2 exp(-distance / reach), and a white part over their number of points.
    Both and the reach are those of the greatest restricted likelihood (Patterson & Thompson 1971, doi
    10.1093/biomet/58.3.545), which counts what the fit itself has taken off the gaps; sums over blocks, which do not,
    come out too small by a half when waves are as long as a tenth of the part. The exponential falls slowly: a noise
    of many wave lengths does, too.
    """
    if len(gaps) <= rows.shape[1]:
        return GapNoise(least_patch, np.zeros((rows.shape[1], rows.shape[1])))
    edge = least_patch
    while True:
        number = row_numbers(np.floor(places / edge).astype(np.int64))
        count = int(number.max()) + 1
        if count <= MOST_PATCHES:
            break
        edge *= 1.15
    total = np.bincount(number, weights)

    def mean(values: Float) -> Float:
        return sums_by(number, weights[:, None] * values) / total[:, None]

    place, level = mean(places), mean(gaps[:, None])[:, 0]
    pull = mean(rows)
    points = total**2 / np.bincount(number, np.square(weights))
    apart = cdist(place, place)
    rank = min(pull.shape[1], count - 1)  # in few patches the fit can take off all there is
    basis = np.linalg.svd(pull, full_matrices=False)[0][:, :rank]
    furthest = max(0.25 * float(apart.max()), edge)
    best: tuple[float, float, Float] | None = None
    for reach in np.geomspace(0.3 * edge, furthest, _REACHES):
        shared = np.exp(-apart / reach)
        for white in _WHITE:
            covariance = (1.0 - white) * shared + np.diag(white / points)
            unlikely, variance = _restricted(covariance, basis, level)
            if best is None or unlikely < best[0]:
                best = unlikely, float(reach), variance * covariance
    assert best is not None  # for the type checker: something was tried
    sums = pull * total[:, None]
    return GapNoise(best[1], sums.T @ best[2] @ sums)


def _restricted(covariance: Float, basis: Float, level: Float) -> tuple[float, float]:
    """Return -2 log of the restricted likelihood (but for a constant) and the variance it is greatest for."""
    factor = cho_factor(covariance, lower=True, check_finite=False)
    solved = cho_solve(factor, np.column_stack([basis, level]), check_finite=False)
    inner = basis.T @ solved[:, :-1]
    free = max(1, len(level) - basis.shape[1])
    across = basis.T @ solved[:, -1]
    squares = float(level @ solved[:, -1] - across @ np.linalg.solve(inner, across))
    variance = max(squares / free, 1e-12)
    volume = 2.0 * float(np.log(np.diag(factor[0])).sum()) + float(np.linalg.slogdet(inner)[1])
    return volume + free * float(np.log(variance)), variance
