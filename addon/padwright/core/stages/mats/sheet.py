"""The sheet that a picture shows: where it ends, its four corners, and its places by what it truly measures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import ConvexHull, QhullError

from ...base.mesh import Bool, Float

_RIM = 0.02  # of the longer side: so wide a rim says what lies around the sheet
_EVEN_RIM = 12.0  # of CIELAB lightness, from its 10th to its 90th percentile: more is no one thing; ours
_STANDS_OFF = 3.0  # of lightness between the sheet and what lies around it: paper on a scanner's lid; ours
_LIGHT = 60.0  # a sheet is lighter than that: what is darker is what was pressed; ours
_LEAST_SHARE, _MOST_SHARE = 0.1, 0.97  # of the picture
_SQUARE = 0.95  # of its hull that four corners hold; an ellipse has 0.64: ours
_SOLID = 0.75  # of its hull that is sheet: marks may reach its edge


@dataclass(frozen=True, eq=False)
class SeenSheet:
    """A sheet on a picture."""

    corners: Float  # (4, 2), pixels right and down, clockwise as seen, the first at the upper left
    is_on: Bool  # (h, w)

    @property
    def side_lengths(self) -> tuple[float, float, float, float]:
        """Its upper, right, lower and left side, pixels."""
        found = np.linalg.norm(np.roll(self.corners, -1, axis=0) - self.corners, axis=1)
        return (float(found[0]), float(found[1]), float(found[2]), float(found[3]))

    @property
    def skew(self) -> float:
        """By how much of their mean two sides that face each other differ, the larger of both: 0 seen straight on."""
        up, right, low, left = self.side_lengths
        return max(abs(up - low) / (0.5 * (up + low)), abs(right - left) / (0.5 * (right + left)))


def _rim_width(lightness: Float) -> int:
    return max(1, round(_RIM * max(lightness.shape)))


def rim_lightness(lightness: Float) -> Float:
    """Return the lightness of a picture's outermost pixels, (k,)."""
    wide = _rim_width(lightness)
    is_rim = np.ones(lightness.shape, dtype=bool)
    is_rim[wide:-wide, wide:-wide] = False
    return np.asarray(lightness[is_rim])


def find_sheet(lightness: Float) -> SeenSheet | None:
    """Return the light sheet that a picture, (h, w) CIELAB lightness, shows on something else; None where none is seen.

    What lies around it has one lightness, lighter (a scanner's lid) or darker (a table), along the whole rim or, where
    the sheet lies in the scanner's corner, along one side. The sheet is what differs, filled; its sides are fitted to
    its edge, so that a corner that is bent or marked does not count.
    """
    wide = _rim_width(lightness)
    sides = (lightness[:, -wide:], lightness[-wide:], lightness[:, :wide], lightness[:wide])
    for rim in (rim_lightness(lightness), *(each.ravel() for each in sides)):
        low, around, high = (float(each) for each in np.percentile(rim, (10.0, 50.0, 90.0)))
        found = _sheet_on(lightness, around, high - low) if high - low <= _EVEN_RIM else None
        if found is not None:
            return found
    return None


def _sheet_on(lightness: Float, around: float, spread: float) -> SeenSheet | None:
    """Return the sheet that lies on something of one lightness, give or take a spread."""
    is_other = np.abs(lightness - around) > max(_STANDS_OFF, spread)
    inner = lightness[is_other & (lightness > _LIGHT)]
    if len(inner) < _LEAST_SHARE * lightness.size:
        return None
    paper = commonest(inner)
    limit = 0.5 * (paper + around)
    is_sheet = lightness > limit if paper > around else lightness < limit
    label, count = ndimage.label(ndimage.binary_opening(is_sheet, iterations=2))
    if not count:
        return None
    size = np.bincount(label.ravel())
    largest = int(np.argmax(size[1:])) + 1
    is_sheet = ndimage.binary_fill_holes(label == largest)
    return _squared(is_sheet) if _LEAST_SHARE < is_sheet.mean() < _MOST_SHARE else None


def commonest(lightness: Float) -> float:
    """Return the lightness that most of some places have."""
    count, _ = np.histogram(lightness, bins=np.arange(-0.5, 102.0))
    smooth = ndimage.gaussian_filter1d(count.astype(np.float64), 1.0)
    at = int(np.argmax(smooth))
    near = lightness[np.abs(lightness - at) <= 2.0]
    return float(np.median(near)) if len(near) else float(at)


