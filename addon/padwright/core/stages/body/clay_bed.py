"""Clay laid over a base, as it is seen along the press direction: a grid of places with what lies below them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.cached import cached_property
from ...base.errors import InputError
from ...base.mesh import Bool, Float, Int, TriMesh, joined
from ...geometry.query import NearestSurface
from ...geometry.samples import averaging_width_of
from .beside_clay import rest_of_base, with_border

MOST_PLACES = 20_000
"""Of a grid: 2 mm apart on a seat of 300 x 240 mm, which is as fine as a pad is made. Our choice."""

_STEEPEST = 1.0
"""Where the base falls off by more than 1 in 1 (45 degrees) it is a side, on which no clay stays. Our choice."""

_LEAST_PIECE_SHARE = 0.05  # of the clay's area; less is a ledge or a leftover, as for pieces of clay in a scan


@dataclass(frozen=True, eq=False)
class ClayBed:
    """Heights on a grid over the plane across the press direction; heights grow against it."""

    press: Float  # (3,), unit vector from the body into the base
    axes: Float  # (2, 3), unit vectors of the grid
    first: Float  # (nx,), mm; where the rows lie along the first axis
    second: Float  # (ny,), mm
    base_mm: Float  # (nx, ny); NaN where no base is seen
    top_mm: Float  # (nx, ny); of the clay as laid; NaN where there is none

    @property
    def step_mm(self) -> float:
        """How far the grid's places lie apart."""
        return float(self.first[1] - self.first[0])

    @cached_property
    def is_clay(self) -> Bool:
        """Where clay lies, (nx, ny)."""
        return np.isfinite(self.top_mm)

    @cached_property
    def flat(self) -> Float:
        """Places of the clay in the grid's plane, (n, 2), mm."""
        x, y = np.meshgrid(self.first, self.second, indexing="ij")
        return np.stack([x[self.is_clay], y[self.is_clay]], axis=1)

    @cached_property
    def clay_mesh(self) -> TriMesh:
        """The clay's upper side as laid, on the places of the clay alone, (n, 3)."""
        places = self.flat @ self.axes - self.top_mm[self.is_clay][:, None] * self.press
        return TriMesh(places, _grid_faces(self.is_clay))

    def surface(self, height: Float, base: TriMesh) -> TriMesh:
        """Return the sheet of heights, (nx, ny), turned to the body; places that are NaN are left out.

        Beside it all the rest of the base is shown as it was scanned: clay is what lies between this surface and the
        base's, so what one of them lacked would be taken for clay.
        """
        is_there = np.isfinite(height)
        x, y = np.meshgrid(self.first, self.second, indexing="ij")
        flat = np.stack([x[is_there], y[is_there]], axis=1)
        mesh = TriMesh(flat @ self.axes - height[is_there][:, None] * self.press, _grid_faces(is_there))
        sheet = with_border(mesh.submesh(np.ones(len(mesh.faces), dtype=bool)), base, self.press, self.step_mm)
        is_below = partial(self._is_below, np.where(is_there, self.base_mm, np.nan))
        return joined([sheet, rest_of_base(base, sheet, is_below, self.press, self.step_mm)])

    def _is_below(self, level: Float, points: Float) -> Bool:
        """Return which points, (k, 3), belong to what is seen of the base; its levels, (nx, ny), are NaN beside it."""
        corner = (level[:-1, :-1], level[1:, :-1], level[:-1, 1:], level[1:, 1:])
        lowest = np.min(corner, axis=0)  # NaN where one is
        flat = points @ self.axes.T
        x, y = (np.floor((flat[:, k] - ends[0]) / self.step_mm) for k, ends in ((0, self.first), (1, self.second)))
        is_over = (x >= 0) & (x < lowest.shape[0]) & (y >= 0) & (y < lowest.shape[1])
        found = np.full(len(points), np.nan)
        found[is_over] = lowest[x[is_over].astype(int), y[is_over].astype(int)]
        return np.asarray(points @ -self.press > found - self.step_mm)

    def coarser(self) -> ClayBed:
        """Return every second row and column of it."""
        return ClayBed(
            self.press, self.axes, self.first[::2], self.second[::2], self.base_mm[::2, ::2], self.top_mm[::2, ::2]
        )

    def seen_below(self, body: TriMesh) -> tuple[Float, Bool]:
        """Return how high the body's lowest place lies over each place of the clay, (n,), mm, and if it looks down.

        Infinite where no body is seen; looking down is False where its inside is seen.
        """
        up = -self.press
        low = float((body.vertices @ up).min()) - 10.0
        start = self.flat @ self.axes + low * up
        face, place = NearestSurface(body).first_hit(start, np.broadcast_to(up, start.shape))
        hit = np.einsum("ij,ijk->ik", place, body.vertices[body.faces[np.maximum(face, 0)]])
        height = np.where(face >= 0, hit @ up, np.inf)
        return height, (face >= 0) & (body.face_normals[np.maximum(face, 0)] @ self.press > 0.0)


