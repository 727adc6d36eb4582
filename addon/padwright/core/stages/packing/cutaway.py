"""A picture of a part cut open along the press direction: its skins, its walls, and how firm each place is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from ...base.mesh import Bool, Float, TriMesh
from ...geometry.cross_sections import CrossSection, cross_section
from ...geometry.filled import covered
from ...geometry.raster import Raster, png_bytes, rasterize
from .long_side import long_side
from .marks import with_key, with_scale_bar
from .shading import (
    COARSE,
    GROUND,
    Reals,
    between,
    blown_up,
    encoded,
    gloss,
    hollows,
    linear,
    matte,
    normals_at,
    shadow,
    shrunk,
)

_OVERSAMPLING = 2
_RISE_DEG = 27.0
"""How high the eye is over the level: both the cut and the body side are seen; by eye."""

_MARGIN = 0.055  # of the picture's width, on all sides
_FOOT = 0.035  # of the width, below the part for the scale bar
_APART_MM = 1.0  # places nearer to each other give no direction
_SKIN = "#CDCEC6"
"""Of what was not cut: quiet, so that the color of the cut tells something."""

_CUT = "#3A8FA8"
_MOSTLY = 0.4
"""Share of a fine pixel from which it is all cut face: its middle may lie within, and shows there what nobody sees."""

_LEAST_LIGHT = 0.6  # of what was not cut, so that a rim that turns away is no black line; by eye
_CALM_MM, _CALM = 2.5, 0.7  # radius and share of the light that is averaged over it, of what was not cut; by eye
_DIRECTIONS, _SMOOTH = 8, 0.35  # and how wide their edges are smoothed, in radii
_NOOKS = ((1.0, 0.5), (2.5, 0.9), (6.0, 0.9))
"""Radius, mm, of the surroundings that darken a place deep in a channel, and how strongly; by eye."""


@dataclass(frozen=True, eq=False)
class CutPlane:
    """Where a part is cut, and from where it is looked at."""

    point: Float  # (3,), mm
    normal: Float  # (3,), unit, level; towards the eye: what lies before it is taken away
    up: Float  # (3,), unit


def cut_plane(mesh: TriMesh, up: Float, through: Float) -> CutPlane:
    """Return the plane along `up`, (3,), that goes through places, (n, 3) mm: best, where there are more than two.

    Through one place, or places above each other, it goes along the part's longer side, and without any through the
    part's middle. The eye is on the side where less of the part lies: the more stays.
    """
    up = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    along, middle = long_side(mesh, up)
    point = through.mean(axis=0) if len(through) else middle
    level = through - point - np.outer((through - point) @ up, up)
    if len(level) > 1 and np.linalg.norm(level, axis=1).max() > _APART_MM:
        along = np.linalg.svd(level)[2][0]
    along -= (along @ up) * up
    normal = np.cross(along, up)
    normal /= np.linalg.norm(normal)
    normal *= 1.0 if (middle - point) @ normal < 0.0 else -1.0
    return CutPlane(point, normal, up)


def cutaway_png(
    mesh: TriMesh,
    plane: CutPlane,
    *,
    color: str = _CUT,
    color_at: Callable[[Float], Float] | None = None,
    key: Sequence[tuple[str, str]] = (),
    width: int = 1280,
) -> bytes:
    """Return a PNG picture of a closed part cut open, body side up.

    Parameters
    ----------
    plane : CutPlane
        As of `cut_plane`.
    color : str
        "#RRGGBB" of the cut face.
    color_at : function, optional
        From places on the cut face, (k, 3) mm, to colors, (k, 3) linear light as of `mixed`; instead of `color`.
    key : sequence of (color, words), optional
        What the colors say, below the picture: "#RRGGBB" and signs that `strokes.label` knows.
    width : int
        Pixels, a multiple of 4; the height follows the part.
    """
    cut = cross_section(mesh, plane.point, plane.normal)
    frame = _Frame.of(cut, plane, width * _OVERSAMPLING)
    outline = frame.on_screen(cut.outline.reshape(-1, 3))[:, :2].reshape(-1, 2, 2)
    share = covered(outline, frame.width, frame.height).astype(np.float32)
    is_face = share > 0.0
    places = frame.on_plane(is_face, plane)
    is_covered = share > _MOSTLY
    is_laid_open = _is_between(is_covered)
    lit = _LitSurface.of(cut.behind, frame, is_laid_open)
    depth = lit.raster.depth.copy()
    depth[is_face] = np.where(is_covered[is_face], frame.on_screen(places)[:, 2], depth[is_face])
    image = frame.ground(cut.behind)
    image[lit.raster.is_hit] = lit.light
    is_nook = lit.raster.is_hit & is_laid_open
    image[is_nook] *= _nooks(depth, is_covered, frame.scale)[is_nook][:, None]
    # In front of all: what is nearer to the eye was cut away. What shows through its middle is not seen.
    face = linear(color) if color_at is None else color_at(places)
    part = np.where(is_covered, 1.0, share)[is_face][:, None]
    image[is_face] = part * face + (1.0 - part) * image[is_face]
    small = shrunk(image, _OVERSAMPLING)
    line = small.shape[0] - 0.5 * _MARGIN * width
    small = with_scale_bar(small, frame.scale / _OVERSAMPLING, _MARGIN * width, line)
    return png_bytes(encoded(with_key(small, key, (1.0 - _MARGIN) * width, line)))


@dataclass(frozen=True, eq=False)
class _Frame:
    """How the scene falls on the fine picture."""

    eye: Float  # (3, 3); rows right, up and to the eye
    up: Float  # (3,)
    middle: Float  # (2,); of what is seen, mm in eye axes
    scale: float  # fine pixels a mm
    width: int
    height: int
    shift: float  # fine pixels by which the part stands above the picture's middle
    floor: float  # least height of the part, mm along up

    @classmethod
    def of(cls, cut: CrossSection, plane: CutPlane, width: int) -> _Frame:
        rise = np.radians(_RISE_DEG)
        toward = plane.normal * np.cos(rise) + plane.up * np.sin(rise)
        right = np.cross(plane.up, plane.normal)
        eye = np.stack([right, np.cross(toward, right), toward])
        points = cut.behind.vertices
        seen = points @ eye[:2].T
        low, high = seen.min(axis=0), seen.max(axis=0)
        scale = width * (1.0 - 2.0 * _MARGIN) / max(high[0] - low[0], 0.8 * (high[1] - low[1]))
        step = COARSE * _OVERSAMPLING
        foot = _FOOT * width
        height = int(np.ceil(((high[1] - low[1]) * scale + 2.0 * _MARGIN * width + foot) / step)) * step
        return cls(
            eye, plane.up, 0.5 * (low + high), float(scale), width, height, 0.5 * foot, float((points @ plane.up).min())
        )

    def on_screen(self, places: Float) -> Float:
        """Return (n, 3): x right and y down in fine pixels, depth towards the eye, fine pixels too."""
        seen = places @ self.eye.T
        flat = (seen[:, :2] - self.middle) * [self.scale, -self.scale]
        flat += [0.5 * self.width, 0.5 * self.height - self.shift]
        return np.column_stack([flat, seen[:, 2] * self.scale])

    def on_plane(self, chosen: Bool, plane: CutPlane) -> Float:
        """Return the places of the cut plane, (k, 3) mm, that are seen in chosen pixels, (height, width)."""
        y, x = np.nonzero(chosen)
        right = (x + 0.5 - 0.5 * self.width) / self.scale + self.middle[0]
        above = -(y + 0.5 - 0.5 * self.height + self.shift) / self.scale + self.middle[1]
        level = np.outer(right, self.eye[0]) + np.outer(above, self.eye[1])
        toward = self.eye[2]
        below = ((plane.point - level) @ plane.normal) / (toward @ plane.normal)
        return np.asarray(level + np.outer(below, toward))

    def ground(self, mesh: TriMesh) -> Reals:
        """Return the empty picture with the part's shadow."""
        vertices = mesh.vertices - np.outer(mesh.vertices @ self.up - self.floor, self.up)
        dark = shadow(self.on_screen(vertices), mesh.faces, self.width, self.height).astype(np.float32)
        return np.asarray((1.0 - 0.42 * dark)[:, :, None] * GROUND)


