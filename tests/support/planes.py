"""A tilted square of triangles to try fields and smoothing on."""

from __future__ import annotations

import numpy as np

from padwright.core.base.mesh import TriMesh


def plane(count: int = 41, half: float = 20.0, jitter: float = 0.0, seed: int = 0) -> TriMesh:
    """A square in the plane z = 0.3 x - 0.2 y, its inner vertices moved at random by a share of the spacing."""
    axis = np.linspace(-half, half, count)
    x, y = (part.ravel() for part in np.meshgrid(axis, axis, indexing="ij"))
    inner = (np.abs(x) < half - 1e-9) & (np.abs(y) < half - 1e-9)
    move = np.random.default_rng(seed).uniform(-1, 1, (2, len(x))) * jitter * (axis[1] - axis[0]) * inner
    x, y = x + move[0], y + move[1]
    index = np.arange(count * count).reshape(count, count)
    a, b, c, d = index[:-1, :-1].ravel(), index[1:, :-1].ravel(), index[1:, 1:].ravel(), index[:-1, 1:].ravel()
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    return TriMesh(np.stack([x, y, 0.3 * x - 0.2 * y], 1), faces)
