"""The part as it lies on the bed: seen from below with what needs support, and from above with its regions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from ...base.mesh import Bool, Float, Int, TriMesh, joined
from ...geometry.frames import moved
from ...geometry.raster import Raster, png_bytes, rasterize
from ..packing.shading import encoded, linear, matte
from ..printing.orientation import needs_support
from ..regions.bodies import RegionBody

SUPPORTED, ON_BED, FREE = "#E08A2E", "#4A5560", "#DDDFE2"
"""Colors of what needs support, what lies on the bed, and the rest; hatching tells the first on gray paper."""

_PIXELS_PER_MM = 8.0  # at most
_MOST_PIXELS = 640
_MARGIN_MM = 3.0
_HATCH_PX = 16
"""Pixels from one line of the hatching to the next."""
_LEAST_LABELED_PX = 3.0
"""Half width of a region below which no number fits into it."""


@dataclass(frozen=True, eq=False)
class BedPicture:
    """A picture of the part along the upright of the bed, its front edge below."""

    png: bytes
    width: int  # pixels
    height: int
    pixels_per_mm: float
    labels: tuple[tuple[int, float, float], ...] = ()  # (index of the body, x, y) of each that is seen, pixels


def from_below(mesh: TriMesh, to_bed: Float) -> BedPicture:
    """Return the underside, as one sees it who lifts the part off the bed: the bed's left is on the right.

    Parameters
    ----------
    mesh : TriMesh
        The part's outside, in the part frame.
    to_bed : (4, 4) float
    """
    on_bed = TriMesh(moved(to_bed, mesh.vertices), mesh.faces)
    supported, lies = needs_support(on_bed, np.array([0.0, 0.0, 1.0]))
    frame = _BedFrame.around(on_bed.vertices, is_from_below=True)
    raster = frame.seen(on_bed)
    hit = raster.is_hit
    face = raster.face[hit]
    palette = np.stack([linear(FREE), linear(ON_BED), linear(SUPPORTED)])
    kind = np.where(supported, 2, np.where(lies, 1, 0))
    image = frame.blank()
    image[hit] = palette[kind[face]] * frame.light(on_bed, face)[:, None]
    row, column = np.nonzero(hit)
    is_line = (kind[face] == 2) & ((row + column) % _HATCH_PX < 4)
    image[row[is_line], column[is_line]] *= 0.35
    return frame.picture(_outlined(image, np.where(hit, 0, -1)))


def from_above(bodies: Sequence[RegionBody], colors: Sequence[str], to_bed: Float) -> BedPicture:
    """Return the regions from above as they lie on the bed, with a place for a number on each that is seen."""
    owner = np.repeat(np.arange(len(bodies)), [len(body.faces) for body in bodies])
    mesh = joined([body.mesh for body in bodies])
    on_bed = TriMesh(moved(to_bed, mesh.vertices), mesh.faces)
    frame = _BedFrame.around(on_bed.vertices, is_from_below=False)
    raster = frame.seen(on_bed)
    hit = raster.is_hit
    face = raster.face[hit]
    palette = np.stack([linear(color) for color in colors])
    image = frame.blank()
    image[hit] = palette[owner[face]] * frame.light(on_bed, face)[:, None]
    body = np.where(hit, owner[raster.face], -1)
    return frame.picture(_outlined(image, body), _labels(body, len(bodies)))


@dataclass(frozen=True)
class _BedFrame:
    """Where the bed lies in a picture: pixels a mm, and the corner (mm) that is its upper left."""

    scale: float
    left: float
    upper: float
    width: int
    height: int
    is_from_below: bool

    @staticmethod
    def around(points: Float, *, is_from_below: bool) -> _BedFrame:
        low, high = points.min(axis=0) - _MARGIN_MM, points.max(axis=0) + _MARGIN_MM
        size = (high - low)[:2]
        scale = min(_PIXELS_PER_MM, _MOST_PIXELS / float(size.max()))
        wide, tall = (int(np.ceil(scale * side)) for side in size)
        return _BedFrame(scale, float(high[0] if is_from_below else low[0]), float(high[1]), wide, tall, is_from_below)

    @property
    def across(self) -> float:
        return -1.0 if self.is_from_below else 1.0

    def seen(self, mesh: TriMesh) -> Raster:
        x = self.across * (mesh.vertices[:, 0] - self.left) * self.scale
        y = (self.upper - mesh.vertices[:, 1]) * self.scale
        # Of a closed surface what faces away is hidden: half the work.
        facing = np.flatnonzero(self.across * mesh.face_normals[:, 2] > 0.0)
        places = np.column_stack([x, y, self.across * mesh.vertices[:, 2]])
        found = rasterize(places, mesh.faces[facing], self.width, self.height)
        return replace(found, face=np.where(found.is_hit, facing[found.face], -1))

    def light(self, mesh: TriMesh, face: Int) -> Float:
        normal = mesh.face_normals[face] * [self.across, 1.0, self.across]
        return np.clip(0.45 + 0.55 * matte(normal, np.array([0.0, 0.0, 1.0])), 0.0, 1.0)

    def blank(self) -> Float:
        return np.ones((self.height, self.width, 3))

    def picture(self, image: Float, labels: tuple[tuple[int, float, float], ...] = ()) -> BedPicture:
        return BedPicture(png_bytes(encoded(image)), self.width, self.height, self.scale, labels)


def _outlined(image: Float, body: NDArray[np.integer]) -> Float:
    """Return the picture with a dark line wherever the body that is seen changes."""
    edge: Bool = np.zeros(body.shape, dtype=bool)
    edge[1:] |= body[1:] != body[:-1]
    edge[:, 1:] |= body[:, 1:] != body[:, :-1]
    return np.where(edge[:, :, None], 0.05, image)


def _labels(body: NDArray[np.integer], count: int) -> tuple[tuple[int, float, float], ...]:
    """Return where each body has most room around it in the picture."""
    found = []
    for index in range(count):
        inside = np.pad(body == index, 1)
        depth = distance_transform_edt(inside)[1:-1, 1:-1]
        if depth.max() >= _LEAST_LABELED_PX:
            y, x = np.unravel_index(int(depth.argmax()), depth.shape)
            found.append((index, float(x) + 0.5, float(y) + 0.5))
    return tuple(found)
