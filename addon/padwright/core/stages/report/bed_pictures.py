"""The part as it lies on the bed: seen from below with what needs support, and from above with its regions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, find_objects

from ...base.mesh import Bool, Float, Int, TriMesh, joined
from ...base.rows import bounds_of
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
    supported, lies = needs_support(mesh, to_bed[2, :3])
    frame = _BedFrame.around(mesh, to_bed, is_from_below=True)
    raster = frame.raster
    hit = raster.is_hit
    face = raster.face[hit]
    palette = np.stack([linear(FREE), linear(ON_BED), linear(SUPPORTED)])
    kind = np.where(supported, 2, np.where(lies, 1, 0))
    image = frame.blank()
    image[hit] = palette[kind[face]] * frame.light(face)[:, None]
    row, column = np.nonzero(hit)
    is_line = (kind[face] == 2) & ((row + column) % _HATCH_PX < 4)
    image[row[is_line], column[is_line]] *= 0.35
    return frame.picture(_outlined(image, np.where(hit, 0, -1)))


def from_above(bodies: Sequence[RegionBody], colors: Sequence[str], to_bed: Float) -> BedPicture:
    """Return the regions from above as they lie on the bed, with a place for a number on each that is seen."""
    owner = np.repeat(np.arange(len(bodies)), [len(body.faces) for body in bodies])
    frame = _BedFrame.around(joined([body.mesh for body in bodies]), to_bed, is_from_below=False)
    raster = frame.raster
    hit = raster.is_hit
    face = raster.face[hit]
    palette = np.stack([linear(color) for color in colors])
    image = frame.blank()
    image[hit] = palette[owner[face]] * frame.light(face)[:, None]
    body = np.full(hit.shape, -1, dtype=np.int32)
    body[hit] = owner[face]
    return frame.picture(_outlined(image, body), _labels(body))


@dataclass(frozen=True, eq=False)
class _BedFrame:
    """A mesh as it lies on the bed, and how it is seen there: pixels a mm, and size of the picture."""

    mesh: TriMesh
    turn: Float  # (3, 3); from the mesh's frame to that of the picture: right, up on the page, to the eye
    scale: float
    width: int
    height: int
    raster: Raster

    @staticmethod
    def around(mesh: TriMesh, to_bed: Float, *, is_from_below: bool) -> _BedFrame:
        across = np.array([-1.0, 1.0, -1.0] if is_from_below else [1.0, 1.0, 1.0])
        places = across * moved(to_bed, mesh.vertices)
        low, high = bounds_of(places)
        size = (high - low)[:2] + 2.0 * _MARGIN_MM
        scale = min(_PIXELS_PER_MM, _MOST_PIXELS / float(size.max()))
        wide, tall = (int(np.ceil(scale * side)) for side in size)
        x = (places[:, 0] - (low[0] - _MARGIN_MM)) * scale
        y = (high[1] + _MARGIN_MM - places[:, 1]) * scale
        raster = rasterize(np.column_stack([x, y, places[:, 2]]), mesh.faces, wide, tall, is_one_sided=True)
        return _BedFrame(mesh, across[:, None] * to_bed[:3, :3], scale, wide, tall, raster)

    def light(self, face: Int) -> Float:
        """Return how bright pixels are that show faces, (k,)."""
        normal = self.mesh.face_normals @ self.turn.T
        return np.clip(0.45 + 0.55 * matte(normal, np.array([0.0, 0.0, 1.0])), 0.0, 1.0)[face]

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


def _labels(body: NDArray[np.integer]) -> tuple[tuple[int, float, float], ...]:
    """Return where each body that is seen has most room around it in the picture."""
    found = []
    for index, box in enumerate(find_objects(body + 1)):
        if box is None:
            continue
        depth = distance_transform_edt(np.pad(body[box] == index, 1))[1:-1, 1:-1]
        if depth.max() >= _LEAST_LABELED_PX:
            y, x = np.unravel_index(int(depth.argmax()), depth.shape)
            found.append((index, float(box[1].start + x) + 0.5, float(box[0].start + y) + 0.5))
    return tuple(found)
