"""Points given in a scan file's own numbers that are not: which other reading puts them on a scan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float, TriMesh
from ...base.units import MM_PER_UNIT
from ...geometry.query import NearestSurface

_BESIDE = 0.1
"""Of the scan's length: points that lie farther off its surface are not on it. A choice of ours, no source."""
_ON_IT = 0.05
"""Of the scan's length: so near lies what was meant, in a scan whose size may be some percent off. A choice of ours."""
_TRUE_BESIDE, _TRUE_ON_IT = 0.01, 0.005
"""Of the scan's length: points in true mm lie as far off as the scan is out of scale, so less is asked, and more of
the other reading. Choices of ours, no source."""
_LEAST_SPREAD = 0.02
"""Of the scan's length: points drawn together more than this by another unit lie near the file's zero, no more."""


@dataclass(frozen=True, eq=False)
class Seen:
    """A scan as its file has it."""

    name: str  # "base scan" or "impression scan"
    mesh: TriMesh  # in the file's own numbers; may have any fault
    unit: str  # of the file

    @property
    def bounds(self) -> Float:
        """Of its finite points, (2, 3), in the file's own numbers."""
        points = self.mesh.vertices[np.isfinite(self.mesh.vertices).all(axis=1)]
        return np.stack([points.min(axis=0), points.max(axis=0)])


@dataclass(frozen=True)
class PointReading:
    """Another way to read points."""

    unit: str  # of the points; the file's own where they are right as numbers
    scan: str  # on which scan they lie then
    times: float  # what they are to be multiplied by
    away: float  # how far they lie off it then, as a share of its length


class PointReader:
    """Tells how far points lie off a scan, and what else they may have been meant as.

    Parameters
    ----------
    other : Seen, optional
        The job's other scan.
    """

    def __init__(self, scan: Seen, other: Seen | None) -> None:
        self.scan = scan
        self.other = other
        self._surface = {scan.name: _ScanSurface(scan)}
        if other is not None:
            self._surface[other.name] = _ScanSurface(other)

    def away(self, points: Float) -> float:
        """Return how far most of the points (k, 3) lie off the scan, as a share of its length."""
        return self._surface[self.scan.name].away(points)

    def beyond(self, points: Float) -> float:
        """Return how far the farthest of the points (k, 3) lies outside the scan's box, over the scan's length."""
        return self._surface[self.scan.name].beyond(points)

    def other_reading(self, points: Float, factor: float = 1.0) -> PointReading | None:
        """Return what points are where they do not lie on the scan; None where they do or nothing fits.

        Parameters
        ----------
        points : (k, 3) float
        factor : float
            By which the scan is corrected: points may be given in true mm.
        """
        own = self._surface[self.scan.name]
        as_given = self.away(points)
        found = []
        if as_given > _TRUE_BESIDE and abs(factor - 1.0) > 1e-3:
            times = 1.0 / (MM_PER_UNIT[self.scan.unit] * factor)
            true = PointReading("true mm", self.scan.name, times, own.away(points * times))
            if own.is_spread(points * times):
                if true.away < min(_TRUE_ON_IT, 0.25 * as_given):
                    return true
                found.append(true)
        if as_given <= _BESIDE:
            return None
        found += [
            PointReading(unit, name, times, surface.away(points * times))
            for name, surface in self._surface.items()
            for unit, times in _times(surface.scan.unit)
            if (name != self.scan.name or times != 1.0) and surface.is_spread(points * times)
        ]
        # One point near the zero of a file says nothing of its unit unless it is far from everything as it stands.
        if len(points) < 2 and own.beyond(points) <= 1.0:
            found = [each for each in found if each.times == 1.0]
        fitting = [each for each in found if each.away <= _ON_IT]
        return min(fitting, key=lambda each: each.away) if fitting else None


def _times(unit: str) -> list[tuple[str, float]]:
    """Return every unit, with what points in it are multiplied by to be in the file's own."""
    return [(each, mm / MM_PER_UNIT[unit]) for each, mm in MM_PER_UNIT.items()]


class _ScanSurface:
    def __init__(self, scan: Seen) -> None:
        is_finite = np.isfinite(scan.mesh.vertices).all(axis=1)
        whole = scan.mesh
        self.scan = scan
        self._mesh = whole if is_finite.all() else whole.submesh(is_finite[whole.faces].all(axis=1))
        self._low, self._high = self._mesh.bounds
        self._length = float((self._high - self._low).max())
        self._nearest: NearestSurface | None = None

    def away(self, points: Float) -> float:
        """Return the median distance from the surface over its length."""
        beyond = self._outside(points)
        if float(np.median(beyond)) > _BESIDE:  # no need to look for the surface
            return float(np.median(beyond))
        if self._nearest is None:
            self._nearest = NearestSurface(self._mesh)
        return float(np.median(self._nearest.find(points).distance)) / self._length

    def beyond(self, points: Float) -> float:
        """Return how far the farthest point lies outside the scan's box, over its length."""
        return float(self._outside(points).max())

    def is_spread(self, points: Float) -> bool:
        """Say if points are more than one place; for one point, if it is not the zero of the file."""
        extent = np.ptp(points, axis=0).max() if len(points) > 1 else np.abs(points).max()
        return bool(extent >= _LEAST_SPREAD * self._length)

    def _outside(self, points: Float) -> Float:
        over = np.maximum(np.maximum(self._low - points, points - self._high), 0.0)
        return np.asarray(np.linalg.norm(over, axis=1) / self._length)