@dataclass(frozen=True, eq=False)
class _LitSurface:
    """What is seen of what was not cut."""

    raster: Raster
    light: Float  # (k, 3); linear, of each pixel that is hit

    @classmethod
    def of(cls, mesh: TriMesh, frame: _Frame, is_inside: Bool) -> _LitSurface:
        raster = rasterize(frame.on_screen(mesh.vertices), mesh.faces, frame.width, frame.height, is_one_sided=True)
        hit = raster.is_hit
        face, weights = raster.face[hit], raster.weights[hit]
        tall = ((mesh.vertices @ frame.up - frame.floor) * frame.scale).astype(np.float32)
        height = np.zeros(hit.shape, dtype=np.float32)
        height[hit] = between(tall[mesh.faces][:, :, None], face, weights)[:, 0]
        normal = normals_at(mesh, frame.eye, face, weights)
        up = (frame.eye @ frame.up).astype(np.float32)
        plain = matte(normal, up)
        rise = np.clip(normal @ up, 0.0, 1.0)
        outside = np.maximum(plain, _LEAST_LIGHT).astype(np.float64) * hollows(height, hit)[hit] ** (
            0.15 + 0.85 * rise**2
        )
        outside = _calmed(outside, hit, is_inside, _CALM_MM * frame.scale)
        light = np.where(is_inside[hit], plain, outside)
        return cls(raster, linear(_SKIN) * light[:, None] + gloss(normal)[:, None])


