"""Closed surfaces of the benchmark: scans capped, and a slab of any number of triangles."""

from __future__ import annotations

import numpy as np

from padwright.core.base.mesh import Int, TriMesh
from scan_making import grid_faces


def capped(mesh: TriMesh) -> TriMesh:
    """Return an open scan with each border closed by a fan to its middle."""
    after = {int(end): int(start) for start, end in mesh.boundary_edges}
    vertices, faces = [mesh.vertices], [mesh.faces]
    count = len(mesh.vertices)
    while after:
        loop = [next(iter(after))]
        while (step := after.pop(loop[-1])) != loop[0]:
            loop.append(step)
        vertices.append(mesh.vertices[loop].mean(axis=0, keepdims=True))
        ring = np.array(loop)
        faces.append(np.stack([ring, np.roll(ring, -1), np.full(len(ring), count)], axis=1))
        count += 1
    return TriMesh(np.concatenate(vertices), np.concatenate(faces).astype(np.int32))


def sheet_solid(triangles: int) -> TriMesh:
    """Return a closed slab with a wavy top of about so many triangles: coordinates with all their digits."""
    side = int(np.sqrt(triangles / 4.0))
    x, y = np.meshgrid(np.linspace(0.0, 200.0, side), np.linspace(0.0, 200.0, side), indexing="ij")
    z = 20.0 + 3.0 * np.sin(x / 9.0) * np.cos(y / 7.0) + np.random.default_rng(0).normal(scale=0.1, size=x.shape)
    top = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    bottom = top * [1.0, 1.0, 0.0]
    grid = np.asarray(grid_faces(side, side))
    faces = np.concatenate([grid, grid[:, ::-1] + len(top)])
    edges: Int = TriMesh(top, grid.astype(np.int32)).boundary_edges
    start, end = edges.T
    wall = np.concatenate(
        [np.stack([end, start, start + len(top)], axis=1), np.stack([end, start + len(top), end + len(top)], axis=1)]
    )
    mesh = TriMesh(np.concatenate([top, bottom]), np.concatenate([faces, wall]).astype(np.int32))
    return mesh if mesh.volume > 0 else mesh.flipped()
