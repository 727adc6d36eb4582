"""A picture of the part in the colors of its firmness levels, for the 3MF and the report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from ...base.mesh import Float, Int
from ...geometry.raster import png_bytes, rasterize
from ..regions.bodies import COUNTS_PER_MM, RegionBody

FIRMNESS_COLORS = ("#F3DFA8", "#86C5A4", "#3A8FA8", "#43407F")
"""Levels 1 to 4, light to dark, so that their order also shows to the color-blind and in gray; our own choice."""

_OVERSAMPLING = 2
_MARGIN = 0.07
_BACKGROUND = np.array([0.93, 0.93, 0.915], dtype=np.float32)
_COARSE = 4
"""Soft things (shadow, hollows) are worked out on every fourth pixel and blown up again."""
_ELEVATION_DEG, _TURN_DEG = 48.0, 24.0
"""From where the eye looks: high enough to see into the body side, low enough to see the thickness; by eye."""

_KEY_LIGHT = np.array([-0.62, 0.52, 0.59])
"""Towards the light, in eye axes (right, up, to the eye): from the upper left, low, so that hollows show; by eye."""


_HOLLOWS = ((0.015, 0.25), (0.05, 0.6), (0.10, 1.4))
"""Width of the surroundings as a share of the picture, and how strongly they count; by eye."""


def firmness_color(level: float, colors: Sequence[str] = FIRMNESS_COLORS) -> str:
    """Return the color "#RRGGBB" of a level; a blend step lies between its neighbors, mixed in linear light.

    `level`: 1 is the first color.
    """
    linear = np.stack([_linear(color) for color in colors])
    mixed = [np.interp(level, np.arange(1, len(colors) + 1), linear[:, channel]) for channel in range(3)]
    return "#" + "".join(f"{value:02X}" for value in _encoded(np.array(mixed)))


def thumbnail_png(
    bodies: Sequence[RegionBody], press_direction: Float | None, *, colors: Sequence[str] | None = None, size: int = 384
) -> bytes:
    """Return a PNG picture of the part, body side up.

    Parameters
    ----------
    press_direction : (3,) float or None
        Up in the picture is against it; a wrap-around part has none and stands along the frame's z.
    colors : sequence of str, optional
        "#RRGGBB" a body; left out, by firmness level.
    size : int
        Pixels a side.
    """
    if colors is None:
        colors = [firmness_color(body.firmness_level) for body in bodies]
    return png_bytes(render(bodies, press_direction, colors=colors, size=size))


def render(
    bodies: Sequence[RegionBody], press_direction: Float | None, *, colors: Sequence[str], size: int = 384
) -> NDArray[np.uint8]:
    """Return the picture as (size, size, 3) uint8; the parameters are those of `thumbnail_png`."""
    skin = _outer_skin(bodies)
    up = np.array([0.0, 0.0, 1.0]) if press_direction is None else -np.asarray(press_direction, dtype=np.float64)
    eye = _eye_axes(skin, up)
    wide = size * _OVERSAMPLING
    points = skin.vertices @ eye.T
    ground = skin.vertices - np.outer(skin.vertices @ up - (skin.vertices @ up).min(), up)
    shade = ground @ eye.T
    both = np.concatenate([points, shade])
    low, high = both[:, :2].min(axis=0), both[:, :2].max(axis=0)
    scale = wide * (1.0 - 2.0 * _MARGIN) / float((high - low).max())
    middle = 0.5 * (low + high)

    def on_screen(places: Float) -> Float:
        shifted = (places[:, :2] - middle) * [scale, -scale] + 0.5 * wide
        return np.column_stack([shifted, places[:, 2] * scale])

    image = np.ones((wide, wide, 3), dtype=np.float32) * _BACKGROUND
    image *= 1.0 - 0.42 * _shadow(on_screen(shade), skin, up, wide)[:, :, None]
    facing = skin.normals.mean(axis=1) @ eye[2] > -0.2
    faces = skin.faces[facing]
    raster = rasterize(on_screen(points), faces, wide, wide)
    hit = raster.is_hit
    index = np.flatnonzero(facing)[raster.face[hit]]
    normal = np.einsum("pc,pck->pk", raster.weights[hit], skin.normals[index]) @ eye.T
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    palette = np.stack([_linear(color) for color in colors])
    color = palette[skin.body[index]]
    # Height over the ground shows hollows without a tilt of its own; a part without a body side has only depth.
    tall = skin.vertices @ up if press_direction is not None else points[:, 2]
    height = np.zeros(hit.shape, dtype=np.float32)
    height[hit] = np.einsum("pc,pc->p", raster.weights[hit], tall[skin.faces[index]]) * scale
    rise = np.clip(normal @ (eye @ up), 0.0, 1.0)
    light = _light(normal, eye @ up) * _hollows(height, hit, wide)[hit] ** (0.15 + 0.85 * rise**2)
    image[hit] = color * light[:, None].astype(np.float32) + _gloss(normal)[:, None]
    image = _lined(image, hit, np.where(hit, skin.body[np.flatnonzero(facing)[raster.face]], -1))
    small = image.reshape(size, _OVERSAMPLING, size, _OVERSAMPLING, 3).mean(axis=(1, 3))
    return _encoded(small)


@dataclass(frozen=True, eq=False)
class _Skin:
    """The outside of all bodies together: vertices (n, 3), faces (m, 3), body (m,), corner normals (m, 3, 3)."""

    vertices: Float
    faces: Int
    body: Int
    normals: Float


def _outer_skin(bodies: Sequence[RegionBody]) -> _Skin:
    """Join the bodies and leave out the walls between them, so that light runs over a zone border without a seam."""
    counts = np.concatenate([body.counts for body in bodies])
    start = np.cumsum([0] + [len(body.counts) for body in bodies])
    order = np.lexsort(counts.T)
    is_new = np.append(True, (np.diff(counts[order], axis=0) != 0).any(axis=1))
    label = np.zeros(len(counts), dtype=np.int64)
    label[order] = np.cumsum(is_new) - 1
    faces = np.concatenate([label[body.faces + first] for body, first in zip(bodies, start, strict=False)])
    owner = np.repeat(np.arange(len(bodies)), [len(body.faces) for body in bodies])
    corner = np.sort(faces, axis=1)
    order_faces = np.lexsort(corner.T)
    is_twin = (np.diff(corner[order_faces], axis=0) == 0).all(axis=1)
    inner = np.zeros(len(faces), dtype=bool)
    inner[order_faces[:-1][is_twin]] = inner[order_faces[1:][is_twin]] = True
    faces, owner = faces[~inner], owner[~inner]
    vertices = counts[order[is_new]] / COUNTS_PER_MM
    triangle = vertices[faces]
    cross = np.cross(triangle[:, 1] - triangle[:, 0], triangle[:, 2] - triangle[:, 0])
    total = np.stack(
        [np.bincount(faces.ravel(), np.repeat(cross[:, axis], 3), len(vertices)) for axis in range(3)], axis=1
    )
    flat = cross / np.maximum(np.linalg.norm(cross, axis=1, keepdims=True), 1e-300)
    smooth = (total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-300))[faces]
    # Sharp edges stay sharp: a corner whose smooth normal leans more than 40 degrees from its face takes the face's.
    is_round = np.einsum("fck,fk->fc", smooth, flat) > np.cos(np.radians(40.0))
    return _Skin(vertices, faces, owner, np.where(is_round[:, :, None], smooth, flat[:, None, :]))


def _eye_axes(skin: _Skin, up: Float) -> Float:
    """Return the rows right, up and towards the eye; the longest side of the part runs across the picture."""
    triangle = skin.vertices[skin.faces]
    area = np.linalg.norm(np.cross(triangle[:, 1] - triangle[:, 0], triangle[:, 2] - triangle[:, 0]), axis=1)
    triangle = triangle - np.average(triangle.mean(axis=1), axis=0, weights=area)
    triangle = triangle - (triangle @ up)[:, :, None] * up
    # Second moments of the surface: over a triangle the mean of x x^T is (sum of v v^T + (sum v)(sum v)^T) / 12, so
    # the view does not turn with how the surface is meshed.
    total = triangle.sum(axis=1)
    weighted = triangle * area[:, None, None]
    moments = np.einsum("fci,fcj->ij", weighted, triangle) + (total * area[:, None]).T @ total
    long = np.linalg.eigh(moments)[1][:, -1]
    long *= np.sign(long[np.argmax(np.abs(long))])
    back = np.cross(up, long)
    turn, rise = np.radians(_TURN_DEG), np.radians(_ELEVATION_DEG)
    level = -back * np.cos(turn) + long * np.sin(turn)
    toward = level * np.cos(rise) + up * np.sin(rise)
    right = np.cross(up, toward)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(toward, right), toward])


def _light(normal: Float, up: Float) -> Float:
    """Return the brightness of matte pixels: one light wrapped a little around, the rest from the sky."""
    key = _KEY_LIGHT / np.linalg.norm(_KEY_LIGHT)
    return 0.82 * np.clip((normal @ key + 0.25) / 1.25, 0.0, None) ** 1.2 + 0.20 + 0.22 * (normal @ up)


def _gloss(normal: Float) -> Float:
    key = _KEY_LIGHT / np.linalg.norm(_KEY_LIGHT)
    half = key + np.array([0.0, 0.0, 1.0])
    half /= np.linalg.norm(half)
    return 0.05 * np.clip(normal @ half, 0.0, None) ** 24


def _shadow(points: Float, skin: _Skin, up: Float, wide: int) -> Float:
    """Return how dark the ground is under the part, 0 to 1, (wide, wide)."""
    faces = skin.faces[skin.normals.mean(axis=1) @ up > 0]
    coarse = wide // _COARSE
    hit = rasterize(points / _COARSE, faces, coarse, coarse).is_hit
    return _blown_up(gaussian_filter(hit.astype(np.float32), 0.016 * coarse), wide)


def _hollows(height: NDArray[np.float32], hit: NDArray[np.bool_], wide: int) -> Float:
    """Return a factor that darkens what lies deeper than its surroundings and lifts what stands out.

    Luft, Colditz & Deussen 2006, "Image enhancement by unsharp masking the depth buffer", doi 10.1145/1141911.1142016.
    """
    some = (slice(_COARSE // 2, None, _COARSE),) * 2
    filled = np.where(hit[some], height[some] / _COARSE, 0.0)
    weight = hit[some].astype(np.float32)
    factor = np.ones_like(filled)
    for share, strength in _HOLLOWS:
        sigma = share * wide / _COARSE
        around = gaussian_filter(filled, sigma) / np.maximum(gaussian_filter(weight, sigma), 1e-6)
        factor -= strength * np.clip((around - filled) / sigma, -0.35, 1.0)
    return _blown_up(np.clip(np.where(weight > 0, factor, 1.0), 0.3, 1.2), wide)


def _blown_up(coarse: Float, wide: int) -> Float:
    """Return a coarse picture at full width, straight between its pixels."""
    at = np.clip((np.arange(wide) + 0.5) / _COARSE - 0.5, 0, len(coarse) - 1)
    low = np.minimum(at.astype(int), len(coarse) - 2)
    share = (at - low).astype(np.float32)
    rows = coarse[low] * (1 - share)[:, None] + coarse[low + 1] * share[:, None]
    return rows[:, low] * (1 - share) + rows[:, low + 1] * share


def _lined(image: Float, hit: NDArray[np.bool_], body: Int) -> Float:
    """Draw thin darker lines along zone borders and around the part."""
    border = np.zeros(hit.shape, dtype=float)
    for axis in (0, 1):
        changes = np.diff(body, axis=axis) != 0
        first = (slice(None, -1), slice(None)) if axis == 0 else (slice(None), slice(None, -1))
        second = (slice(1, None), slice(None)) if axis == 0 else (slice(None), slice(1, None))
        border[first] = np.maximum(border[first], changes)
        border[second] = np.maximum(border[second], changes)
    return image * (1.0 - 0.45 * border[:, :, None])


def _linear(color: str) -> Float:
    """Return "#RRGGBB" as linear light, 0 to 1 (IEC 61966-2-1, sRGB)."""
    value = np.array([int(color[at : at + 2], 16) for at in (1, 3, 5)]) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _encoded(light: Float) -> NDArray[np.uint8]:
    """Return linear light as sRGB bytes (IEC 61966-2-1)."""
    light = np.clip(light, 0.0, 1.0)
    value = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1.0 / 2.4) - 0.055)
    return np.round(value * 255.0).astype(np.uint8)
