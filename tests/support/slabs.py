"""Clay slabs on flat and round bases from formulas, with their exact volumes."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import numpy as np

from padwright.core.base.mesh import Float, TriMesh
from padwright.core.geometry.query import NearestSurface


def sheet(height: Callable[[Float, Float], Float], half: tuple[float, float], step: float) -> TriMesh:
    """Return a height field over a rectangle as an open sheet that faces up."""
    x = np.linspace(-half[0], half[0], round(2 * half[0] / step) + 1)
    y = np.linspace(-half[1], half[1], round(2 * half[1] / step) + 1)
    grid_x, grid_y = np.meshgrid(x, y, indexing="ij")
    vertices = np.stack([grid_x, grid_y, height(grid_x, grid_y)], axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(len(x) - 1), np.arange(len(y) - 1), indexing="ij")
    a = (i * len(y) + j).ravel()
    b, c, d = a + 1, a + len(y), a + len(y) + 1
    return TriMesh(vertices, np.concatenate([np.stack([a, c, d], 1), np.stack([a, d, b], 1)]))


def noisy(mesh: TriMesh, sigma: float, seed: int) -> TriMesh:
    """Return the mesh with white noise along its normals."""
    shift = sigma * np.random.default_rng(seed).normal(size=len(mesh.vertices))
    return TriMesh(mesh.vertices + shift[:, None] * mesh.vertex_normals, mesh.faces)


def punched(mesh: TriMesh, center: tuple[float, float], radius: float) -> TriMesh:
    """Return the mesh with a round hole, seen from above."""
    middle = mesh.triangles.mean(axis=1)[:, :2]
    return mesh.submesh(np.linalg.norm(middle - center, axis=1) > radius)


def tube(radius: Callable[[Float, Float], Float], length: float, step: float) -> TriMesh:
    """Return an open tube along z whose radius is a function of height and angle, facing outward."""
    middle = float(np.mean(radius(np.linspace(0, length, 20), np.linspace(0, 6, 20))))
    rows, columns = round(length / step) + 1, round(2 * np.pi * middle / step)
    z, angle = np.meshgrid(
        np.linspace(0, length, rows), np.linspace(0, 2 * np.pi, columns, endpoint=False), indexing="ij"
    )
    r = radius(z, angle)
    vertices = np.stack([r * np.cos(angle), r * np.sin(angle), z], axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns), indexing="ij")
    a, b = (i * columns + j).ravel(), (i * columns + (j + 1) % columns).ravel()
    return TriMesh(
        vertices, np.concatenate([np.stack([a, b, b + columns], 1), np.stack([a, b + columns, a + columns], 1)])
    )


def reading_of(base: TriMesh, impression: TriMesh, press: tuple[float, float, float] | None) -> SimpleNamespace:
    """Return what the pad needs of a reading: clay is what stands more than 2 mm off the base."""
    distance = NearestSurface(base).find(impression.vertices).distance
    return SimpleNamespace(
        press_direction=None if press is None else np.array(press),
        thickness=distance,
        is_clay=distance > 2.0,
        is_contact=np.zeros(len(distance), dtype=bool),
    )
