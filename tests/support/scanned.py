"""Surfaces from formulas, as a scanner would give them: for the tests of cleaning."""

from __future__ import annotations

import numpy as np

from padwright.core.base.mesh import TriMesh


def grid(x: np.ndarray, y: np.ndarray, height) -> TriMesh:  # type: ignore[no-untyped-def]
    """Return a sheet z = height(x, y) whose faces look up."""
    columns, rows = len(x), len(y)
    a, b = np.meshgrid(np.arange(columns - 1), np.arange(rows - 1), indexing="ij")
    corner = (a * rows + b).ravel()
    faces = np.concatenate(
        [
            np.stack([corner, corner + rows, corner + 1], axis=1),
            np.stack([corner + 1, corner + rows, corner + rows + 1], axis=1),
        ]
    )
    across, along = np.meshgrid(x, y, indexing="ij")
    return TriMesh(np.stack([across, along, height(across, along)], axis=-1).reshape(-1, 3), faces)


def sphere(radius: float = 30.0, rows: int = 40, columns: int = 80) -> TriMesh:
    """Return a closed sphere from circles of latitude, inscribed."""
    polar = np.linspace(0, np.pi, rows + 1)[1:-1]
    turn = np.linspace(0, 2 * np.pi, columns, endpoint=False)
    ring = np.stack(
        [
            np.outer(np.sin(polar), np.cos(turn)),
            np.outer(np.sin(polar), np.sin(turn)),
            np.outer(np.cos(polar), np.ones(columns)),
        ],
        axis=-1,
    ).reshape(-1, 3)
    vertices = radius * np.concatenate([ring, [[0, 0, 1], [0, 0, -1]]])
    step = np.arange(columns)
    after = (step + 1) % columns
    faces = []
    for row in range(rows - 2):
        upper, lower = row * columns, (row + 1) * columns
        faces.append(np.stack([upper + step, lower + step, upper + after], axis=1))
        faces.append(np.stack([upper + after, lower + step, lower + after], axis=1))
    top, bottom, last = len(ring), len(ring) + 1, (rows - 2) * columns
    faces.append(np.stack([np.full(columns, top), step, after], axis=1))
    faces.append(np.stack([np.full(columns, bottom), last + after, last + step], axis=1))
    return TriMesh(vertices, np.concatenate(faces))


def board(step: float = 3.0) -> TriMesh:
    """Return a board of 240 x 180 mm, its top wavy, its edge rolled down 25 mm; open at the bottom, outside up."""
    x, y = np.arange(-120, 120.1, step), np.arange(-90, 90.1, step)

    def height(across: np.ndarray, along: np.ndarray) -> np.ndarray:
        edge = np.minimum(120 - np.abs(across), 90 - np.abs(along))
        return 2 * np.sin(across / 25) * np.cos(along / 30) - 25 * np.clip(1 - edge / 6, 0, 1) ** 2

    return grid(x, y, height)


def joined(*meshes: TriMesh) -> TriMesh:
    """Return meshes side by side as one list of triangles."""
    offset = np.cumsum([0, *[len(mesh.vertices) for mesh in meshes]])
    return TriMesh(
        np.concatenate([mesh.vertices for mesh in meshes]),
        np.concatenate([mesh.faces + start for mesh, start in zip(meshes, offset, strict=False)]),
    )


def moved(mesh: TriMesh, by: tuple[float, float, float]) -> TriMesh:
    """Return the mesh moved."""
    return TriMesh(mesh.vertices + np.array(by), mesh.faces)


def without(mesh: TriMesh, center: tuple[float, float, float], radius: float) -> TriMesh:
    """Return the mesh with the faces around a point cut out."""
    middle = mesh.triangles.mean(axis=1)
    return mesh.submesh(np.linalg.norm(middle - np.array(center), axis=1) > radius)


def soup(mesh: TriMesh) -> TriMesh:
    """Return the mesh with every triangle on its own three vertices."""
    return TriMesh(mesh.triangles.reshape(-1, 3), np.arange(3 * len(mesh.faces)).reshape(-1, 3))