def _squared(is_sheet: Bool) -> SeenSheet | None:
    inner = ndimage.binary_erosion(is_sheet, border_value=0)
    row, column = np.nonzero(is_sheet & ~inner)
    edge = np.stack([column, row], axis=1).astype(np.float64)
    try:
        hull = edge[ConvexHull(edge).vertices]
    except QhullError:
        return None
    corners = _four_of(hull)
    if is_sheet.sum() < _SOLID * _area(hull) or _area(corners) < _SQUARE * _area(hull):
        return None
    corners = _on_lines(corners, edge)
    if not np.isfinite(corners).all() or _area(corners) < _SQUARE * _area(hull):
        return None
    down, right = np.mgrid[0 : is_sheet.shape[0], 0 : is_sheet.shape[1]]
    is_on = np.ones(is_sheet.shape, dtype=bool)
    for (x, y), (to_x, to_y) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        is_on &= (to_x - x) * (down - y) - (to_y - y) * (right - x) >= 0.0
    return SeenSheet(corners, is_on)


def _area(polygon: Float) -> float:
    x, y = polygon.T
    return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def _four_of(hull: Float) -> Float:
    """Return the four corners of a convex line, (k, 2), that hold most: of each diagonal the farthest either side."""
    best, kept = -1.0, hull[[0, 0, 0, 0]]
    for first in range(len(hull)):
        offset = hull - hull[first]
        for second in range(first + 1, len(hull)):
            way = hull[second] - hull[first]
            across = way[0] * offset[:, 1] - way[1] * offset[:, 0]
            one, other = int(np.argmax(across)), int(np.argmin(across))
            if across[one] - across[other] > best:
                best, kept = float(across[one] - across[other]), hull[[first, one, second, other]]
    return _clockwise(kept)


def _clockwise(corners: Float) -> Float:
    """Return four corners clockwise as seen (right, then down), the one at the upper left first."""
    middle = corners.mean(axis=0)
    order = corners[np.argsort(np.arctan2(corners[:, 1] - middle[1], corners[:, 0] - middle[0]))]
    return np.roll(order, -int(np.argmin(order.sum(axis=1))), axis=0)


def _on_lines(corners: Float, edge: Float) -> Float:
    """Return where lines through the edge's places along each side meet; twice, the second time closer.

    The middle of an edge's pixel lies half a pixel inside the sheet.
    """
    center = edge.mean(axis=0)
    for share in (0.025, 0.01):
        lines = []
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            way = end - start
            length = float(np.linalg.norm(way))
            along = (edge - start) @ way / length**2
            away = np.abs((edge - start) @ np.array([-way[1], way[0]])) / length
            near = edge[(along > 0.05) & (along < 0.95) & (away < max(share * length, 1.5))]
            if len(near) < 3:
                return corners
            middle = near.mean(axis=0)
            line = np.linalg.svd(near - middle, full_matrices=False)[2][0]
            normal = np.array([-line[1], line[0]])
            lines.append((middle + 0.5 * np.sign((middle - center) @ normal) * normal, line))
        corners = np.array([_meeting(*lines[number - 1], *lines[number]) for number in range(4)])
    return corners


def _meeting(one: Float, way: Float, other: Float, other_way: Float) -> Float:
    system = np.column_stack([way, -other_way])
    if abs(np.linalg.det(system)) < 0.1:  # less than 6 degrees apart: no corner
        return np.full(2, np.nan)
    return np.asarray(one + np.linalg.solve(system, other - one)[0] * way)


def to_pixels(corners: Float, size_mm: tuple[float, float]) -> Float:
    """Return the map from a sheet's places, mm right and down, to pixels as a homography, (3, 3).

    `corners`, (4, 2), are the pixels of its corners in order around it, the first at its own upper left. Four points
    fix the eight numbers (Hartley & Zisserman 2003, Multiple View Geometry, section 4.1).
    """
    width, height = size_mm
    places = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    rows = []
    for (x, y), (right, down) in zip(places, corners, strict=True):
        rows.append([x, y, 1.0, 0.0, 0.0, 0.0, -right * x, -right * y])
        rows.append([0.0, 0.0, 0.0, x, y, 1.0, -down * x, -down * y])
    return np.append(np.linalg.solve(np.array(rows), np.asarray(corners).ravel()), 1.0).reshape(3, 3)


def mapped(homography: Float, places: Float) -> Float:
    """Return places, (k, 2), mapped by a homography."""
    found = np.column_stack([places, np.ones(len(places))]) @ homography.T
    return np.asarray(found[:, :2] / found[:, 2:])
