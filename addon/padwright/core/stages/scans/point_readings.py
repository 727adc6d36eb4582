"""Points given in a scan file's own numbers that are not: which other reading puts them on a scan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...base.cached import cached_property
from ...base.mesh import Float, TriMesh
from ...base.rows import bounds_of
from ...base.units import MM_PER_UNIT
from ...geometry.query import nearest_of_few
from .topology import finite_points

_BESIDE = 0.1
"""Of the scan's length: points that lie farther off its surface are not on it. A choice of ours, no source."""
_ON_IT = 0.05
"""Of the scan's length: so near lies what was meant, in a scan whose size may be some percent off. A choice of ours."""
_TRUE_BESIDE, _TRUE_ON_IT = 0.01, 0.005
"""Of the scan's length: points in true mm lie as far off as the scan is out of scale, so less is asked, and more of
the other reading. Choices of ours, no source."""
_LEAST_SPREAD = 0.02
"""Of the scan's length: points drawn together more than this by another unit lie near the file's zero, no more."""
_CORNERS_ASKED = 20_000
"""Of triangles evenly through the file: on a seat 2.5 mm apart, within a hundredth of its length."""


@dataclass(frozen=True, eq=False)
class Seen:
    """A scan as its file has it; it may have any fault."""

    name: str  # "base scan" or "impression scan"
    mesh: TriMesh  # in the file's own numbers
    unit: str  # of the file

    @cached_property
    def bounds(self) -> Float:
        """Of its finite points, (2, 3), in the file's own numbers."""
        points = self.mesh.vertices[finite_points(self.mesh.vertices)]
        return bounds_of(points)

    @cached_property
    def _length(self) -> float:
        return float(np.ptp(self.mesh.finite.bounds, axis=0).max())

    def _outside(self, points: Float) -> Float:
        low, high = self.mesh.finite.bounds
        over = np.maximum(np.maximum(low - points, points - high), 0.0)
        return np.asarray(np.linalg.norm(over, axis=1) / self._length)

    def away(self, points: Float) -> float:
        """Return how far most of the points (k, 3) lie off the scan, as a share of its length."""
        beyond = float(np.median(self._outside(points)))
        if beyond > _BESIDE:  # no need to look for the surface
            return beyond
        return float(np.median(nearest_of_few(self.mesh.finite, points).distance)) / self._length

    def are_near(self, points: Float) -> bool:
        """Say if most of the points (k, 3) lie as near a corner of the scan as points on it would; False: not known.

        A few thousand corners tell it, without a look at the surface: no corner is nearer than the surface.
        """
        mesh = self.mesh.finite
        some = mesh.faces[:: max(len(mesh.faces) // _CORNERS_ASKED, 1), 0]
        near = cKDTree(mesh.vertices[some]).query(points)[0]
        return bool(np.median(near) <= _TRUE_BESIDE * self._length)

    def beyond(self, points: Float) -> float:
        """Return how far the farthest of the points (k, 3) lies outside the scan's box, over the scan's length."""
        return float(self._outside(points).max())

    def is_spread(self, points: Float) -> bool:
        """Say if points are more than one place; for one point, if it is not the zero of the file."""
        extent = np.ptp(points, axis=0).max() if len(points) > 1 else np.abs(points).max()
        return bool(extent >= _LEAST_SPREAD * self._length)


@dataclass(frozen=True)
class PointReading:
    """Another way to read points."""

    unit: str  # of the points; the file's own where they are right as numbers
    scan: str  # on which scan they lie then
    times: float  # what they are to be multiplied by
    away: float  # how far they lie off it then, as a share of its length


def other_reading(scan: Seen, other: Seen | None, points: Float, factor: float = 1.0) -> PointReading | None:
    """Return what points (k, 3) are where they do not lie on their scan; None where they do or nothing fits.

    They may lie on the job's other scan, or be given in true mm, which `factor` corrects the scan to.
    """
    if scan.are_near(points):
        return None
    as_given = scan.away(points)
    found = []
    if as_given > _TRUE_BESIDE and abs(factor - 1.0) > 1e-3:
        times = 1.0 / (MM_PER_UNIT[scan.unit] * factor)
        true = PointReading("true mm", scan.name, times, scan.away(points * times))
        if scan.is_spread(points * times):
            if true.away < min(_TRUE_ON_IT, 0.25 * as_given):
                return true
            found.append(true)
    if as_given <= _BESIDE:
        return None
    found += [
        PointReading(unit, seen.name, times, seen.away(points * times))
        for seen in (scan, other)
        if seen is not None
        for unit, times in _times(seen.unit)
        if (seen is not scan or times != 1.0) and seen.is_spread(points * times)
    ]
    # One point near the zero of a file says nothing of its unit unless it is far from everything as it stands.
    if len(points) < 2 and scan.beyond(points) <= 1.0:
        found = [each for each in found if each.times == 1.0]
    fitting = [each for each in found if each.away <= _ON_IT]
    return min(fitting, key=lambda each: each.away) if fitting else None


def _times(unit: str) -> list[tuple[str, float]]:
    """Return every unit, with what points in it are multiplied by to be in the file's own."""
    return [(each, mm / MM_PER_UNIT[unit]) for each, mm in MM_PER_UNIT.items()]
