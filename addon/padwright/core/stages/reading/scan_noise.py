"""The noise of two scans as seen where both show bare base: how strong it is, and how far it holds together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls
from scipy.spatial.distance import cdist

from ...base.mesh import Bool, Float, TriMesh

_REACH = 8.0
"""How far apart, in smoothing widths, two places are compared: 40 mm at 5 mm, over the waves of ordinary scanners."""
_LENGTHS = (0.15, 0.3, 0.6, 1.2, 2.4, 4.8)
"""Lengths in smoothing widths that the noise is made up of: each twice the one before."""
_FEWEST = 300
_MOST = 2500
_ROWS = 300


@dataclass(frozen=True)
class ScanNoise:
    """Covariance of the difference of two scans between two places a distance r apart.

    The covariance is `white` at r = 0, bumps[i] exp(-r^2 / 2 lengths[i]^2) and waves[i] sin(q) / q with q = 2 pi r / 4
    lengths[i], added up. Each is the covariance of a random field in space, so the sum is one whatever the parts are.
    """

    white: float  # mm2; variance that no two places share
    bumps: Float  # (k,), mm2; variance of noise without a wave length
    waves: Float  # (k,), mm2; variance of noise with one
    lengths: Float  # (k,), mm

    def propagated(self, rows: Float, places: Float, cell_mm: float) -> Float:
        """Return the covariance, (m, m), of m sums of the noise over n places: rows C rows^T.

        Rows, (m, n), are the weights of each sum; places, (n, 2) mm, within one cell count as one where the noise is
        correlated.
        """
        # einsum adds in one order whatever the number of threads; a matrix product does not.
        result = self.white * np.einsum("ik,jk->ij", rows, rows)
        cell, index = np.unique(np.floor(places / cell_mm).astype(np.int64), axis=0, return_inverse=True)
        index = index.reshape(-1)
        count = len(cell)
        middle = np.stack([np.bincount(index, places[:, k], count) for k in (0, 1)], axis=1)
        middle = middle / np.bincount(index, minlength=count)[:, None]
        summed = np.stack([np.bincount(index, row, count) for row in rows])
        apart = cdist(middle, middle)
        shared = np.zeros_like(apart)
        for shape, parts in ((_bump, self.bumps), (_wave, self.waves)):
            for number in np.flatnonzero(parts > 0.0):
                shared += parts[number] * shape(apart, self.lengths[number])
        return np.asarray(result + np.einsum("il,jl->ij", np.einsum("ik,kl->il", summed, shared), summed))


def bare_noise(mesh: TriMesh, distance: Float, is_bare: Bool, width: float) -> ScanNoise | None:
    """Return the noise of impression and base, from their distance where there is no clay.

    The mesh is the impression, the distance, (n,) mm, its vertices' signed one to the base, unsmoothed; bare, (n,), is
    where the base shows, away from the clay and over scanned base; the width, mm, is that of smoothing. None where too
    little of the base shows.

    Notes
    -----
    The half mean squared difference between two places (the variogram of geostatistics: Matheron 1963, doi
    10.2113/gsecongeo.58.8.1246) needs no mean and shows correlation of any length up to the bare area's own. A sum of
    covariances with weights of 0 or more is fitted to it (non-negative least squares). An error of the alignment shows
    in it as long waves, which is right: it moves a load center as they do.
    """
    index = np.flatnonzero(is_bare)
    if len(index) < _FEWEST:
        return None
    index = index[:: max(1, len(index) // _MOST)]
    value = distance[index]
    middle = np.median(value)
    spread = 1.4826 * float(np.median(np.abs(value - middle)))
    index = index[np.abs(value - middle) <= 5.0 * max(spread, 1e-9)]
    value, place = distance[index], mesh.vertices[index]
    some = np.arange(0, len(index), max(1, len(index) // _ROWS))
    apart = cdist(place[some], place)
    half = 0.5 * (value[some, None] - value[None]) ** 2
    border = width * np.concatenate([[1e-6], np.geomspace(0.15, _REACH, 24)])
    which = np.digitize(apart.ravel(), border)
    count = np.bincount(which, minlength=len(border) + 1)[1:-1].astype(np.float64)
    sums = np.bincount(which, half.ravel(), len(border) + 1)[1:-1]
    ways = np.bincount(which, apart.ravel(), len(border) + 1)[1:-1]
    is_seen = count >= 100
    if is_seen.sum() < 6:
        return None
    seen, gamma, way = (
        count[is_seen],
        (sums / np.maximum(count, 1.0))[is_seen],
        (ways / np.maximum(count, 1.0))[is_seen],
    )
    lengths = width * np.array(_LENGTHS)
    shapes = (shape(way, length) for shape in (_bump, _wave) for length in lengths)
    matrix = np.column_stack([np.ones(len(way)), *(1.0 - shape for shape in shapes)])
    weight = np.sqrt(seen / seen.sum()) / np.maximum(gamma, 1e-12)
    found, _ = nnls(matrix * weight[:, None], gamma * weight)
    bumps, waves = np.split(found[1:], 2)
    return ScanNoise(float(found[0]), bumps, waves, lengths)


def _bump(apart: Float, length: float) -> Float:
    """Return the covariance over distances, mm, of noise of strength 1 without a wave length."""
    return np.asarray(np.exp(apart**2 / (-2.0 * length**2)))


def _wave(apart: Float, length: float) -> Float:
    """Return the covariance over distances, mm, of noise of strength 1 with one."""
    return np.asarray(np.sinc(0.5 * apart / length))
