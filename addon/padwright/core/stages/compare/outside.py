"""The outside of a part that is made of regions, and of walls within: what a scan of it can show."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.mesh import Bool, TriMesh, joined
from ...geometry.query import NearestSurface
from ...geometry.solids import Solid

_MANY = 60_000
"""Faces from which on those that are hidden inside are looked for: a part of folded walls has hundreds of thousands."""

_RAYS = 48


def outside_of(bodies: Sequence[TriMesh], *, is_overlapping: bool) -> TriMesh:
    """Return the outside of bodies in one frame, mm, without the faces that two of them share.

    Faces inside, as those of folded walls, are left out where the sky cannot be seen from them.
    """
    if is_overlapping and len(bodies) > 1:
        first, *others = (Solid.of(each, "region") for each in bodies)
        whole = first.joined(others).mesh()
    else:
        whole = _without_shared(bodies)
    if len(whole.faces) < _MANY:
        return whole
    is_seen = _sees_the_sky(whole)
    return whole.submesh(is_seen) if is_seen.mean() < 0.9 else whole


def _without_shared(bodies: Sequence[TriMesh]) -> TriMesh:
    both = joined(bodies)
    # Files keep coordinates to 1e-4 mm, STLs in single floats: 1e-3 mm tells corners apart and joins equal ones.
    _, first, label = np.unique(np.round(both.vertices, 3), axis=0, return_index=True, return_inverse=True)
    faces = label.reshape(-1)[both.faces]
    corner = np.sort(faces, axis=1)
    order = np.lexsort(corner.T)
    is_twin = (np.diff(corner[order], axis=0) == 0).all(axis=1)
    inner = np.zeros(len(faces), dtype=bool)
    inner[order[:-1][is_twin]] = inner[order[1:][is_twin]] = True
    flat = (corner[:, 0] == corner[:, 1]) | (corner[:, 1] == corner[:, 2])
    return TriMesh(both.vertices[first], faces).submesh(~inner & ~flat)


def _sees_the_sky(mesh: TriMesh) -> Bool:
    """Return from which faces, (m,), at least one of many ways out is free."""
    surface = NearestSurface(mesh)
    step = np.arange(_RAYS) + 0.5
    high = 1.0 - 2.0 * step / _RAYS
    turn = np.pi * (1.0 + np.sqrt(5.0)) * step  # Fibonacci sphere: even to the eye
    ways = np.stack([np.sqrt(1 - high**2) * np.cos(turn), np.sqrt(1 - high**2) * np.sin(turn), high], axis=1)
    start = mesh.triangles.mean(axis=1) + 1e-3 * mesh.face_normals
    is_seen = np.zeros(len(mesh.faces), dtype=bool)
    for way in ways:
        asked = np.flatnonzero(~is_seen & (mesh.face_normals @ way > 0.2))
        if len(asked) == 0:
            continue
        hit, _ = surface.first_hit(start[asked], np.broadcast_to(way, (len(asked), 3)))
        is_seen[asked[hit < 0]] = True
    return is_seen
