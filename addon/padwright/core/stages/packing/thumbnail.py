"""A picture of the part in the colors of its firmness levels, for the 3MF and the report."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Bool, Float, Int, TriMesh
from ...base.ramps import FIRMNESS
from ...base.rows import bounds_of
from ...geometry.raster import png_bytes, rasterize
from ..regions.bodies import COUNTS_PER_MM, RegionBody
from .long_side import long_side
from .shading import GROUND, between, encoded, gloss, hollows, linear, matte, mixed, normals_at, shadow, shrunk

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
    mesh, body = _outer_skin(bodies)
    up = np.array([0.0, 0.0, 1.0]) if press_direction is None else -np.asarray(press_direction, dtype=np.float64)
    eye = _eye_axes(mesh, up)
    wide = size * _OVERSAMPLING
    points, rise = mesh.vertices @ eye.T, mesh.vertices @ up
    shade = (mesh.vertices - np.outer(rise - rise.min(), up)) @ eye.T
    low, high = bounds_of(np.concatenate([points, shade])[:, :2])
    scale = wide * (1.0 - 2.0 * _MARGIN) / float((high - low).max())
    middle = 0.5 * (low + high)

    def on_screen(places: Float) -> Float:
        shifted = (places[:, :2] - middle) * [scale, -scale] + 0.5 * wide
        return np.column_stack([shifted, places[:, 2] * scale])

    dark = shadow(on_screen(shade), mesh.faces, wide, wide).astype(np.float32)
    image = (1.0 - 0.42 * dark)[:, :, None] * GROUND
    raster = rasterize(on_screen(points), mesh.faces, wide, wide, is_one_sided=True)
    hit = raster.is_hit
    face, weights = raster.face[hit], raster.weights[hit]
    normal = normals_at(mesh, eye, face, weights)
    # Height over the ground shows hollows without a tilt of its own; a part without a body side has only depth.
    tall = (scale * (rise if press_direction is not None else points[:, 2])).astype(np.float32)
    height = np.zeros(hit.shape, dtype=np.float32)
    height[hit] = between(tall[mesh.faces][:, :, None], face, weights)[:, 0]
    upright = (eye @ up).astype(np.float32)
    slope = np.clip(normal @ upright, 0.0, 1.0)
    light = matte(normal, upright) * hollows(height, hit)[hit] ** (0.15 + 0.85 * slope**2)
    palette = np.stack([linear(color) for color in colors])
    image[hit] = palette[body[face]] * light[:, None] + gloss(normal)[:, None]
    shown = np.full(hit.shape, -1, dtype=np.int32)
    shown[hit] = body[face]
    image[_borders(shown)] *= 0.55
    return encoded(shrunk(image, _OVERSAMPLING))


def _outer_skin(bodies: Sequence[RegionBody]) -> tuple[TriMesh, Int]:
    """Return the bodies as one, and the body that each face is of, (m,).

    The walls between them are left out, so that light runs over a zone border without a seam. Places and faces are
    told apart by numbers drawn for them: by chance two of a million have the same once in millions of parts.
    """
    draw = np.random.default_rng(0)
    counts = np.concatenate([body.counts for body in bodies])
    start = np.cumsum([0] + [len(body.counts) for body in bodies])
    x, y, z = draw.integers(1 << 62, size=(3, 1))
    place = counts[:, 0] * x + counts[:, 1] * y + counts[:, 2] * z  # runs over, which does no harm
    _, first, label = np.unique(place, return_index=True, return_inverse=True)
    faces = np.concatenate([label[body.faces + begin] for body, begin in zip(bodies, start, strict=False)])
    owner = np.repeat(np.arange(len(bodies), dtype=np.int32), [len(body.faces) for body in bodies])
    number = draw.integers(1 << 60, size=len(first))
    _, kind, times = np.unique(
        number[faces[:, 0]] + number[faces[:, 1]] + number[faces[:, 2]], return_inverse=True, return_counts=True
    )
    is_outer = times[kind] == 1  # a wall has a face of either body with the same corners
    return TriMesh(counts[first] / COUNTS_PER_MM, faces[is_outer]), owner[is_outer]


def _eye_axes(mesh: TriMesh, up: Float) -> Float:
    """Return the rows right, up and towards the eye; the longest side of the part runs across the picture."""
    long, _ = long_side(mesh, up)
    back = np.cross(up, long)
    turn, rise = np.radians(_TURN_DEG), np.radians(_ELEVATION_DEG)
    level = -back * np.cos(turn) + long * np.sin(turn)
    toward = level * np.cos(rise) + up * np.sin(rise)
    right = np.cross(up, toward)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(toward, right), toward])


def _borders(body: Int) -> Bool:
    """Return the pixels along zone borders and around the part, on either side, (h, w)."""
    found = np.zeros(body.shape, dtype=bool)
    across, down = body[:, 1:] != body[:, :-1], body[1:] != body[:-1]
    for part, changes in ((found[:, :-1], across), (found[:, 1:], across), (found[:-1], down), (found[1:], down)):
        part |= changes
    return found
