"""Clay on a flat plate and on a rod, pressed by formulas, so that every number of the imprint is known exactly."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from padwright.core.base.mesh import TriMesh

Float = NDArray[np.float64]
Depth = Callable[[Float, Float], Float]
DOWN = np.array([0.0, 0.0, -1.0])


@dataclass(frozen=True)
class Dimple:
    """A round Gaussian hollow."""

    x: float
    y: float
    depth: float
    sigma: float = 13.0

    def __call__(self, x: Float, y: Float) -> Float:
        away = (x - self.x) ** 2 + (y - self.y) ** 2
        return self.depth * np.exp(-0.5 * away / self.sigma**2)


def together(*parts: Depth) -> Depth:
    return lambda x, y: sum(part(x, y) for part in parts)


def sheet(width: float, length: float, step: float, height: Depth, seed: int = 0) -> TriMesh:
    """Return a sheet about the origin; its inner points are shaken so that no two cells are alike."""
    rng = np.random.default_rng(seed)
    columns, rows = round(width / step) + 1, round(length / step) + 1
    x, y = np.meshgrid(
        np.linspace(-width / 2, width / 2, columns), np.linspace(-length / 2, length / 2, rows), indexing="ij"
    )
    shake = rng.uniform(-0.25, 0.25, (2, columns, rows)) * step
    shake[:, [0, -1], :] = 0.0
    shake[:, :, [0, -1]] = 0.0
    x, y = x + shake[0], y + shake[1]
    index = np.arange(columns * rows).reshape(columns, rows)
    a, b, c, d = (corner.ravel() for corner in (index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]))
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return TriMesh(np.stack([x, y, height(x, y)], axis=-1).reshape(-1, 3), faces)


def slab(imprint: Depth, thickness: float = 20.0, half: tuple[float, float] = (60.0, 45.0), wall: float = 4.0) -> Depth:
    """Return the height of a clay slab over a flat plate: its edge rises over `wall` mm, the imprint is taken off."""

    def height(x: Float, y: Float) -> Float:
        inside = np.minimum(half[0] - np.abs(x), half[1] - np.abs(y))
        rise = np.clip(inside / wall, 0.0, 1.0)
        return np.where(inside > 0, rise * (thickness - imprint(x, y)), 0.0)

    return height


def plate(step: float = 2.0) -> TriMesh:
    return sheet(160.0, 130.0, step, lambda x, y: 0.0 * x, seed=3)


def pressed(imprint: Depth, step: float = 2.0, thickness: float = 20.0) -> TriMesh:
    return sheet(160.0, 130.0, step, slab(imprint, thickness), seed=1)


def noisy(mesh: TriMesh, sigma: float, rng: np.random.Generator) -> TriMesh:
    return TriMesh(mesh.vertices + rng.normal(0.0, sigma, (len(mesh.vertices), 1)) * mesh.vertex_normals, mesh.faces)


def rod(radius: Callable[[Float, Float], Float], length: float = 120.0, step: float = 2.0) -> TriMesh:
    """Return an open rod along z whose radius is a function of angle and z."""
    around = max(12, round(2 * np.pi * 20.0 / step))
    along = round(length / step) + 1
    angle, z = np.meshgrid(
        np.arange(around) * 2 * np.pi / around, np.linspace(-length / 2, length / 2, along), indexing="ij"
    )
    r = radius(angle, z)
    points = np.stack([r * np.cos(angle), r * np.sin(angle), z], axis=-1).reshape(-1, 3)
    index = np.arange(around * along).reshape(around, along)
    after = np.roll(index, -1, axis=0)
    a, b, c, d = (part.ravel() for part in (index[:, :-1], after[:, :-1], after[:, 1:], index[:, 1:]))
    return TriMesh(points, np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]))
