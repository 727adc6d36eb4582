"""Light, shadow and color of the pictures: numbers that hold for all of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from ...base.mesh import Float, Int, TriMesh
from ...geometry.raster import rasterize

Reals = NDArray[np.floating[Any]]

GROUND = np.array([0.93, 0.93, 0.915], dtype=np.float32)
"""What lies behind and below the part, linear light."""

COARSE = 4
"""Soft things (shadow, hollows) are worked out on every fourth pixel and blown up again."""

_KEY_LIGHT = np.array([-0.62, 0.52, 0.59])
"""Towards the light, in eye axes (right, up, to the eye): from the upper left, low, so that hollows show; by eye."""


_HOLLOWS = ((0.015, 0.25), (0.05, 0.6), (0.10, 1.4))
"""Width of the surroundings as a share of the picture, and how strongly they count; by eye."""


def normals_at(mesh: TriMesh, eye: Float, face: Int, weights: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the unit normals, (k, 3) in eye axes, (3, 3), at places in faces, (k,), by the weights of their corners.

    They are smooth, but sharp edges stay sharp.
    """
    is_shown = np.zeros(len(mesh.faces), dtype=bool)
    is_shown[face] = True
    flat, smooth = mesh.face_normals[is_shown], mesh.vertex_normals[mesh.faces[is_shown]]
    # A corner whose smooth normal leans more than 40 degrees from its face takes the face's.
    is_round = np.einsum("fck,fk->fc", smooth, flat) > np.cos(np.radians(40.0))
    corners = np.where(is_round[:, :, None], smooth, flat[:, None, :]) @ eye.T
    normal = between(corners.astype(np.float32), (np.cumsum(is_shown) - 1)[face], weights)
    return normal / np.maximum(np.sqrt(np.einsum("ij,ij->i", normal, normal)), np.float32(1e-6))[:, None]


def between(values: NDArray[np.float32], face: Int, weights: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return values at the corners of faces, (m, 3, c), as they are at places in them, (k, c), by their weights."""
    found = weights[:, :1] * values[face, 0]
    found += weights[:, 1:2] * values[face, 1]
    found += weights[:, 2:] * values[face, 2]
    return found


def matte(normal: Reals, up: Reals) -> Reals:
    """Return the brightness of matte pixels: one light wrapped a little around, the rest from the sky."""
    key = (_KEY_LIGHT / np.linalg.norm(_KEY_LIGHT)).astype(normal.dtype)
    return 0.82 * np.clip((normal @ key + 0.25) / 1.25, 0.0, None) ** 1.2 + 0.20 + 0.22 * (normal @ up)


def gloss(normal: Reals) -> Reals:
    """Return how much light the pixels mirror."""
    key = _KEY_LIGHT / np.linalg.norm(_KEY_LIGHT)
    half = key + np.array([0.0, 0.0, 1.0])
    half = (half / np.linalg.norm(half)).astype(normal.dtype)
    return 0.05 * np.clip(normal @ half, 0.0, None) ** 24


def shadow(points: Float, faces: Int, width: int, height: int) -> Float:
    """Return how dark the ground is under faces whose corners fall on it at `points`, 0 to 1, (height, width).

    Points as in `rasterize`, all from the ground itself; width and height are multiples of `COARSE`. Faces that look
    down are under others.
    """
    across, down = width // COARSE, height // COARSE
    hit = rasterize(points / COARSE, faces, across, down, is_one_sided=True).is_hit
    return blown_up(gaussian_filter(hit.astype(np.float32), 0.016 * across))


def hollows(height: NDArray[np.float32], hit: NDArray[np.bool_]) -> Float:
    """Return a factor that darkens what lies deeper than its surroundings and lifts what stands out.

    Both are (h, w) with h and w multiples of `COARSE`; the height is in pixels.
    Luft, Colditz & Deussen 2006, "Image enhancement by unsharp masking the depth buffer", doi 10.1145/1141911.1142016.
    """
    some = (slice(COARSE // 2, None, COARSE),) * 2
    filled = np.where(hit[some], height[some] / COARSE, 0.0)
    weight = hit[some].astype(np.float32)
    factor = np.ones_like(filled)
    for share, strength in _HOLLOWS:
        sigma = share * height.shape[1] / COARSE
        around = gaussian_filter(filled, sigma) / np.maximum(gaussian_filter(weight, sigma), 1e-6)
        factor -= strength * np.clip((around - filled) / sigma, -0.35, 1.0)
    return blown_up(np.clip(np.where(weight > 0, factor, 1.0), 0.3, 1.2))


def blown_up(coarse: Float) -> Float:
    """Return a coarse picture at full size, straight between its pixels."""
    fine = coarse
    for axis in (0, 1):
        count = fine.shape[axis]
        at = np.clip((np.arange(count * COARSE) + 0.5) / COARSE - 0.5, 0, count - 1)
        low = np.minimum(at.astype(int), count - 2)
        share = (at - low).astype(np.float32).reshape((-1, 1) if axis == 0 else (1, -1))
        fine = fine.take(low, axis) * (1 - share) + fine.take(low + 1, axis) * share
    return fine


def shrunk(picture: Reals, by: int) -> Reals:
    """Return a picture, (h, w, c), with so many pixels a side as one, each their mean."""
    cells = [picture[row::by, column::by] for row in range(by) for column in range(by)]
    return np.asarray(sum(cells[1:], cells[0]) / by**2, dtype=picture.dtype)


def linear(color: str) -> Float:
    """Return "#RRGGBB" as linear light, 0 to 1 (IEC 61966-2-1, sRGB)."""
    value = np.array([int(color[at : at + 2], 16) for at in (1, 3, 5)]) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def mixed(levels: Float, colors: Sequence[str]) -> Float:
    """Return the colors of firmness levels, (n,), as linear light, (n, 3); one between two levels lies between them.

    `colors`: "#RRGGBB" of level 1, 2 and so on.
    """
    light = np.stack([linear(color) for color in colors])
    places = np.arange(1, len(colors) + 1)
    return np.stack([np.interp(levels, places, light[:, channel]) for channel in range(3)], axis=-1)


def encoded(light: Float) -> NDArray[np.uint8]:
    """Return linear light as sRGB bytes (IEC 61966-2-1)."""
    light = np.clip(light, 0.0, 1.0)
    value = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1.0 / 2.4) - 0.055)
    return np.round(value * 255.0).astype(np.uint8)
