"""A picture of the part in the colors of its firmness levels, for the 3MF and the report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Float, Int
from ...base.ramps import FIRMNESS
from ...geometry.raster import png_bytes, rasterize
from ..regions.bodies import COUNTS_PER_MM, RegionBody
from .long_side import long_side
from .shading import GROUND, corner_normals, encoded, gloss, hollows, linear, matte, mixed, shadow

_OVERSAMPLING = 2
_MARGIN = 0.07
_ELEVATION_DEG, _TURN_DEG = 48.0, 24.0
"""From where the eye looks: high enough to see into the body side, low enough to see the thickness; by eye."""


def firmness_color(level: float, colors: Sequence[str] = FIRMNESS) -> str:
    """Return the color "#RRGGBB" of a level; a blend step lies between its neighbors, mixed in linear light.

    `level`: 1 is the first color.
    """
    return "#" + "".join(f"{value:02X}" for value in encoded(mixed(np.array(level), colors)))


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

    image = np.ones((wide, wide, 3), dtype=np.float32) * GROUND
    upper = skin.faces[(skin.normals @ up).sum(axis=1) > 0]
    image *= 1.0 - 0.42 * shadow(on_screen(shade), upper, wide, wide)[:, :, None]
    facing = (skin.normals @ eye[2]).sum(axis=1) > -0.6  # of the three corners together
    faces = skin.faces[facing]
    raster = rasterize(on_screen(points), faces, wide, wide)
    hit = raster.is_hit
    index = np.flatnonzero(facing)[raster.face[hit]]
    normal = np.einsum("pc,pck->pk", raster.weights[hit], skin.normals[index]) @ eye.T
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    palette = np.stack([linear(color) for color in colors])
    color = palette[skin.body[index]]
    # Height over the ground shows hollows without a tilt of its own; a part without a body side has only depth.
    tall = skin.vertices @ up if press_direction is not None else points[:, 2]
    height = np.zeros(hit.shape, dtype=np.float32)
    height[hit] = np.einsum("pc,pc->p", raster.weights[hit], tall[skin.faces[index]]) * scale
    rise = np.clip(normal @ (eye @ up), 0.0, 1.0)
    light = matte(normal, eye @ up) * hollows(height, hit)[hit] ** (0.15 + 0.85 * rise**2)
    image[hit] = color * light[:, None].astype(np.float32) + gloss(normal)[:, None]
    image = _lined(image, hit, np.where(hit, skin.body[np.flatnonzero(facing)[raster.face]], -1))
    small = image.reshape(size, _OVERSAMPLING, size, _OVERSAMPLING, 3).mean(axis=(1, 3))
    return encoded(small)


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
    return _Skin(vertices, faces, owner, corner_normals(vertices, faces))


def _eye_axes(skin: _Skin, up: Float) -> Float:
    """Return the rows right, up and towards the eye; the longest side of the part runs across the picture."""
    long, _ = long_side(skin.vertices[skin.faces], up)
    back = np.cross(up, long)
    turn, rise = np.radians(_TURN_DEG), np.radians(_ELEVATION_DEG)
    level = -back * np.cos(turn) + long * np.sin(turn)
    toward = level * np.cos(rise) + up * np.sin(rise)
    right = np.cross(up, toward)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(toward, right), toward])


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
