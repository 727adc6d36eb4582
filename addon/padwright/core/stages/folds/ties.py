"""Short upright walls across what no roof can span: corners, ends of rings before what is solid, tips of ridges."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.mesh import Bool, Float
from .columns import PadColumns
from .curves import WallCurve
from .level_lines import resampled

_STEP_MM = 0.3
_OVER = 1.1
"""A roof is too wide that spans so much more than the longest bridge: what a raster tells to a cell or two, and less
than what is an error (our choice)."""

_WAYS = 24  # in which a span is measured, as the check of the layers does
_FARTHEST = 3.0  # longest bridges: what is wider in every way gets a wall from the nearest side
_SHARE = 0.9  # a place that wide has no wall within so much of half a span
_ROUNDS = 12
_MOST = 60  # in one pad: more would be no walls here and there


def ties(columns: PadColumns, walls: Sequence[WallCurve], width_mm: float, longest_bridge_mm: float) -> list[WallCurve]:
    """Return upright walls where the roof between walls would span too far in every way.

    Each stands through the middle of such a place, the shortest way from side to side; again until no place is left.
    """
    origin = columns.origin
    extent = columns.step_mm * (np.array(columns.low_mm.shape) - 1)
    shape = tuple(np.ceil(extent / _STEP_MM).astype(int) + 1)
    solid, core = (_finer(each, columns.step_mm, shape) > 0.5 for each in (columns.is_solid, columns.is_core))
    is_line = np.zeros(shape, dtype=bool)
    for wall in walls:
        _draw(is_line, wall.points, origin)
    most = _OVER * longest_bridge_mm
    found: list[WallCurve] = []
    for _ in range(_ROUNDS):
        held = solid | (ndimage.distance_transform_edt(~is_line) * _STEP_MM <= 0.5 * width_mm)
        new = [
            _tie(origin + _STEP_MM * line, width_mm) for line in _across(held, core & ~held, most, longest_bridge_mm)
        ]
        for wall in new:
            _draw(is_line, wall.points, origin)
        found += new
        if not new or len(found) >= _MOST:
            break
    return found


def _across(held: Bool, roof: Bool, most_mm: float, bridge_mm: float) -> list[Float]:
    """Return a line, (n, 2) cells, across each place whose span is over a length."""
    clear = ndimage.distance_transform_edt(~held) * _STEP_MM
    cells = np.argwhere(roof & (clear > 0.5 * _SHARE * most_mm))
    if len(cells) == 0:
        return []
    far = _rays(held, roof, cells, int(_FARTHEST * bridge_mm / _STEP_MM))
    through = far[:, :_WAYS] + far[:, _WAYS:] - 1.0
    span = _STEP_MM * through.min(axis=1)
    wide = span > most_mm
    if not wide.any():
        return []
    is_wide = np.zeros(held.shape, dtype=bool)
    is_wide[tuple(cells[wide].T)] = True
    label, count = ndimage.label(is_wide, np.ones((3, 3), dtype=bool))
    place = label[tuple(cells.T)]
    found = []
    for number in range(1, count + 1):
        here = np.flatnonzero(place == number)
        middle = here[np.argmax(clear[tuple(cells[here].T)])]
        found.append(_line(cells[middle].astype(np.float64), far[middle]))
    return found


def _line(middle: Float, far: Float) -> Float:
    """Return the ends of the shortest line through a place whose rays go `far`, (2 ways,) cells, inf into the open."""
    through = far[:_WAYS] + far[_WAYS:]
    way = int(np.argmin(through))
    if not np.isfinite(through[way]):
        way = int(np.argmin(far)) % _WAYS
    angle = way * np.pi / _WAYS
    along = np.array([np.cos(angle), np.sin(angle)])
    ahead, back = (each if np.isfinite(each) else 1.0 for each in (far[way], far[way + _WAYS]))
    return np.stack([middle - back * along, middle + ahead * along])


def _rays(held: Bool, roof: Bool, cells: NDArray[np.int64], most: int) -> Float:
    """Return how many cells each ray, (n, 2 ways), goes to the first held one; inf where it leaves the roof before."""
    angle = np.arange(2 * _WAYS) * np.pi / _WAYS
    far = np.full((len(cells), 2 * _WAYS), np.inf)
    place, ray = np.divmod(np.arange(far.size), 2 * _WAYS)
    way = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    for step in range(1, most + 1):
        i, j = np.rint(cells[place] + step * way[ray]).astype(np.int64).T
        i, j = np.clip(i, 0, held.shape[0] - 1), np.clip(j, 0, held.shape[1] - 1)
        is_held = held[i, j]
        far[place[is_held], ray[is_held]] = step
        goes_on = ~is_held & roof[i, j]
        place, ray = place[goes_on], ray[goes_on]
        if len(place) == 0:
            break
    return far


def _tie(ends: Float, width_mm: float) -> WallCurve:
    """Return the wall between two ends (2, 2), carried into what holds it at both."""
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    start, end = ends[0] - 0.5 * width_mm * along, ends[1] + 0.5 * width_mm * along
    count = max(int(np.ceil(np.linalg.norm(end - start) / 0.5)), 4)
    line = start + np.linspace(0.0, 1.0, count + 1)[:, None] * (end - start)
    upright = np.zeros(len(line))
    return WallCurve(line, "tie", np.tile([1.0, 0.0], (len(line), 1)), upright, upright + np.inf)


def _draw(raster: Bool, points: Float, origin: Float) -> None:
    index = np.rint((resampled(points, 0.5 * _STEP_MM) - origin) / _STEP_MM).astype(np.int64)
    raster[tuple(np.clip(index, 0, np.array(raster.shape) - 1).T)] = True


def _finer(raster: Bool, step_mm: float, shape: tuple[int, ...]) -> Float:
    """Return a raster of the columns at this one's step, its border smoothed over a cell as the solid's is."""
    soft = ndimage.gaussian_filter(raster.astype(np.float64), 1.0)
    i, j = np.meshgrid(*(np.arange(count) * (_STEP_MM / step_mm) for count in shape), indexing="ij")
    return np.asarray(ndimage.map_coordinates(soft, [i, j], order=1, mode="nearest"))
