"""Openings through walls' feet, so that every space between walls breathes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, Int, TriMesh
from ..folds.curves import WallCurve
from ..folds.layout import FoldLayout
from ..folds.level_lines import resampled
from .outlets import Outlet, plan_outlets
from .spaces import FINE_MM, Spaces
from .walls import OPEN_SHARE, WallPlace, WallSheet, block_mesh, stretch_of

_EVERY_MM = 15.0  # along a wall, one opening for so much of a space
_STAGGER = (0.35, 0.65)
_BESIDE_MM = 0.3  # openings are cut so much wider than the wall on either side
_AT_ENDS_MM = 1.0  # kept from where another wall meets it


@dataclass(frozen=True)
class Opening:
    """A stretch of a wall's line whose foot is open."""

    wall: int
    start_mm: float  # along the wall's line
    end_mm: float
    height_mm: float


@dataclass(frozen=True, eq=False)
class Openings:
    """Where walls' feet are open, and the spaces they join."""

    openings: tuple[Opening, ...]
    outlets: tuple[Outlet, ...]
    room_mm3: Float  # (v,); core over each space that does not reach the outside by itself, with its share of walls
    links: Int  # (e, 2); the two spaces that each opening joins; -1 is the outside
    area_mm2: Float  # (e,)
    shut: int  # spaces wider than a wall that stay shut


NO_OPENINGS = Openings((), (), np.zeros(0), np.zeros((0, 2), dtype=np.int32), np.zeros(0), 0)


def plan_openings(
    spaces: Spaces,
    layout: FoldLayout,
    place: WallPlace,
    feet: Sequence[Float | None],
    most_width_mm: float,
    height_mm: float,
) -> Openings:
    """Return where walls' feet are opened; they stand on lines `feet`, None for a wall that is none.

    A space that does not reach the outside gets openings through the rings around it, one each 15 mm, those of one ring
    beside those of the next; one that no ring touches gets one through each of the walls to spaces that breathe;
    what only something solid shuts in gets outlets through that.
    """
    walls = layout.walls
    lines = [None if foot is None else resampled(foot, FINE_MM) for foot in feet]
    links = [
        link
        for number, wall in enumerate(walls)
        for link in _links(
            spaces, wall.points, number, layout.width_mm, _neighbors(lines, number, 2.0 * layout.width_mm)
        )
    ]
    breathes = spaces.is_open.copy()
    found, joins = _through_walls(links, walls, breathes, most_width_mm, height_mm)
    shut = [int(each) for each in np.flatnonzero(~breathes) if each]
    outlets = plan_outlets(spaces, layout, shut, most_width_mm)
    for outlet in outlets:
        breathes[outlet.space] = True
    if outlets:
        more, others = _through_walls(links, walls, breathes, most_width_mm, height_mm)
        found, joins = found + more, joins + others
    # The spaces that openings lead to, numbered from 0; those that are open by themselves are the outside.
    inner = np.flatnonzero(breathes & ~spaces.is_open)
    number_of = np.full(len(breathes), -1, dtype=np.int32)
    number_of[inner] = np.arange(len(inner))
    room, size = _rooms(spaces, layout)
    free = np.array([_free_height(place, walls[each.wall], each) for each in found])
    wide = np.array([each.end_mm - each.start_mm for each in found])
    pairs = number_of[np.array(joins, dtype=np.int64).reshape(-1, 2)]
    ways_out = np.array([[number_of[each.space], -1] for each in outlets], dtype=np.int32).reshape(-1, 2)
    areas = [*(wide * np.minimum(height_mm, OPEN_SHARE * free)), *(each.area_mm2 for each in outlets)]
    return Openings(
        tuple(found),
        tuple(outlets),
        room[inner],
        np.concatenate([pairs, ways_out]),
        np.array(areas),
        int((~breathes[1:] & (size[1:] > layout.width_mm**2)).sum()),
    )


