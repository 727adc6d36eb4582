"""How far load centers may lie off that were read in virtual clay: where they would lie had it been pressed otherwise.

A scanner's noise says nothing of that. A bone that lies flat makes a shallow hollow, and what tilts its floor by a
degree (clay that heaps its pressure up, a dished base, a body laid askew) moves the lowest place by a centimeter.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from ...base.mesh import Float
from .clay_bed import ClayBed

_WIDTH_MM = 5.0  # over which the reading smooths to find load centers
_NET_MM = 1.0
_REACH_MM = 30.0
"""A load center is followed no farther: half of what lies between two of the usual ones. Our choice."""

_Z90 = 1.644853627
"""95th percentile of the standard normal distribution: low and high of what an imprint rests on are 5th and 95th."""


@dataclass(frozen=True, eq=False)
class CenterDoubt:
    """What is lowest where, as it was pressed and as it might have been; arrays, (n,), mm, over the places of a bed."""

    bed: ClayBed
    left: Float  # clay left
    skin: Float  # height of the body itself: where it is lowest, whatever clay and base are like
    # clay left otherwise, each with its weight: a half for one of low and high of what is not known, 1 for what stands
    # alone.
    others: tuple[tuple[float, Float], ...]

    def tilted(self, slope: float) -> CenterDoubt:
        """Return it with a body whose tilt is known to a slope either way."""
        more = tuple((1.0, self.left + slope * along) for along in self.bed.flat.T)
        return replace(self, others=(*self.others, *more))

    def scatter(self, places: Float) -> Float:
        """Return how load centers, (k, 3) mm, move together, (k, 3, k, 3), mm2: a covariance."""
        total = np.zeros((places.size, places.size))
        if len(places) == 0:
            return total.reshape(0, 3, 0, 3)
        at = places @ self.bed.axes.T
        start = self._lowest(self.left, at)
        moves = [(1.0, self._lowest(self.skin, at) - at)]
        moves += [(weight, self._lowest(other, at) - start) for weight, other in self.others]
        for weight, flat in moves:
            moved = (flat @ self.bed.axes).ravel() / _Z90
            total += weight * np.outer(moved, moved)
        return total.reshape(len(places), 3, len(places), 3)

    def _lowest(self, values: Float, at: Float) -> Float:
        """Return the lowest place near each of some, (k, 2), nearer to it than half way to the next."""
        whole = np.full(self.bed.is_clay.shape, np.nan)
        whole[self.bed.is_clay] = np.where(np.isfinite(values), values, np.nan)
        nearest = ndimage.distance_transform_edt(np.isnan(whole), return_distances=False, return_indices=True)
        smooth = ndimage.gaussian_filter(whole[tuple(nearest)], _WIDTH_MM / self.bed.step_mm, mode="nearest")
        even = np.arange(-_REACH_MM, _REACH_MM + 0.5 * _NET_MM, _NET_MM)
        net = np.stack(np.meshgrid(even, even, indexing="ij"), axis=-1).reshape(-1, 2)
        far = np.linalg.norm(at[:, None] - at[None], axis=2) + np.where(np.eye(len(at), dtype=bool), np.inf, 0.0)
        reach = np.minimum(_REACH_MM, 0.5 * far.min(axis=1))
        found = at.copy()
        for k, place in enumerate(at):
            asked = place + net[np.hypot(*net.T) <= reach[k]]
            index = (asked - [self.bed.first[0], self.bed.second[0]]) / self.bed.step_mm
            value = ndimage.map_coordinates(smooth, index.T, order=3, mode="nearest")
            found[k] = asked[int(np.argmin(value))]
        return found
