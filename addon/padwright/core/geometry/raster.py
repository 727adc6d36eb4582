"""Triangles to pixels: a z-buffer and a PNG writer in numpy and the standard library."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ..base.mesh import Bool, Float, Int

_AT_A_TIME = 1 << 17
"""Faces: about 60 MB of work space."""

_TRIED = 1 << 15
"""Pixels at a time: what is worked out for them stays near the processor (own measurement)."""

_SMALL = 8
"""Pixels a side of the box around a face up to which all of them are tried (own measurement)."""

_ROUNDING = 1e-3
"""Pixels: by how much a row is tried beyond a face's sides; places on the screen are good to a millionth."""


@dataclass(frozen=True, eq=False)
class Raster:
    """What each pixel shows."""

    face: Int  # (h, w); index of the face, -1 where there is none
    weights: NDArray[np.float32]  # (h, w, 3); barycentric weights of its corners
    depth: NDArray[np.float32]  # (h, w); greater is nearer; -inf where there is no face

    @property
    def is_hit(self) -> NDArray[np.bool_]:
        """Pixels that show a face, (h, w)."""
        return self.face >= 0


def rasterize(points: Float, faces: Int, width: int, height: int, *, is_one_sided: bool = False) -> Raster:
    """Return which face each pixel shows.

    Points, (n, 3), have x to the right and y down in pixels (pixel centers at .5), depth towards the eye. With
    `is_one_sided` faces are seen from their outside alone: of a closed surface, where the others are hidden, in half
    the time.

    Notes
    -----
    Edge functions after Pineda 1988, "A parallel algorithm for polygon rasterization", doi 10.1145/54852.378457; a
    pixel belongs to the nearest face that covers its center (z-buffer). Of small faces all pixels of the boxes around
    them are tried, boxes of one size together; of large ones the pixels of each row between the face's sides: the box
    around a long thin face holds a hundred times as many.
    """
    canvas = _Canvas(width, height)
    columns = [np.ascontiguousarray(column) for column in points.T]
    for begin in range(0, len(faces), _AT_A_TIME):
        corner = faces[begin : begin + _AT_A_TIME].T
        index = np.arange(begin, begin + corner.shape[1])
        x, y = (column[corner] for column in columns[:2])
        if is_one_sided:
            some = np.flatnonzero(_twice(x, y) < 0.0)  # y runs down
            index, x, y, corner = index[some], x.take(some, axis=1), y.take(some, axis=1), corner[:, some]
        for part in _by_size(index, x, y, columns[2][corner], width, height):
            canvas.draw(part)
    return canvas.raster()


@dataclass(frozen=True, eq=False)
class _Faces:
    """Faces around the centers of pixels; their places are told from the first pixel of the box around each."""

    index: Int  # (m,)
    x: Float  # (3, m) each
    y: Float
    depth: Float
    first: Int  # (m,); the box's first pixel, counted row by row
    # (m,), pixels: sides of the boxes.
    wide: Int
    tall: Int

    def __getitem__(self, some: slice) -> _Faces:
        return _Faces(*(each[..., some] for each in vars(self).values()))

    @property
    def is_small(self) -> Bool:
        """Those of which all pixels of their boxes are tried, (m,)."""
        return (self.wide <= _SMALL) & (self.tall <= _SMALL)

    def tries(self) -> Float:
        """Return at how many pixels each is tried, (m,), at most."""
        # Widths at rows one apart add up to area and greatest width at most; each row has a pixel more at its ends.
        in_rows = np.abs(_twice(self.x, self.y)) / 2.0 + self.wide + 2 * self.tall
        return np.where(self.is_small, self.wide * self.tall, in_rows)

    def weights(self) -> tuple[tuple[Float, Float, Float], tuple[Float, Float, Float]]:
        """Return the first two corners' weights: at the first pixel, and how they grow across and down, (m,) each."""
        (ax, bx, cx), (ay, by, cy) = self.x, self.y
        twice = _twice(self.x, self.y)
        scale = np.divide(1.0, twice, out=np.full_like(twice, np.nan), where=twice != 0)  # nan: seen on edge
        one = (bx * cy - by * cx) * scale, (by - cy) * scale, (cx - bx) * scale
        two = (cx * ay - cy * ax) * scale, (cy - ay) * scale, (ax - cx) * scale
        return one, two