def _through_walls(
    links: list[tuple[int, float, float, int, int]],
    walls: Sequence[WallCurve],
    breathes: Bool,
    most_width_mm: float,
    height_mm: float,
) -> tuple[list[Opening], list[tuple[int, int]]]:
    """Return openings from spaces that breathe to those behind them, and the spaces they join; marks what breathes."""
    found: list[Opening] = []
    joins: list[tuple[int, int]] = []
    waiting = True
    while waiting:
        waiting = False
        reached = breathes.copy()
        for wall, start, end, left, right in links:
            shut, other = (left, right) if not breathes[left] else (right, left)
            if breathes[shut] or not breathes[other]:
                continue
            count = 1 if walls[wall].kind != "ring" else max(int((end - start) / _EVERY_MM), 1)
            for number in range(count):
                middle = start + (end - start) * (number + _STAGGER[wall % 2]) / count
                half = 0.5 * min(most_width_mm, end - start)
                found.append(Opening(wall, middle - half, middle + half, height_mm))
                joins.append((shut, other))
            reached[shut] = True
            waiting = True
        breathes[:] = reached
    return found, joins


def _rooms(spaces: Spaces, layout: FoldLayout) -> tuple[Float, Float]:
    """Return the core over each space, mm3, walls shared out to what lies nearest, and the space's own area, mm2."""
    label = spaces.label
    near = ndimage.distance_transform_edt(label == 0, return_distances=False, return_indices=True)
    cell = [
        np.minimum(np.rint(np.arange(n) * FINE_MM / layout.step_mm).astype(np.int64), m - 1)
        for n, m in zip(label.shape, layout.height_mm.shape, strict=True)
    ]
    height = layout.height_mm[np.ix_(*cell)]
    count = len(spaces.is_open)
    room = np.bincount(label[tuple(near)].ravel(), height.ravel(), count) * FINE_MM**2
    return room, np.bincount(label.ravel(), minlength=count) * FINE_MM**2


def _free_height(place: WallPlace, wall: WallCurve, opening: Opening) -> float:
    line = resampled(wall.points, 0.5)
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    low, high = place.heights(line)
    return float(np.interp(0.5 * (opening.start_mm + opening.end_mm), length, high - low))


def _neighbors(lines: Sequence[Float | None], number: int, reach_mm: float) -> Float:
    """Return points (n, 2) on the lines that other walls stand on, of those that may stand against a wall."""
    own = lines[number]
    if own is None:
        return np.zeros((0, 2))
    low, high = own.min(axis=0) - reach_mm, own.max(axis=0) + reach_mm
    others = [line for other, line in enumerate(lines) if line is not None and other != number]
    return np.concatenate([np.zeros((0, 2)), *(each[((each > low) & (each < high)).all(axis=1)] for each in others)])


def _links(
    spaces: Spaces, points: Float, number: int, width_mm: float, others: Float
) -> list[tuple[int, float, float, int, int]]:
    """Return stretches of a wall (number, start, end, space on either side) between the same two spaces.

    None where another wall stands against it, by points (n, 2) of others: cut open there, that one would be cut as
    well, and not all through. A sliver would be left.
    """
    fine = resampled(points, 0.5)
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(fine, axis=0).T))])
    along = np.gradient(fine, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    off = (0.5 * width_mm + 2.0 * FINE_MM) * np.stack([along[:, 1], -along[:, 0]], axis=1)
    left, right = spaces.at(fine - off), spaces.at(fine + off)
    if len(others):
        left = np.where(cKDTree(others).query(fine)[0] > width_mm + _BESIDE_MM, left, 0)
    pair = np.stack([left, right], axis=1)
    change = np.flatnonzero((np.diff(pair, axis=0) != 0).any(axis=1)) + 1
    found = []
    for start, end in zip([0, *change], [*change, len(fine)], strict=True):
        first, second = length[start] + _AT_ENDS_MM, length[end - 1] - _AT_ENDS_MM
        a, b = int(left[start]), int(right[start])
        if a and b and a != b and second > first:
            found.append((number, float(first), float(second), a, b))
    return found


def opening_meshes(
    openings: Sequence[Opening], walls: tuple[WallCurve, ...], sheets: Sequence[WallSheet | None]
) -> list[TriMesh]:
    """Return what is cut away of the walls' feet, one closed mesh each."""
    found = []
    for each in openings:
        sheet = sheets[each.wall]
        if sheet is None:
            continue
        points = walls[each.wall].points
        length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
        at = np.linspace(each.start_mm, each.end_mm, max(int((each.end_mm - each.start_mm) / 0.25), 2) + 1)
        found.append(block_mesh(stretch_of(sheet, length, at, _BESIDE_MM), each.height_mm))
    return found
