"""Triangles to pixels: a z-buffer and a PNG writer in numpy and the standard library."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..base.mesh import Float, Int

_CANDIDATES = 1_000_000
"""Pixels tried at a time: about 150 MB of work space."""

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


def rasterize(points: Float, faces: Int, width: int, height: int) -> Raster:
    """Return which face each pixel shows.

    Points, (n, 3), have x to the right and y down in pixels (pixel centers at .5), depth towards the eye.

    Notes
    -----
    Edge functions after Pineda 1988, "A parallel algorithm for polygon rasterization", doi 10.1145/54852.378457; a
    pixel belongs to the nearest face that covers its center (z-buffer). Tried are the pixels of each row between the
    face's sides: the box around a long thin face holds a hundred times as many.
    """
    x, y, depth = (np.ascontiguousarray(column)[faces.T] for column in points.T)  # (3, m) each
    low_x, high_x = _pixels_between(x, width)
    low_y, high_y = _pixels_between(y, height)
    chosen = np.flatnonzero((high_x >= low_x) & (high_y >= low_y))
    nearest = np.maximum(np.maximum(depth[0], depth[1]), depth[2])
    chosen = chosen[np.argsort(-nearest[chosen], kind="stable")]  # from the front
    x, y, depth = (each[:, chosen] for each in (x, y, depth))
    low_x, high_x, low_y, high_y = (each[chosen] for each in (low_x, high_x, low_y, high_y))
    twice = (x[1] - x[0]) * (y[2] - y[0]) - (y[1] - y[0]) * (x[2] - x[0])
    # Widths at rows one apart add up to the area and the greatest width at most; each row has a pixel more at its ends.
    tries = np.cumsum(np.abs(twice) / 2.0 + (high_x - low_x + 1) + 2 * (high_y - low_y + 1))
    shown = np.full(width * height, -1, dtype=np.int32)
    depths = np.full(width * height, -np.inf)
    weights = np.zeros((width * height, 3), dtype=np.float32)
    begin = 0
    while begin < len(chosen):
        done = tries[begin - 1] if begin else 0
        end = max(begin + 1, int(np.searchsorted(tries, done + _CANDIDATES, side="right")))
        part = slice(begin, end)
        owner, column, row = _tried(x[:, part], y[:, part], low_x[part], high_x[part], low_y[part], high_y[part])
        pixel = row * width + column
        planes = _planes(x[:, part], y[:, part], depth[:, part], twice[part])
        near = _at(planes[2], owner, column, row)
        is_new = near > depths[pixel]  # what is drawn already hides most of what lies further back
        owner, column, row, pixel, near = (each[is_new] for each in (owner, column, row, pixel, near))
        first, second = _at(planes[0], owner, column, row), _at(planes[1], owner, column, row)
        third = 1.0 - first - second
        inside = np.flatnonzero((first >= 0) & (second >= 0) & (third >= 0))  # false for the nan of a face on edge
        inside = inside[np.argsort(near[inside], kind="stable")]
        # Written from the back: of all that fall on a pixel the last, the nearest, stays.
        at = pixel[inside]
        shown[at] = chosen[begin + owner[inside]]
        depths[at] = near[inside]
        for corner, weight in enumerate((first, second, third)):
            weights[at, corner] = weight[inside]
        begin = end
    shape = (height, width)
    return Raster(shown.reshape(shape), weights.reshape(*shape, 3), depths.astype(np.float32).reshape(shape))


def _pixels_between(place: Float, count: int) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Return the first and last of `count` pixels whose centers lie between the corners of faces, (3, m), (m,) each."""
    low = np.minimum(np.minimum(place[0], place[1]), place[2])
    high = np.maximum(np.maximum(place[0], place[1]), place[2])
    first = np.clip(np.ceil(low - 0.5), 0, count)
    last = np.clip(np.floor(high - 0.5), -1, count - 1)
    return first.astype(np.int32), last.astype(np.int32)


def _tried(
    x: Float,
    y: Float,
    low_x: NDArray[np.int32],
    high_x: NDArray[np.int32],
    low_y: NDArray[np.int32],
    high_y: NDArray[np.int32],
) -> tuple[Int, Int, Int]:
    """Return the pixels in which faces, (3, m), may be seen within their boxes, (m,) each: face, column, row, (k,)."""
    count = high_y - low_y + 1
    owner = np.repeat(np.arange(len(count), dtype=np.int32), count)
    row = np.arange(len(owner), dtype=np.int32) - np.repeat(np.cumsum(count, dtype=np.int32) - count - low_y, count)
    left, right = np.full(len(owner), np.inf), np.full(len(owner), -np.inf)
    middle = row + 0.5
    for one, two in ((0, 1), (1, 2), (2, 0)):
        rise = y[two] - y[one]
        # A level side ends at the two others.
        share = (middle - y[one][owner]) * np.divide(1.0, rise, out=np.full_like(rise, np.nan), where=rise != 0)[owner]
        place = x[one][owner] + share * (x[two] - x[one])[owner]
        is_off = ~((share >= -_ROUNDING) & (share <= 1.0 + _ROUNDING))
        place[is_off] = np.inf
        np.minimum(left, place, out=left)
        place[is_off] = -np.inf
        np.maximum(right, place, out=right)
    # Widened against rounding; which pixels are in is decided by the edge functions.
    first = np.clip(np.ceil(left - 0.5 - _ROUNDING), low_x[owner], high_x[owner] + 1).astype(np.int32)
    last = np.clip(np.floor(right - 0.5 + _ROUNDING), low_x[owner] - 1, high_x[owner]).astype(np.int32)
    wide = np.maximum(last - first + 1, 0)
    column = np.arange(wide.sum(), dtype=np.int32) - np.repeat(np.cumsum(wide, dtype=np.int32) - wide - first, wide)
    return np.repeat(owner, wide), column, np.repeat(row, wide)


def _at(plane: tuple[Float, Float, Float], owner: Int, column: Int, row: Int) -> Float:
    """Return what planes, (m,) each, give at the centers of their pixels, (k,)."""
    start, across, down = plane
    return np.asarray(start[owner] + across[owner] * (column + 0.5) + down[owner] * (row + 0.5))


def _planes(x: Float, y: Float, depth: Float, twice: Float) -> tuple[tuple[Float, Float, Float], ...]:
    """Return the planes, c + x + y, that give weight 0, weight 1 and depth at a pixel of faces, (3, m).

    `twice` their signed area, (m,).
    """
    scale = np.divide(1.0, twice, out=np.full_like(twice, np.nan), where=twice != 0)
    first = ((x[1] * y[2] - y[1] * x[2]) * scale, (y[1] - y[2]) * scale, (x[2] - x[1]) * scale)
    second = ((x[2] * y[0] - y[2] * x[0]) * scale, (y[2] - y[0]) * scale, (x[0] - x[2]) * scale)
    one, two = depth[0] - depth[2], depth[1] - depth[2]
    start, across, down = (of_one * one + of_two * two for of_one, of_two in zip(first, second, strict=True))
    return first, second, (start + depth[2], across, down)


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