def _twice(x: Float, y: Float) -> Float:
    """Return twice the area of faces, (m,), of the places of their corners, (3, m): negative if these run leftwards."""
    return np.asarray((x[1] - x[0]) * (y[2] - y[0]) - (y[1] - y[0]) * (x[2] - x[0]))


def _by_size(index: Int, x: Float, y: Float, depth: Float, width: int, height: int) -> Iterator[_Faces]:
    """Yield those of faces, (3, m) each, that may be seen: small ones with boxes of one size, then all large ones."""
    low_x, wide = _pixels_between(x, width)
    low_y, tall = _pixels_between(y, height)
    is_small = (wide <= _SMALL) & (tall <= _SMALL)
    large = _SMALL * (_SMALL + 1) + 1
    size = np.where((wide > 0) & (tall > 0), np.where(is_small, wide * _SMALL + tall, large), 0).astype(np.uint8)
    order = np.argsort(size, kind="stable")
    ends = np.cumsum(np.bincount(size, minlength=large + 1))
    order, ends = order[ends[0] :], ends - ends[0]
    x, y, depth = (each.take(order, axis=1) for each in (x - (low_x + 0.5), y - (low_y + 0.5), depth))
    faces = _Faces(index[order], x, y, depth, (low_y * width + low_x)[order], wide[order], tall[order])
    tries = np.cumsum(faces.tries())
    for begin, end in pairwise(ends):
        while begin < end:
            most = tries[begin] + _TRIED
            until = min(max(begin + 1, int(np.searchsorted(tries, most))), end)
            yield faces[begin:until]
            begin = until


def _pixels_between(place: Float, count: int) -> tuple[Int, Int]:
    """Return the first of `count` pixels whose centers lie between the corners of faces, (3, m), and how many; (m,)."""
    low = np.minimum(np.minimum(place[0], place[1]), place[2])
    high = np.maximum(np.maximum(place[0], place[1]), place[2])
    first = np.clip(np.ceil(low - 0.5), 0, count)
    last = np.clip(np.floor(high - 0.5), -1, count - 1)
    return first.astype(np.int32), (last - first + 1).astype(np.int32)


class _Canvas:
    """The pixels as far as they are drawn."""

    def __init__(self, width: int, height: int) -> None:
        self._width, self._height = width, height
        self._face = np.full(width * height, -1, dtype=np.int32)
        self._depth = np.full(width * height, -np.inf)
        self._weights = np.zeros((width * height, 3), dtype=np.float32)

    def draw(self, faces: _Faces) -> None:
        """Draw faces where nothing nearer is."""
        is_one_size = faces.wide.max() <= _SMALL and faces.tall.max() <= _SMALL
        owner, column, row, first, second = _in_boxes(faces) if is_one_size else _in_rows(faces)
        pixel = faces.first[owner] + row * self._width + column
        one, two, far = faces.depth[0] - faces.depth[2], faces.depth[1] - faces.depth[2], faces.depth[2]
        near = far[owner] + first * one[owner] + second * two[owner]
        chosen = left = np.flatnonzero(near > self._depth[pixel]).astype(np.int32)
        # Of several on one pixel the last stays; those nearer than it are then written again.
        while len(left):
            at = pixel[left]
            self._face[at] = left
            left = left[near[left] > near[self._face[at]]]
        chosen = chosen[self._face[pixel[chosen]] == chosen]
        at, owner, first, second = (each[chosen] for each in (pixel, owner, first, second))
        self._face[at] = faces.index[owner]
        self._depth[at] = near[chosen]
        for corner, weight in enumerate((first, second, 1.0 - first - second)):
            self._weights[at, corner] = weight

    def raster(self) -> Raster:
        """Return what is drawn."""
        shape = (self._height, self._width)
        return Raster(
            self._face.reshape(shape), self._weights.reshape(*shape, 3), self._depth.reshape(shape).astype(np.float32)
        )


