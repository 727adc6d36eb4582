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
    corner = points[faces]
    low = np.ceil(corner[:, :, :2].min(axis=1) - 0.5).astype(np.int64)
    high = np.floor(corner[:, :, :2].max(axis=1) - 0.5).astype(np.int64)
    low = np.maximum(low, 0)
    high = np.minimum(high, [width - 1, height - 1])
    span = high - low + 1
    chosen = np.flatnonzero((span > 0).all(axis=1))
    chosen = chosen[np.argsort(-corner[chosen, :, 2].max(axis=1), kind="stable")]  # from the front
    # Widths at rows one apart add up to the area and the greatest width at most; each row has a pixel more at its ends.
    tries = np.cumsum(np.abs(_twice_area(corner[chosen])) / 2.0 + span[chosen, 0] + 2 * span[chosen, 1])
    face = np.full(width * height, -1, dtype=np.int32)
    depth = np.full(width * height, -np.inf)
    weights = np.zeros((width * height, 3), dtype=np.float32)
    begin = 0
    while begin < len(chosen):
        done = tries[begin - 1] if begin else 0
        end = max(begin + 1, int(np.searchsorted(tries, done + _CANDIDATES, side="right")))
        part = chosen[begin:end]
        owner, x, y = _tried(corner[part, :, :2], low[part], high[part])
        pixel = y * width + x
        plane = _planes(corner[part])
        near = _at(plane[:, 2], owner, x, y)
        is_new = near > depth[pixel]  # what is drawn already hides most of what lies further back
        owner, x, y, pixel, near = owner[is_new], x[is_new], y[is_new], pixel[is_new], near[is_new]
        first, second = _at(plane[:, 0], owner, x, y), _at(plane[:, 1], owner, x, y)
        third = 1.0 - first - second
        inside = (first >= 0) & (second >= 0) & (third >= 0)  # false for the nan of a face seen from its edge
        owner, pixel, near = owner[inside], pixel[inside], near[inside]
        bary = np.stack([first[inside], second[inside], third[inside]], axis=1)
        order = np.lexsort((near, pixel))
        best = order[np.append(np.diff(pixel[order]) > 0, True)] if len(order) else order
        face[pixel[best]] = part[owner[best]]
        depth[pixel[best]] = near[best]
        weights[pixel[best]] = bary[best]
        begin = end
    shape = (height, width)
    return Raster(face.reshape(shape), weights.reshape(*shape, 3), depth.astype(np.float32).reshape(shape))


def _tried(corner: Float, low: NDArray[np.int64], high: NDArray[np.int64]) -> tuple[NDArray[np.int64], ...]:
    """Return the pixels in which faces, (m, 3, 2), may be seen within their boxes, (m, 2) each: face, x and y, (k,)."""
    count = high[:, 1] - low[:, 1] + 1
    owner = np.repeat(np.arange(len(corner)), count)
    y = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count) + low[owner, 1]
    left, right = np.full(len(owner), np.inf), np.full(len(owner), -np.inf)
    for one, two in ((0, 1), (1, 2), (2, 0)):
        start, end = corner[owner, one], corner[owner, two]
        rise, up = end[:, 1] - start[:, 1], y + 0.5 - start[:, 1]
        # A level side ends at the two others.
        share = np.divide(up, rise, out=np.full_like(up, np.nan), where=rise != 0)
        place = start[:, 0] + share * (end[:, 0] - start[:, 0])
        is_crossed = (share >= 0.0) & (share <= 1.0)
        left = np.where(is_crossed, np.minimum(left, place), left)
        right = np.where(is_crossed, np.maximum(right, place), right)
    # Widened against rounding; which pixels are in is decided by the edge functions.
    first = np.clip(np.ceil(left - 0.5 - _ROUNDING), low[owner, 0], high[owner, 0] + 1).astype(np.int64)
    last = np.clip(np.floor(right - 0.5 + _ROUNDING), low[owner, 0] - 1, high[owner, 0]).astype(np.int64)
    width = np.maximum(last - first + 1, 0)
    x = np.arange(width.sum()) - np.repeat(np.cumsum(width) - width, width) + np.repeat(first, width)
    return np.repeat(owner, width), x, np.repeat(y, width)


def _at(plane: Float, owner: NDArray[np.int64], x: NDArray[np.int64], y: NDArray[np.int64]) -> Float:
    """Return what planes, (m, 3), give at the centers of their pixels, (k,)."""
    return np.asarray(plane[owner, 0] + plane[owner, 1] * (x + 0.5) + plane[owner, 2] * (y + 0.5))


def _twice_area(corner: Float) -> Float:
    a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
    return np.asarray((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0]))


def _planes(corner: Float) -> Float:
    """Return for each face the planes that give weight 0, weight 1 and depth at a pixel: (m, 3, 3), c + x, y."""
    a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
    area = _twice_area(corner)
    scale = np.divide(1.0, area, out=np.full_like(area, np.nan), where=area != 0)
    first = np.stack([b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0], b[:, 1] - c[:, 1], c[:, 0] - b[:, 0]], axis=1)
    second = np.stack([c[:, 0] * a[:, 1] - c[:, 1] * a[:, 0], c[:, 1] - a[:, 1], a[:, 0] - c[:, 0]], axis=1)
    first, second = first * scale[:, None], second * scale[:, None]
    depth = first * (a[:, 2] - c[:, 2])[:, None] + second * (b[:, 2] - c[:, 2])[:, None]
    depth[:, 0] += c[:, 2]
    return np.stack([first, second, depth], axis=1)


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
