"""Walls as closed meshes: folded strips that stand on lines in plan, as wide as asked in every level cut."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ...base.mesh import Bool, Float, TriMesh
from ..folds.columns import PadColumns
from ..folds.curves import WallCurve, derivative
from .roof import Roof

_BEYOND_MM = 3.0  # walls go on upright past the core, into the skins, so that every cut with the core is clean
_ROUND_MM = 2.0  # feet and heads follow the skins averaged over so much: a wall does not jump where a skin does
OPEN_SHARE = 0.3  # of a wall's height is open at its foot at most
_LEAST_COSINE = 0.5
_LEAST_FORWARD = 0.1  # of its line's way that a side goes along with it
_IN_PARTS_MM = 1.35
"""Faces of narrower walls are cut in parts over their height: three beads that lose a tenth where the lean changes fast
are still more than two, a single bead would be none."""


@dataclass(frozen=True, eq=False)
class WallPlace:
    """Rasters that walls are made from."""

    columns: PadColumns
    foot_mm: Float
    lean_mm: Float  # of the fold
    roof: Roof

    @classmethod
    def of(cls, columns: PadColumns, lean_mm: Float, roof: Roof) -> WallPlace:
        """Return them for a lean of the fold at each cell of the core, mm.

        Beside the core the lean is carried on: a narrow wall along the border is nearer to it than a cell, and would
        take half of its lean from where there is none.
        """
        foot = ndimage.gaussian_filter(columns.core_low_mm, _ROUND_MM / columns.step_mm, mode="nearest")
        near = ndimage.distance_transform_edt(~columns.is_core, return_distances=False, return_indices=True)
        return cls(columns, np.asarray(foot), lean_mm[tuple(near)], roof)

    def heights(self, points: Float) -> tuple[Float, Float]:
        """Return the heights of foot and head over points in order along a line, (n, 2)."""
        head = self.roof.heads(self.columns, points)
        width = _ROUND_MM / max(float(np.hypot(*np.diff(points, axis=0).T).mean()), 0.1)
        mode = "wrap" if (points[0] == points[-1]).all() else "nearest"
        return self.columns.sample(self.foot_mm, points), ndimage.gaussian_filter1d(head, width, mode=mode)


@dataclass(frozen=True, eq=False)
class WallSheet:
    """The middle surface of one wall: level by level from foot to head."""

    places: Float  # (n, levels, 3), mm; a closed one ends where it begins
    across: Float  # (n, 2); unit normal of the line in plan
    half_mm: Float  # (n, levels); half the width, measured along `across`
    lean_deg: Float  # (n, levels - 1); true angle of each face from upright, the steeper side's
    skin_mm: Float  # (n,); height of the skin over the head, which a wall goes up to
    is_closed: bool


def leans(place: WallPlace, wall: WallCurve, points: Float) -> Float:
    """Return how far the fold of a wall stands out, (n, 2) mm, over points of its line."""
    index = np.argmin(np.abs(points[:, None, :] - wall.points[None]).sum(axis=2), axis=1)
    far = np.minimum(place.columns.sample(place.lean_mm, points), wall.most_mm[index])
    return np.asarray(far[:, None] * wall.toward[index])


def wall_sheet(
    place: WallPlace,
    lines: tuple[Float, Float, Float],
    lean: Float,
    width_mm: float,
    folds: int,
    is_closed: bool = False,
) -> WallSheet:
    """Return a wall over a line in plan.

    Parameters
    ----------
    lines : three (n, 2) float
        Points of the line that foot, fold and head stand over; different ones only where the wall's ends are cut.
    lean : (n, 2) float
        From the second to where the fold is.

    Notes
    -----
    Between two levels the sheet is ruled: S(s, t) = P_j(s) + (P_j+1 - P_j) t. A level cut runs along
    S_s - S_t (z_s / z_t), which turns away from the line in plan where lean or skins change along the wall; so that
    the cut is `width_mm` wide square to itself, the half width along the line's normal is larger by one over the cosine
    of that turn [own derivation].
    """
    levels = 2 * folds + 1
    share = np.arange(levels) / (levels - 1)
    foot, fold, head = lines
    places = np.zeros((len(foot), levels, 3))
    for j in range(levels):
        at = fold if j % 2 else (head if j == levels - 1 else foot)
        low, high = place.heights(at)
        places[:, j, :2] = at + lean if j % 2 else at
        places[:, j, 2] = low + (high - low) * share[j]
    along = _unit(derivative(foot, is_closed))
    across = np.stack([along[:, 1], -along[:, 0]], axis=1)
    half = 0.5 * width_mm / np.maximum(_cosines(places, across, is_closed), _LEAST_COSINE)
    sides = [_lean_of(places, sign * half[:, :, None] * across[:, None, :], is_closed) for sign in (1.0, -1.0)]
    lean_deg = np.maximum(*sides)
    skin = place.columns.sample(place.columns.core_high_mm, head)
    return WallSheet(places, across, half, lean_deg, skin, is_closed)


def _cosines(places: Float, across: Float, is_closed: bool) -> Float:
    """Return how squarely level cuts of a sheet cross the line's normal at each point and level, (n, levels).

    Over a bend of the cut, and at a fold, it is that of the side that crosses less squarely: neither becomes narrower
    than asked.
    """
    rise = np.diff(places, axis=1)
    ds = np.diff(places, axis=0)
    before, behind = (
        np.concatenate([ds[-1:] if is_closed else ds[:1], ds]),
        np.concatenate([ds, ds[:1] if is_closed else ds[-1:]]),
    )
    cosine = np.ones(places.shape[:2])
    for way in (before, behind):
        for j in range(places.shape[1] - 1):
            for end in (j, j + 1):
                cut = way[:, end, :2] - rise[:, j, :2] * (way[:, end, 2] / np.maximum(rise[:, j, 2], 1e-9))[:, None]
                length = np.maximum(np.linalg.norm(cut, axis=1), 1e-9)
                square = np.abs(across[:, 0] * cut[:, 1] - across[:, 1] * cut[:, 0]) / length
                np.minimum(cosine[:, end], square, out=cosine[:, end])
    return cosine


def _lean_of(places: Float, shift: Float, is_closed: bool) -> Float:
    """Return how far a side of a wall leans from upright, (n, levels - 1) degrees, at each point from level to level.

    At both of a face's ends, the larger: bent faces are made of triangles that lean as either does.
    """
    side = places.copy()
    side[:, :, :2] += shift
    ds = derivative(side.reshape(len(side), -1), is_closed).reshape(side.shape)
    rise = np.diff(side, axis=1)
    found = []
    for end in (ds[:, :-1], ds[:, 1:]):
        normal = np.cross(end, rise)
        found.append(np.degrees(np.arctan2(np.abs(normal[..., 2]), np.hypot(normal[..., 0], normal[..., 1]))))
    return np.asarray(np.maximum(*found))


def _unit(along: Float) -> Float:
    """Return directions (n, 2) of unit length; where a line turns right back it has none, and takes that before."""
    length = np.linalg.norm(along, axis=1)
    known = np.where(length > 1e-9, np.arange(len(along)), -1)
    source = np.maximum.accumulate(known)
    source = np.where(source < 0, np.argmax(known >= 0), source)
    return np.asarray(along[source] / np.maximum(length[source], 1e-9)[:, None])


def turns_back(sheet: WallSheet) -> Bool:
    """Return at which points, (n,), a side of a wall runs back against its line: in a tight bend that it leans into.

    It would cross itself there.
    """
    along = np.diff(sheet.places[:, :1, :2], axis=0)
    shift = sheet.half_mm[:, :, None] * sheet.across[:, None, :]
    forward = [np.diff(sheet.places[:, :, :2] + sign * shift, axis=0) for sign in (1.0, -1.0)]
    share = np.minimum(*((way * along).sum(axis=2) for way in forward)) / (along**2).sum(axis=2)
    back = (share < _LEAST_FORWARD).any(axis=1)
    return np.asarray(np.append(back, back[0] & sheet.is_closed) | np.append(back[-1] & sheet.is_closed, back))


def strip_mesh(sheet: WallSheet, width_mm: float) -> TriMesh:
    """Return the closed mesh of a wall, carried on upright past foot and head.

    Where the lean changes along the wall its faces are warped, and level cuts through their triangles zigzag between
    the ways that the face's lower and upper edge run. A narrow wall has no width to lose by that: its faces are cut in
    parts over their height, and each is as wide as asked square to the edge that turns more.
    """
    parts = math.ceil(_IN_PARTS_MM / width_mm - 1e-9)
    places, half = sheet.places, sheet.half_mm
    if parts > 1:
        share = np.linspace(0.0, places.shape[1] - 1.0, (places.shape[1] - 1) * parts + 1)
        low = np.minimum(share.astype(np.int64), places.shape[1] - 2)
        up = (share - low)[:, None]
        places = places[:, low] * (1.0 - up) + places[:, low + 1] * up
        cosine = ndimage.minimum_filter1d(_cosines(places, sheet.across, sheet.is_closed), 3, axis=1, mode="nearest")
        half = 0.5 * width_mm / np.maximum(cosine, _LEAST_COSINE)
    places = np.concatenate([places[:, :1], places, places[:, -1:]], axis=1)
    places[:, 0, 2] -= _BEYOND_MM
    places[:, -1, 2] = np.maximum(places[:, -1, 2], sheet.skin_mm) + _BEYOND_MM
    half = np.concatenate([half[:, :1], half, half[:, -1:]], axis=1)
    return _swept(places, half, sheet.across, sheet.is_closed)


def stretch_of(sheet: WallSheet, length_mm: Float, at_mm: Float, beside_mm: float) -> WallSheet:
    """Return a stretch of a sheet, its points at lengths (k,) of those its own lie at (n,), wider on either side."""

    def between(values: Float) -> Float:
        flat = values.reshape(len(values), -1)
        found = np.stack([np.interp(at_mm, length_mm, column) for column in flat.T], axis=1)
        return found.reshape(len(at_mm), *values.shape[1:])

    across = between(sheet.across)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    return WallSheet(
        between(sheet.places),
        across,
        between(sheet.half_mm) + beside_mm,
        between(sheet.lean_deg),
        between(sheet.skin_mm),
        is_closed=False,
    )


def block_mesh(sheet: WallSheet, height_mm: float) -> TriMesh:
    """Return the lowest part of a wall as a closed mesh, up to a height above its foot."""
    foot, fold = sheet.places[:, 0], sheet.places[:, 1]
    free = float((sheet.places[:, -1, 2] - foot[:, 2]).mean())
    level = float(foot[:, 2].mean()) + min(height_mm, OPEN_SHARE * free)  # a flat bridge
    share = np.clip((level - foot[:, 2]) / np.maximum(fold[:, 2] - foot[:, 2], 1e-9), 0.05, 0.9)[:, None]
    top = foot + (fold - foot) * share
    half = sheet.half_mm[:, :1] * (1.0 - share) + sheet.half_mm[:, 1:2] * share
    both = np.concatenate([sheet.half_mm[:, :1], half], axis=1)
    return strip_between(foot, top, both, sheet.across)


def strip_between(bottom: Float, top: Float, half_mm: Float, across: Float) -> TriMesh:
    """Return the closed mesh of a strip between two lines (n, 3), half as wide as `half_mm` (n, 2) along `across`."""
    return _swept(np.stack([bottom, top], axis=1), half_mm, across, is_closed=False)


def _swept(places: Float, half: Float, across: Float, is_closed: bool) -> TriMesh:
    """Return the closed mesh of a strip: places (n, levels, 3), half widths (n, levels) along `across`.

    The quadrangles of both sides are cut from the same low corner to the same high one: where the lean changes along
    the wall they are warped, and cut crosswise the sides would bulge apart or towards each other.
    """
    if is_closed:
        places, half, across = places[:-1], half[:-1], across[:-1]
    shift = half[:, :, None] * across[:, None, :]
    right, left = places.copy(), places.copy()
    right[:, :, :2] += shift
    left[:, :, :2] -= shift
    count, levels = half.shape
    ring = np.concatenate([right, left[:, ::-1]], axis=1)  # counter-clockwise seen against the run
    number = np.arange(count * 2 * levels).reshape(count, 2 * levels)
    here, there = (number, np.roll(number, -1, axis=0)) if is_closed else (number[:-1], number[1:])
    here_up, there_up = np.roll(here, -1, axis=1), np.roll(there, -1, axis=1)
    is_right = np.arange(2 * levels) < levels
    faces = [
        np.stack([here, np.where(is_right, there_up, there), here_up], -1).reshape(-1, 3),
        np.stack([np.where(is_right, here, here_up), there, there_up], -1).reshape(-1, 3),
    ]
    for end, turn in () if is_closed else ((number[0], 1), (number[-1], -1)):
        r, lft = end[:levels], end[levels:][::-1]
        cap = np.concatenate([np.stack([r[:-1], r[1:], lft[1:]], -1), np.stack([r[:-1], lft[1:], lft[:-1]], -1)])
        faces.append(cap[:, ::turn])
    return TriMesh(ring.reshape(-1, 3), np.concatenate(faces).astype(np.int32))