def _in_boxes(faces: _Faces) -> tuple[Int, Int, Int, Float, Float]:
    """Return the pixels that faces with boxes of one size cover: face, column, row and two weights, (k,) each."""
    wide, tall = int(faces.wide[0]), int(faces.tall[0])
    row, column = (each.ravel() for each in np.mgrid[:tall, :wide])
    first, second = (
        start + np.multiply.outer(column, across) + np.multiply.outer(row, down)
        for start, across, down in faces.weights()
    )
    is_in = _is_within(first, second)
    place, owner = np.nonzero(is_in)
    return owner, column[place], row[place], first[is_in], second[is_in]


def _is_within(first: Float, second: Float) -> Bool:
    """Say where no weight is negative: neither of two, nor the third; nowhere in a face that is seen on edge."""
    return np.asarray(np.minimum(np.minimum(first, second), 1.0 - first - second) >= 0.0)


def _in_rows(faces: _Faces) -> tuple[Int, Int, Int, Float, Float]:
    """Return the pixels that faces cover, looked for row by row: as `_in_boxes`."""
    owner = np.repeat(np.arange(len(faces.tall)), faces.tall)
    row = np.arange(len(owner)) - np.repeat(np.cumsum(faces.tall) - faces.tall, faces.tall)
    left, right = np.full(len(owner), np.inf), np.full(len(owner), -np.inf)
    for one, two in ((0, 1), (1, 2), (2, 0)):
        rise = faces.y[two] - faces.y[one]
        # A level side ends at the two others.
        share = np.divide(1.0, rise, out=np.full_like(rise, np.nan), where=rise != 0)[owner]
        share *= row - faces.y[one][owner]
        place = faces.x[one][owner] + share * (faces.x[two] - faces.x[one])[owner]
        is_off = ~((share >= -_ROUNDING) & (share <= 1.0 + _ROUNDING))
        place[is_off] = np.inf
        np.minimum(left, place, out=left)
        place[is_off] = -np.inf
        np.maximum(right, place, out=right)
    # Widened against rounding; which pixels are in is decided by the weights.
    begin = np.clip(np.ceil(left - _ROUNDING), 0, faces.wide[owner]).astype(np.int64)
    end = np.clip(np.floor(right + _ROUNDING), -1, faces.wide[owner] - 1).astype(np.int64)
    count = np.maximum(end - begin + 1, 0)
    column = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count - begin, count)
    owner, row = np.repeat(owner, count), np.repeat(row, count)
    first, second = (
        start[owner] + across[owner] * column + down[owner] * row for start, across, down in faces.weights()
    )
    chosen = np.flatnonzero(_is_within(first, second))
    return owner[chosen], column[chosen], row[chosen], first[chosen], second[chosen]


def png_bytes(pixels: NDArray[np.uint8]) -> bytes:
    """Return an RGB picture, (h, w, 3) uint8, as PNG (W3C Portable Network Graphics, second edition, 2003)."""
    height, width, _ = pixels.shape
    left = np.zeros_like(pixels)
    left[:, 1:] = pixels[:, :-1]
    rows = np.ones((height, 1 + 3 * width), dtype=np.uint8)  # filter 1 (Sub) in front of every row
    rows[:, 1:] = (pixels - left).reshape(height, -1)
    header = width.to_bytes(4, "big") + height.to_bytes(4, "big") + bytes([8, 2, 0, 0, 0])
    chunks = [(b"IHDR", header), (b"sRGB", b"\0"), (b"IDAT", zlib.compress(rows.tobytes(), 6)), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big") for kind, data in chunks
    )
