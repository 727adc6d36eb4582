"""The colors of a scan's surface, at any place of it: of the picture's pixel there, or between its vertices'."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...base.cached import cached_property
from ...base.mesh import Bool, Float, Int
from .formats.painted import PaintedScan
from .pictures import read_picture

_MOST_SAMPLES = 6_000_000
"""Of a whole surface; more take long and tell no more."""
_MOST_CUTS = 200
"""Into so many parts a side of a triangle is cut at the most: a long sliver has little surface."""


@dataclass(frozen=True, eq=False)
class SurfaceColors:
    """A scan's triangles in some frame, and what gives their colors."""

    points: Float  # (n, 3)
    painted: PaintedScan

    @property
    def faces(self) -> Int:
        """As the scan has them, (m, 3)."""
        return self.painted.faces

    @cached_property
    def pictures(self) -> tuple[NDArray[np.uint8], ...]:
        """The pixels of each picture, (rows, columns, 3). Raises ScanError as `read_picture`."""
        return tuple(read_picture(each.data, each.name) for each in self.painted.pictures)

    @cached_property
    def is_colored(self) -> Bool:
        """Faces that have a color, (m,): that lie on a picture, or whose vertices have some."""
        if self.painted.colors is not None:
            return np.ones(len(self.faces), dtype=bool)
        if self.painted.picture_of is None:
            return np.zeros(len(self.faces), dtype=bool)
        return np.asarray(self.painted.picture_of >= 0)

    @cached_property
    def is_finite(self) -> Bool:
        """Faces whose corners are all finite places, (m,)."""
        return np.isfinite(self.points).all(axis=1)[self.faces].all(axis=1)

    def at(self, face: NDArray[np.integer], weights: Float) -> NDArray[np.uint8]:
        """Return the colors at places of faces that are colored, (k, 3), by their barycentric weights, (k, 3).

        A place on a picture has the color of the one pixel it lies in: mixed ones would be of neither color along a
        mark's edge, and of the picture's empty parts along the edges of its patches.
        """
        found = np.zeros((len(face), 3), dtype=np.uint8)
        picture = np.full(len(face), -1, dtype=np.int32)
        if self.painted.picture_of is not None:
            picture = self.painted.picture_of[face]
        for number, pixels in enumerate(self.pictures):
            here = np.flatnonzero(picture == number)
            if len(here):
                assert self.painted.on_picture is not None
                place = np.einsum("kc,kcd->kd", weights[here], self.painted.on_picture[face[here]])
                found[here] = _pixels_at(pixels, place)
        bare = np.flatnonzero(picture < 0)
        if len(bare) and self.painted.colors is not None:
            corner = self.painted.colors[self.faces[face[bare]], :3].astype(np.float64)
            found[bare] = np.rint(np.einsum("kc,kcd->kd", weights[bare], corner)).astype(np.uint8)
        return found

    def samples(self, step: float, is_wanted: Bool | None = None) -> ColorSamples:
        """Return places at most about `step` apart (or wider, where they would be millions) with their colors.

        Each face is cut into equal triangles, with a sample at the middle of each.

        Parameters
        ----------
        step : float
            In the units of the points.
        is_wanted : (m,) bool, optional
            Faces to sample; all by default.
        """
        is_usable = self.is_colored & self.is_finite
        chosen = np.flatnonzero(is_usable if is_wanted is None else is_usable & is_wanted)
        corner = self.points[self.faces[chosen]]
        side = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2).max(axis=1)
        area = 0.5 * np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1)
        step = max(step, float(np.sqrt(2.0 * area.sum() / _MOST_SAMPLES)))
        cuts = np.clip(np.ceil(side / step), 1, _MOST_CUTS).astype(np.int64)
        face, weights, share = [], [], []
        for count in np.unique(cuts):
            here = np.flatnonzero(cuts == count)
            middle = _middles(int(count))
            face.append(np.repeat(here, len(middle)))
            weights.append(np.tile(middle, (len(here), 1)))
            share.append(np.repeat(area[here] / len(middle), len(middle)))
        if not face:
            return ColorSamples(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.uint8), np.zeros(0))
        of, at = np.concatenate(face), np.concatenate(weights)
        places = np.einsum("kc,kcd->kd", at, corner[of])
        return ColorSamples(places, self.at(chosen[of], at), np.concatenate(share))


@dataclass(frozen=True, eq=False)
class ColorSamples:
    """Places of a surface with their colors."""

    points: Float  # (s, 3)
    colors: NDArray[np.uint8]  # (s, 3), sRGB
    areas: Float  # (s,); of the surface that each stands for


def _pixels_at(pixels: NDArray[np.uint8], place: Float) -> NDArray[np.uint8]:
    """Return the pixels at places, (k, 2) right and down, 0 to 1; beyond the picture begins again."""
    place = np.where((place >= 0.0) & (place <= 1.0), place, place - np.floor(place))
    high, wide = pixels.shape[:2]
    column = np.clip((place[:, 0] * wide).astype(np.int64), 0, wide - 1)
    row = np.clip((place[:, 1] * high).astype(np.int64), 0, high - 1)
    return np.asarray(pixels[row, column])


def _middles(count: int) -> Float:
    """Return the middles of the equal triangles that a triangle of `count` parts a side is cut into, barycentric."""
    first, second = (each.ravel() for each in np.meshgrid(np.arange(count), np.arange(count), indexing="ij"))
    upright = first + second < count
    turned = first + second < count - 1
    ends = np.concatenate(
        [
            np.stack([first[upright], second[upright]], axis=1) + 1.0 / 3.0,
            np.stack([first[turned], second[turned]], axis=1) + 2.0 / 3.0,
        ]
    )
    ends = ends / count
    return np.concatenate([1.0 - ends.sum(axis=1, keepdims=True), ends], axis=1)
