"""Blocks of folded walls between two skins, and other solids made from formulas, as a printer would lay them."""

from __future__ import annotations

from collections.abc import Iterable

import manifold3d
import numpy as np

from padwright.core.base.mesh import Float, TriMesh

Solid = manifold3d.Manifold


def to_mesh(solid: Solid) -> TriMesh:
    """Return a solid as a mesh; fail where it is none."""
    assert solid.status() == manifold3d.Error.NoError
    mesh = solid.to_mesh64()
    return TriMesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int32))


def box(low: Iterable[float], high: Iterable[float]) -> Solid:
    """Return the box between two corners."""
    low, high = np.asarray(list(low), dtype=float), np.asarray(list(high), dtype=float)
    return Solid.cube(tuple(high - low)).translate(tuple(low))


def slab(corners: Float) -> Solid:
    """Return the solid between two alike grids of corners, (2, a, b, 3): a wall with a front and a back."""
    front, back = corners
    rows, columns = front.shape[:2]
    index = np.arange(rows * columns).reshape(rows, columns)
    square = np.stack([index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]], -1).reshape(-1, 4)
    count = rows * columns
    loop = np.concatenate([index[:, 0], index[-1, 1:], index[-2::-1, -1], index[0, -2:0:-1]])
    after = np.roll(loop, -1)
    faces = [
        square[:, [0, 2, 1]], square[:, [0, 3, 2]], square[:, [0, 1, 2]] + count, square[:, [0, 2, 3]] + count,
        np.stack([loop, after, after + count], 1), np.stack([loop, after + count, loop + count], 1),
    ]  # fmt: skip
    vertices = np.concatenate([front.reshape(-1, 3), back.reshape(-1, 3)])
    solid = Solid(manifold3d.Mesh64(vert_properties=vertices, tri_verts=np.concatenate(faces).astype(np.uint64)))
    if solid.volume() < 0.0:
        turned = np.concatenate(faces)[:, ::-1]
        solid = Solid(manifold3d.Mesh64(vert_properties=vertices, tri_verts=turned.astype(np.uint64)))
    assert solid.status() == manifold3d.Error.NoError
    return solid


def chevron_wall(
    x: float, length: float, low: float, high: float, width: float, slope_deg: float,
    *, wave_mm: float = 0.0, wave_length_mm: float = 30.0, step_mm: float = 2.0,
) -> Solid:  # fmt: skip
    """Return a wall about x along y, from y = 0, folded once half way up, of a width in every level cut."""
    y = np.linspace(0.0, length, max(2, round(length / step_mm) + 1) if wave_mm else 2)
    middle = 0.5 * (low + high)
    z = np.array([low, middle, high])
    lean = np.tan(np.radians(slope_deg)) * (0.5 * (high - low) - np.abs(z - middle))
    at_x = x + wave_mm * np.sin(2 * np.pi * y / wave_length_mm)[:, None] + lean[None, :]
    grid = np.stack([at_x, np.broadcast_to(y[:, None], at_x.shape), np.broadcast_to(z, at_x.shape)], -1)
    half = np.array([0.5 * width, 0.0, 0.0])
    return slab(np.stack([grid - half, grid + half]))


def folded_block(
    size: tuple[float, float, float] = (40.0, 30.0, 22.0), *, skin: float = 1.0, rim: float = 2.0, pitch: float = 6.0,
    width: float = 1.35, slope_deg: float = 30.0, roof_gap: float = 0.0, wave_mm: float = 0.0, step_mm: float = 2.0,
) -> Solid:  # fmt: skip
    """Return a block with upright sides of thickness `rim`, two skins and chevron walls between them.

    `roof_gap` leaves the walls so much short of the roof.
    """
    x, y, z = size
    inside = box((rim, rim, skin), (x - rim, y - rim, z - skin))
    walls = [
        chevron_wall(at, y, skin - 0.1, z - skin + 0.1, width, slope_deg, wave_mm=wave_mm, step_mm=step_mm)
        for at in np.arange(-z, x + pitch, pitch)
    ]
    void = inside - Solid.batch_boolean(walls, manifold3d.OpType.Add)
    if roof_gap:
        void += box((rim, rim, z - skin - roof_gap), (x - rim, y - rim, z - skin))
    return box((0, 0, 0), size) - void