def lay_clay(base: TriMesh, press: Float, thickness_mm: float) -> ClayBed:
    """Return clay of one thickness, measured along the press direction, on all of the base that looks to the body.

    The base, mm, may be open. Holes of its scan narrower than the clay is thick are bridged, its sides stay bare.

    Raises InputError where the base has no side for clay to lie on.
    """
    up = -press
    across = np.cross(press, np.eye(3)[int(np.argmin(np.abs(press)))])
    across /= np.linalg.norm(across)
    axes = np.stack([across, np.cross(press, across)])
    flat = base.vertices @ axes.T
    low, high = flat.min(axis=0), flat.max(axis=0)
    step = max(averaging_width_of(base), float(np.sqrt(np.prod(high - low) / MOST_PLACES)))
    first, second = (np.arange(low[i] - step, high[i] + 2.0 * step, step) for i in range(2))
    x, y = np.meshgrid(first, second, indexing="ij")
    top = float((base.vertices @ up).max()) + 10.0
    start = np.stack([x.ravel(), y.ravel()], axis=1) @ axes + top * up
    face, place = NearestSurface(base).first_hit(start, np.broadcast_to(press, start.shape))
    hit = np.einsum("ij,ijk->ik", place, base.vertices[base.faces[np.maximum(face, 0)]]) @ up
    level = _bridged(np.where(face >= 0, hit, np.nan).reshape(x.shape), thickness_mm / step)
    smooth = _smoothed(level)
    is_clay = _where_clay_stays(smooth, step)
    if np.count_nonzero(is_clay) < 100:
        raise InputError(
            "The base has no side that looks to the body for clay to lie on.",
            hint="Check body.press_direction: it runs from the body into the base, in the base file's axes.",
        )
    return ClayBed(press, axes, first, second, level, np.where(is_clay, smooth + thickness_mm, np.nan))


def _bridged(level: Float, across: float) -> Float:
    """Return heights with the gaps closed that are narrower than so many places, from what lies beside them."""
    is_seen = np.isfinite(level)
    reach = int(np.ceil(0.5 * across)) + 1
    wide = np.pad(is_seen, reach)
    reach_of = ndimage.distance_transform_edt(~wide)
    grown = np.asarray(reach_of <= 0.5 * across)
    is_closed = np.asarray(ndimage.distance_transform_edt(grown) > 0.5 * across)[reach:-reach, reach:-reach]
    is_new = is_closed & ~is_seen
    if not is_new.any() or not is_seen.any():
        return level
    nearest = ndimage.distance_transform_edt(~is_seen, return_distances=False, return_indices=True)
    filled = ndimage.gaussian_filter(level[tuple(nearest)], max(0.25 * across, 1.0))
    return np.where(is_new, filled, level)


def _smoothed(level: Float) -> Float:
    """Return heights without the scan's noise, averaged with what is seen within about two places."""
    is_seen = np.isfinite(level)
    weight = ndimage.gaussian_filter(is_seen.astype(np.float64), 1.0)
    mean = ndimage.gaussian_filter(np.where(is_seen, level, 0.0), 1.0)
    return np.where(is_seen, mean / np.maximum(weight, 1e-9), np.nan)


def _where_clay_stays(level: Float, step: float) -> Bool:
    is_seen = np.isfinite(level)
    if not is_seen.any():
        return is_seen
    nearest = ndimage.distance_transform_edt(~is_seen, return_distances=False, return_indices=True)
    slope = np.hypot(*np.gradient(level[tuple(nearest)], step))
    is_even = is_seen & (slope < _STEEPEST)
    # Off the edge by two places, so that the clay's wall stands on the base.
    inside = np.asarray(ndimage.distance_transform_edt(np.pad(is_even, 1)))[1:-1, 1:-1] > 2.0
    piece, count = ndimage.label(inside)
    size = np.bincount(piece.ravel(), minlength=count + 1)
    size[0] = 0
    return np.asarray(inside & (size >= _LEAST_PIECE_SHARE * size.sum())[piece])


def _grid_faces(is_there: Bool) -> Int:
    """Return two triangles for each square of places that are all there, numbered among those that are."""
    number = np.cumsum(is_there.ravel()).reshape(is_there.shape) - 1
    whole = is_there[:-1, :-1] & is_there[1:, :-1] & is_there[:-1, 1:] & is_there[1:, 1:]
    a, b, c, d = (corner[whole] for corner in (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]))
    faces: NDArray[np.int64] = np.concatenate([np.stack([a, c, b], axis=1), np.stack([a, d, c], axis=1)])
    return faces.astype(np.int32)
