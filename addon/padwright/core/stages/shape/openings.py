"""Openings through walls' feet, so that every space between walls breathes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float, TriMesh
from ..folds.curves import WallCurve
from ..folds.level_lines import resampled
from .spaces import FINE_MM, Spaces
from .walls import WallPlace, block_mesh, leans, wall_sheet

_EVERY_MM = 15.0  # along a wall, one opening for so much of a space
_STAGGER = (0.35, 0.65)
_AT_ENDS_MM = 1.0  # kept from where another wall meets it


@dataclass(frozen=True)
class Opening:
    """A stretch of a wall's line whose foot is open."""

    wall: int
    start_mm: float  # along the wall's line
    end_mm: float
    height_mm: float


def plan_openings(
    spaces: Spaces, walls: tuple[WallCurve, ...], width_mm: float, most_width_mm: float, height_mm: float
) -> tuple[list[Opening], int]:
    """Return where walls' feet are opened, and how many spaces stay shut.

    A space that does not reach the outside gets openings through the rings around it, one each 15 mm, those of one ring
    beside those of the next; one that no ring touches gets one through each of the walls to spaces that breathe.
    """
    links = [_links(spaces, wall.points, number, width_mm) for number, wall in enumerate(walls)]
    breathes = spaces.is_open.copy()
    found: list[Opening] = []
    waiting = True
    while waiting:
        waiting = False
        reached = breathes.copy()
        for wall, start, end, left, right in (each for some in links for each in some):
            shut, other = (left, right) if not breathes[left] else (right, left)
            if breathes[shut] or not breathes[other] or end - start < 1.0:
                continue
            count = max(int((end - start) / _EVERY_MM), 1)
            if walls[wall].kind == "row":
                count = 1
            for number in range(count):
                middle = start + (end - start) * (number + _STAGGER[wall % 2]) / count
                half = 0.5 * min(most_width_mm, end - start)
                found.append(Opening(wall, middle - half, middle + half, height_mm))
            reached[shut] = True
            waiting = True
        breathes = reached
    size = np.bincount(spaces.label.ravel(), minlength=len(breathes)) * FINE_MM**2
    return found, int((~breathes[1:] & (size[1:] > width_mm**2)).sum())


def _links(spaces: Spaces, points: Float, number: int, width_mm: float) -> list[tuple[int, float, float, int, int]]:
    """Return stretches of a wall (number, start, end, space on either side) between the same two spaces."""
    fine = resampled(points, 0.5)
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(fine, axis=0).T))])
    along = np.gradient(fine, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    off = (0.5 * width_mm + 2.0 * FINE_MM) * np.stack([along[:, 1], -along[:, 0]], axis=1)
    left, right = spaces.at(fine - off), spaces.at(fine + off)
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
    openings: list[Opening], walls: tuple[WallCurve, ...], place: WallPlace, width_mm: float, folds: int
) -> list[TriMesh]:
    """Return what is cut away of the walls' feet, one closed mesh each."""
    found = []
    for each in openings:
        line = resampled(walls[each.wall].points, 0.25)
        length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
        chosen = (length >= each.start_mm) & (length <= each.end_mm)
        if chosen.sum() >= 3:
            some = line[chosen]
            sheet = wall_sheet(place, (some, some, some), leans(place, walls[each.wall], some), width_mm + 0.6, folds)
            found.append(block_mesh(sheet, each.height_mm))
    return found
