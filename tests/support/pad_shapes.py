"""Pads from formulas, meshed as real ones are: an even triangle mesh of a signed-distance field."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from padwright.core.base.mesh import Float, TriMesh
from padwright.core.geometry.implicit import Grid
from padwright.core.stages.pad.pad_surface import extract_surface

DOWN = np.array([0.0, 0.0, -1.0])


@dataclass(frozen=True, eq=False)
class ShapedPad:
    """A pad made from a formula."""

    mesh: TriMesh
    side: NDArray[Any]
    press_direction: Float | None

    def moved(self, matrix: Float) -> ShapedPad:
        """Return the pad moved by a rigid 4x4 matrix."""
        press = None if self.press_direction is None else matrix[:3, :3] @ self.press_direction
        return ShapedPad(self.mesh.transformed(matrix), self.side, press)

    def shuffled(self, seed: int) -> tuple[ShapedPad, NDArray[np.int64]]:
        """Return the pad with vertices and faces in another order, and where each old vertex went."""
        random = np.random.default_rng(seed)
        order = random.permutation(len(self.mesh.vertices))
        new = np.argsort(order)
        faces = new[self.mesh.faces][random.permutation(len(self.mesh.faces))]
        turn = random.integers(0, 3, len(faces))
        faces = faces[np.arange(len(faces))[:, None], (np.arange(3) + turn[:, None]) % 3]
        mesh = TriMesh(self.mesh.vertices[order], faces)
        return ShapedPad(mesh, np.asarray(self.side)[order], self.press_direction), new


def _meshed(
    low: Float, high: Float, step: float, field: Callable[..., Float], press: Float | None
) -> tuple[TriMesh, Grid]:
    grid = Grid.around(np.asarray(low, float) - 3 * step, np.asarray(high, float) + 3 * step, step)
    x, y, z = (axis + start for axis, start in zip(grid.axes, grid.origin, strict=True))
    values = np.asarray(field(x, y, z) + np.zeros(grid.shape), dtype=np.float32)
    return extract_surface(values, grid)[0], grid


def height_pad(
    top: Callable[..., Any],
    bottom: Callable[..., Any],
    inside: Callable[..., Any],
    half: tuple[float, float],
    heights: tuple[float, float],
    step: float = 1.5,
    rim_mm: float = 1.5,
) -> ShapedPad:
    """Return the pad between two heights over a footprint (distance `inside`, above 0 within), pressed down along z."""

    def parts(x: Any, y: Any, z: Any) -> tuple[Any, Any, Any]:
        return z - top(x, y), bottom(x, y) - z, -inside(x, y)

    def field(x: Any, y: Any, z: Any) -> Any:
        above, below, out = parts(x, y, z)
        slab = np.maximum(above, below)
        round_off = np.sqrt(np.maximum(slab + rim_mm, 0) ** 2 + np.maximum(out + rim_mm, 0) ** 2) - rim_mm
        return np.maximum(np.maximum(slab, out), round_off)

    mesh, _ = _meshed((-half[0], -half[1], heights[0]), (half[0], half[1], heights[1]), step, field, DOWN)
    above, below, out = parts(*mesh.vertices.T)
    side = np.array([1, 2, 0])[np.argmax([above, below, out + 0.3 * rim_mm], axis=0)].astype(np.int8)
    return ShapedPad(mesh, side, DOWN)


def box_pad(size: tuple[float, float, float] = (80.0, 50.0, 12.0), step: float = 1.5) -> ShapedPad:
    """Return a flat pad with rounded edges, its base at z = 0."""
    half = (size[0] / 2, size[1] / 2)
    return height_pad(
        lambda x, y: size[2] + 0 * x,
        lambda x, y: 0 * x,
        lambda x, y: np.minimum(half[0] - np.abs(x), half[1] - np.abs(y)),
        half,
        (0.0, size[2]),
        step,
    )


def seat_pad(step: float = 1.5, hole_mm: float = 0.0, scale: float = 1.0) -> ShapedPad:
    """Return a wavy seat-like pad on a curved base, with a round opening in its middle if asked."""

    def hollow(x: Any, y: Any) -> Any:
        bones = sum(
            8.0 * np.exp(-((x - c) ** 2 + (y + 5 * scale) ** 2) / (2 * (18.0 * scale) ** 2))
            for c in (-35 * scale, 35 * scale)
        )
        return 24.0 - bones + 2.0 * np.sin(x / 9.0) * np.cos(y / 11.0)

    def inside(x: Any, y: Any) -> Any:
        edge = (1.0 - np.hypot(x / (85.0 * scale), y / (60.0 * scale))) * 60.0 * scale
        return edge if hole_mm == 0 else np.minimum(edge, np.hypot(x, y) - hole_mm)

    return height_pad(
        hollow,
        lambda x, y: 3.0 + 3.0 * np.cos(x / 40.0) + y * y / 900.0 / scale,
        inside,
        (85.0 * scale, 60.0 * scale),
        (0.0, 30.0),
        step,
    )


def sleeve_pad(step: float = 1.2, length: float = 60.0, inner: float = 12.0, wall: float = 6.0) -> ShapedPad:
    """Return a wavy tube around the z axis: the body's hand outside, the base inside, no press direction."""

    def outer(x: Any, y: Any, z: Any) -> Any:
        turn = np.arctan2(y, x)
        return inner + wall + 1.2 * np.cos(3 * turn) * np.cos(z / 9.0)

    def parts(x: Any, y: Any, z: Any) -> tuple[Any, Any, Any]:
        radius = np.hypot(x, y)
        return radius - outer(x, y, z), inner - radius, np.abs(z) - length / 2

    def field(x: Any, y: Any, z: Any) -> Any:
        body, base, out = parts(x, y, z)
        slab = np.maximum(body, base)
        round_off = np.sqrt(np.maximum(slab + 1.5, 0) ** 2 + np.maximum(out + 1.5, 0) ** 2) - 1.5
        return np.maximum(np.maximum(slab, out), round_off)

    reach = inner + wall + 2.0
    mesh, _ = _meshed((-reach, -reach, -length / 2), (reach, reach, length / 2), step, field, None)
    body, base, out = parts(*mesh.vertices.T)
    side = np.array([1, 2, 0])[np.argmax([body, base, out + 0.4], axis=0)].astype(np.int8)
    return ShapedPad(mesh, side, None)