def _calmed(light: Float, hit: Bool, is_inside: Bool, radius: float) -> Float:
    """Return the light of pixels that are hit, (k,), mostly as it is around them: a scan's noise is no matter here."""
    fine = np.zeros(hit.shape, dtype=np.float32)
    fine[hit] = light
    weight = (hit & ~is_inside).astype(np.float32)
    some = (slice(COARSE // 2, None, COARSE),) * 2
    around, count = (gaussian_filter(each[some], radius / COARSE) for each in (fine * weight, weight))
    return light + _CALM * (blown_up(around / np.maximum(count, 1e-3))[hit] - light)


def _is_between(is_face: Bool) -> Bool:
    """Return which pixels, (h, w), have cut face above and below them: they show what the cut laid open."""
    above = np.logical_or.accumulate(is_face, axis=0)
    below = np.logical_or.accumulate(is_face[::-1], axis=0)[::-1]
    return above & below


def _nooks(depth: NDArray[np.float32], is_covered: Bool, scale: float) -> Float:
    """Return a factor that darkens what lies deep between nearer things, such as the floor of a channel."""
    height, width = depth.shape
    cells = (height // _OVERSAMPLING, _OVERSAMPLING, width // _OVERSAMPLING, _OVERSAMPLING)
    filled = np.where(np.isfinite(depth), depth, depth[np.isfinite(depth)].min(initial=0.0)) / _OVERSAMPLING
    nearest = filled.reshape(cells).max(axis=(1, 3))
    own = np.where(is_covered, np.inf, filled).reshape(cells).min(axis=(1, 3))
    is_seen = np.isfinite(own)
    dark = np.zeros(own.shape)
    for radius_mm, strength in _NOOKS:
        radius = radius_mm * scale / _OVERSAMPLING
        here = np.zeros(own.shape, dtype=np.float32)
        for angle in np.pi * np.arange(_DIRECTIONS) / _DIRECTIONS:
            step = np.rint(radius * np.array([np.sin(angle), np.cos(angle)])).astype(int)
            # Both sides together, so that a slope by itself is not darkened.
            nearer = 0.5 * (_shifted(nearest, step) + _shifted(nearest, -step)) - np.where(is_seen, own, np.inf)
            here += (strength / _DIRECTIONS * np.clip(nearer / radius, 0.0, 1.0)).astype(np.float32)
        # Few directions leave edges of their own; they are smoothed away within what is seen.
        sums, count = (gaussian_filter(each, _SMOOTH * radius) for each in (here, is_seen.astype(np.float32)))
        dark += sums / np.maximum(count, 1e-3)
    return np.repeat(np.repeat(np.exp(-dark), _OVERSAMPLING, axis=0), _OVERSAMPLING, axis=1)


def _shifted(picture: Float, step: NDArray[np.int64]) -> Float:
    """Return what lies a step, rows and columns, from each pixel; beyond the edge that of the edge."""
    rows = np.clip(np.arange(picture.shape[0]) + step[0], 0, picture.shape[0] - 1)
    columns = np.clip(np.arange(picture.shape[1]) + step[1], 0, picture.shape[1] - 1)
    return picture[rows[:, None], columns[None, :]]
