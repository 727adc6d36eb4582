"""Level cuts of a closed mesh, as a printer lays it: the outlines at many heights at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..base.mesh import Float, TriMesh, sums_by

_TURNED = np.array([[0, 1, 2], [1, 2, 0], [2, 0, 1]])


@dataclass(frozen=True, eq=False)
class LevelCuts:
    """Outlines at several heights as straight pieces, in no order; the solid lies to the left of each.

    Pieces that follow each other share their ends to the last bit, and those of one height close.
    """

    level: NDArray[np.int64]  # (k,); which of the heights
    start: Float  # (k, 2), mm
    end: Float  # (k, 2), mm
    face: NDArray[np.int64]  # (k,); the face that is cut
    count: int  # of heights

    def areas_mm2(self) -> Float:
        """Return the area of the solid at each height, (count,)."""
        if len(self.level) == 0:
            return np.zeros(self.count)
        middle = self.start.mean(axis=0)  # about the middle, so that no digits are lost far from the origin
        (x0, y0), (x1, y1) = (self.start - middle).T, (self.end - middle).T
        return sums_by(self.level, (0.5 * (x0 * y1 - x1 * y0))[:, None], self.count)[:, 0]

    def lengths_mm(self) -> Float:
        """Return the length of the outlines at each height, (count,)."""
        length = np.hypot(*(self.end - self.start).T)
        return sums_by(self.level, length[:, None], self.count)[:, 0]


class LevelCutter:
    """A closed mesh, made ready to be cut at heights."""

    def __init__(self, mesh: TriMesh) -> None:
        self._mesh = mesh
        height = mesh.vertices[:, 2][mesh.faces]
        self._low, self._high = height.min(axis=1), height.max(axis=1)

    def cut(self, heights: Float) -> LevelCuts:
        """Return the outlines at rising heights, (count,) mm.

        A corner at a height counts as above it, so that every outline closes whatever the mesh; where an edge is
        crossed is worked out from its corners in one order for both faces beside it.
        """
        heights = np.asarray(heights, dtype=np.float64)
        face = np.flatnonzero((self._low < heights[-1]) & (self._high >= heights[0]))
        first = np.searchsorted(heights, self._low[face], side="right")
        last = np.searchsorted(heights, self._high[face], side="right")
        count = last - first
        level = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count - first, count)
        face = np.repeat(face, count)
        corner, height = self._mesh.faces[face], heights[level]
        is_above = self._mesh.vertices[:, 2][corner] >= height[:, None]
        lone_is_above = is_above.sum(axis=1) == 1
        lone = np.argmax(is_above == lone_is_above[:, None], axis=1)
        corner = np.take_along_axis(corner, _TURNED[lone], axis=1)
        one = self._crossed(corner[:, 0], corner[:, 1], height)
        two = self._crossed(corner[:, 0], corner[:, 2], height)
        is_kept = lone_is_above[:, None]
        start, end = np.where(is_kept, one, two), np.where(is_kept, two, one)
        return LevelCuts(level, start, end, face, len(heights))

    def _crossed(self, one: NDArray[np.int32], two: NDArray[np.int32], height: Float) -> Float:
        a, b = self._mesh.vertices[np.minimum(one, two)], self._mesh.vertices[np.maximum(one, two)]
        share = (height - a[:, 2]) / (b[:, 2] - a[:, 2])
        return a[:, :2] + share[:, None] * (b[:, :2] - a[:, :2])


@dataclass(frozen=True, eq=False)
class ScanLines:
    """Where straight lines along x (or, turned, along y) cross outlines."""

    level: NDArray[np.int64]  # (k,)
    line: NDArray[np.int64]  # (k,); number of the line
    along: Float  # (k,); place along the line, in pixels from the middle of the first
    piece: NDArray[np.int64]  # (k,); the piece of outline that is crossed


def scan_lines(cuts: LevelCuts, origin: Float, pixel_mm: float, *, every: int = 1, turned: bool = False) -> ScanLines:
    """Return where lines through the middles of pixels cross the outlines.

    Parameters
    ----------
    origin : (2,) float
        Corner of the first pixel, mm.
    every : int
        Only each so many lines are followed.
    turned : bool
        Lines run along y, not x.
    """
    x, y = (1, 0) if turned else (0, 1)
    start, end = (cuts.start - origin) / pixel_mm - 0.5, (cuts.end - origin) / pixel_mm - 0.5
    low, high = np.minimum(start[:, y], end[:, y]) / every, np.maximum(start[:, y], end[:, y]) / every
    first = np.ceil(low).astype(np.int64)  # a line right through an end counts for one of the two pieces
    count = np.ceil(high).astype(np.int64) - first
    piece = np.repeat(np.arange(len(count)), count)
    line = every * (np.arange(len(piece)) - np.repeat(np.cumsum(count) - count - first, count))
    begin, way = start[piece], (end - start)[piece]
    along = begin[:, x] + (line - begin[:, y]) * (way[:, x] / way[:, y])
    return ScanLines(cuts.level[piece], line, along, piece)
