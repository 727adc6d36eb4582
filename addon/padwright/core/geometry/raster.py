"""Triangles to pixels: a z-buffer and a PNG writer in numpy and the standard library."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..base.mesh import Float, Int

_CANDIDATES = 1_000_000
"""Pixels tried at a time: about 150 MB of work space."""


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
    pixel belongs to the nearest face that covers its center (z-buffer).
    """
    corner = points[faces]
    low = np.ceil(corner[:, :, :2].min(axis=1) - 0.5).astype(np.int64)
    high = np.floor(corner[:, :, :2].max(axis=1) - 0.5).astype(np.int64)
    low = np.maximum(low, 0)
    high = np.minimum(high, [width - 1, height - 1])
    span = high - low + 1
    chosen = np.flatnonzero((span > 0).all(axis=1))
    tries = np.cumsum(span[chosen, 0] * span[chosen, 1])
    face = np.full(width * height, -1, dtype=np.int32)
    depth = np.full(width * height, -np.inf)
    weights = np.zeros((width * height, 3), dtype=np.float32)
    begin = 0
    while begin < len(chosen):
        done = tries[begin - 1] if begin else 0
        end = max(begin + 1, int(np.searchsorted(tries, done + _CANDIDATES, side="right")))
        part = chosen[begin:end]
        count = span[part, 0] * span[part, 1]
        owner = np.repeat(np.arange(len(part)), count)
        offset = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
        row, column = np.divmod(offset, span[part, 0][owner])
        x = low[part, 0][owner] + column
        y = low[part, 1][owner] + row
        plane = _planes(corner[part])
        first, second = (
            plane[owner, row, 0] + plane[owner, row, 1] * (x + 0.5) + plane[owner, row, 2] * (y + 0.5) for row in (0, 1)
        )
        third = 1.0 - first - second
        inside = (first >= 0) & (second >= 0) & (third >= 0)  # false for the nan of a face seen from its edge
        owner, x, y = owner[inside], x[inside], y[inside]
        bary = np.stack([first[inside], second[inside], third[inside]], axis=1)
        near = plane[owner, 2, 0] + plane[owner, 2, 1] * (x + 0.5) + plane[owner, 2, 2] * (y + 0.5)
        pixel = y * width + x
        order = np.lexsort((near, pixel))
        last = np.append(np.diff(pixel[order]) > 0, True) if len(order) else np.zeros(0, dtype=bool)
        best = order[last]
        best = best[near[best] > depth[pixel[best]]]
        face[pixel[best]] = part[owner[best]]
        depth[pixel[best]] = near[best]
        weights[pixel[best]] = bary[best]
        begin = end
    shape = (height, width)
    return Raster(face.reshape(shape), weights.reshape(*shape, 3), depth.astype(np.float32).reshape(shape))


def _planes(corner: Float) -> Float:
    """Return for each face the planes that give weight 0, weight 1 and depth at a pixel: (m, 3, 3), c + x, y."""
    a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
    area: Float = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
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
