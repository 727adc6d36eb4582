"""Pictures of poses that the scans cannot tell apart: the base in gray, the impression in color, from two sides."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Float, TriMesh, sums_by
from ...geometry.matching import row_numbers
from ...geometry.raster import png_bytes, rasterize

SIZE = 360
"""Pixels a side of each of the two views."""

_MOST_FACES = 60_000
"""More triangles than this a scan show no more in so small a picture; every k-th vertex is kept (own choice)."""

_MARGIN = 0.06
_BACKGROUND = np.array([238, 238, 234], dtype=np.float64)
_COLORS = np.array([[150, 150, 150], [226, 140, 60]], dtype=np.float64)
"""Base gray, impression orange: they differ in lightness too (own choice)."""

_VIEWS = ((0.5, 0.7), (0.5 + np.pi, -0.5))
"""Turn about the height and rise over the level, rad: the second looks from behind and below."""


def pose_pictures(
    base: TriMesh, impression: TriMesh, matrices: Sequence[Float], *, size: int = SIZE
) -> tuple[bytes, ...]:
    """Return a PNG for each pose, (4, 4), impression to base: two views side by side, `size` pixels each.

    All poses are seen from the same two sides.
    """
    coarse_base, coarse_impression = _thinned(base), _thinned(impression)
    axes = _axes(coarse_base)
    return tuple(
        png_bytes(
            np.concatenate(
                [_view(coarse_base, coarse_impression.transformed(matrix), axes, view, size) for view in _VIEWS], axis=1
            )
        )
        for matrix in matrices
    )


def _thinned(mesh: TriMesh) -> TriMesh:
    """Return the scan with about `_MOST_FACES` triangles: corners in one cell become one."""
    if len(mesh.faces) <= _MOST_FACES:
        return mesh
    cell = float(np.sqrt(2.0 * mesh.area / _MOST_FACES))
    number = row_numbers(np.floor((mesh.vertices - mesh.bounds[0]) / cell).astype(np.int64))
    count = np.bincount(number)
    middle = sums_by(number, mesh.vertices) / count[:, None]
    faces = number[mesh.faces]
    is_whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return TriMesh(middle, faces[is_whole].astype(np.int32))


def _axes(mesh: TriMesh) -> Float:
    """Return the length, width and height axes as rows; the height points to where most of the surface faces."""
    centered = mesh.vertices - mesh.vertices.mean(axis=0)
    length, _, height = np.linalg.eigh(centered.T @ centered)[1].T[::-1]
    facing = (mesh.face_normals * mesh.face_areas[:, None]).sum(axis=0)
    height = height if facing @ height >= 0 else -height
    return np.stack([length, np.cross(height, length), height])


def _view(base: TriMesh, impression: TriMesh, axes: Float, view: tuple[float, float], size: int) -> NDArray[np.uint8]:
    turn, rise = view
    level = -axes[1] * np.cos(turn) + axes[0] * np.sin(turn)
    toward = level * np.cos(rise) + axes[2] * np.sin(rise)
    right = np.cross(axes[2], toward)
    right /= np.linalg.norm(right)
    eye = np.stack([right, np.cross(toward, right), toward])
    vertices = np.concatenate([base.vertices, impression.vertices])
    faces = np.concatenate([base.faces, impression.faces + len(base.vertices)])
    is_impression = np.arange(len(faces)) >= len(base.faces)
    seen = vertices @ eye.T
    low, high = seen[:, :2].min(axis=0), seen[:, :2].max(axis=0)
    scale = size * (1.0 - 2.0 * _MARGIN) / max(float((high - low).max()), 1e-9)
    screen = np.column_stack([(seen[:, :2] - 0.5 * (low + high)) * [scale, -scale] + 0.5 * size, seen[:, 2] * scale])
    raster = rasterize(screen, faces, size, size)
    hit = raster.is_hit
    face = raster.face[hit]
    normals = np.concatenate([base.vertex_normals, impression.vertex_normals])
    normal = np.einsum("pc,pck->pk", raster.weights[hit], normals[faces[face]]) @ eye.T
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    # A scan is open: its inside is seen through the opening, and shown darker.
    light = np.where(normal[:, 2] >= 0.0, 0.45 + 0.55 * normal[:, 2] + 0.12 * normal[:, 1], 0.35 - 0.15 * normal[:, 2])
    image = np.ones((size, size, 3)) * _BACKGROUND
    image[hit] = _COLORS[is_impression[face].astype(int)] * np.clip(light, 0.0, 1.05)[:, None]
    return np.clip(np.round(image), 0, 255).astype(np.uint8)
