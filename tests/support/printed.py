"""Scans of a printed part with their truth: shrunk by axis, bent, noisy, on a table with things on it, turned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from padwright.core.base.mesh import Float, TriMesh
from padwright.core.geometry.frames import moved, rigid
from padwright.core.geometry.implicit import Grid
from padwright.core.geometry.query import iso_surface, signed_distances


@dataclass(frozen=True, eq=False)
class PrintedScan:
    """A scan of a print, in mm times 1 / `scan_factor`, and where it truly lies."""

    mesh: TriMesh
    scan_to_bed: Float  # (4, 4); once multiplied by `scan_factor`, to the frame in which the part was given
    scan_factor: float


def bent(places: Float, middle: Float, curvature: tuple[float, float, float]) -> Float:
    """Return places, (n, 3), of a plate bent by curvatures along x, along y and twist, 1/mm, with its layers kept."""
    x, y, z = (places - middle).T
    xx, yy, xy = curvature
    return places + np.stack(
        [-z * (xx * x + xy * y), -z * (yy * y + xy * x), 0.5 * xx * x * x + 0.5 * yy * y * y + xy * x * y], axis=1
    )


def waves(places: Float, sigma: float, reach: float, rng: np.random.Generator) -> Float:
    """Return smooth noise of a standard deviation at places (n, 3): 64 waves of lengths around 2 pi times the reach."""
    way = rng.normal(size=(64, 3)) / reach
    phase = rng.uniform(0.0, 2.0 * np.pi, 64)
    return sigma * np.sqrt(2.0 / 64.0) * np.cos(places @ way.T + phase).sum(axis=1)


def remeshed(mesh: TriMesh, step: float, rng: np.random.Generator) -> TriMesh:
    """Return the surface of a closed mesh with other vertices: those of a grid that lies anyhow."""
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    turn[0] *= np.linalg.det(turn)
    places = mesh.vertices @ turn.T
    grid = Grid.around(places.min(axis=0) - 3 * step, places.max(axis=0) + 3 * step, step)
    x, y, z = np.meshgrid(*(axis + start for axis, start in zip(grid.axes, grid.origin, strict=True)), indexing="ij")
    at = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    turned = TriMesh(places, mesh.faces)
    longest = float(turned.edge_lengths.max())
    near = np.isfinite(cKDTree(places).query(at, distance_upper_bound=2.0 * step + longest)[0]).reshape(grid.shape)
    field = np.where(ndimage.binary_fill_holes(near) & ~near, -3.0 * step, 3.0 * step)
    field[near] = np.clip(signed_distances(turned, at[near.ravel()])[0], -3.0 * step, 3.0 * step)
    found = iso_surface(field, grid.origin, step)
    return TriMesh(found.vertices @ turn, found.faces)


def table(under: TriMesh, z: float, room: float, step: float, hole_mm: float) -> TriMesh:
    """Return a flat table at a height, around a part, without what the part hides."""
    low, high = under.bounds[0, :2] - room, under.bounds[1, :2] + room
    x, y = np.meshgrid(np.arange(low[0], high[0], step), np.arange(low[1], high[1], step), indexing="ij")
    rows, columns = x.shape
    vertices = np.stack([x.ravel(), y.ravel(), np.full(x.size, z)], axis=1)
    first = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)[None, :]).ravel()
    faces = np.concatenate(
        [
            np.stack([first, first + columns, first + 1], axis=1),
            np.stack([first + 1, first + columns, first + columns + 1], axis=1),
        ]
    )
    near, _ = cKDTree(under.vertices[:, :2]).query(vertices[:, :2], distance_upper_bound=hole_mm)
    return TriMesh(vertices, faces).submesh(~np.isfinite(near)[faces].any(axis=1))


def block(low: Float, high: Float, step: float) -> TriMesh:
    """Return a box as a scan would have it, evenly meshed."""
    middle, half = 0.5 * (np.asarray(low) + high), 0.5 * (np.asarray(high) - low)
    grid = Grid.around(np.asarray(low) - 2 * step, np.asarray(high) + 2 * step, step)
    axes = [axis + start - mid for axis, start, mid in zip(grid.axes, grid.origin, middle, strict=True)]
    out = [np.abs(axis) - each for axis, each in zip(axes, half, strict=True)]
    field = np.maximum(np.maximum(out[0], out[1]), out[2])
    return iso_surface(field.astype(float) + np.zeros(grid.shape), grid.origin, step)


def joined(meshes: list[TriMesh]) -> TriMesh:
    """Return several meshes as one."""
    starts = np.cumsum([0, *(len(each.vertices) for each in meshes)])
    faces = np.concatenate([each.faces + start for each, start in zip(meshes, starts, strict=False)])
    return TriMesh(np.concatenate([each.vertices for each in meshes]), faces)


def printed_scan(
    part: TriMesh,
    *,
    shrinkage_pct: tuple[float, float, float] = (0.0, 0.0, 0.0),
    curvature: tuple[float, float, float] = (0.0, 0.0, 0.0),
    noise_mm: float = 0.15,
    wave_mm: float = 0.0,
    wave_reach_mm: float = 12.0,
    step: float = 1.6,
    hidden_mm: float | None = 1.5,
    with_table: bool = False,
    with_clutter: bool = False,
    scan_factor: float = 1.0,
    mirrored: bool = False,
    is_turned: bool = True,
    seed: int = 0,
) -> PrintedScan:
    """Return a scan of a print of a part that stands with z up.

    Parameters
    ----------
    part : TriMesh
        Closed, mm, as asked for, z the direction of build.
    hidden_mm : float, optional
        What faces down, or lies lower over the table than this, was not seen; None: seen from all around.
    scan_factor : float
        By what the scan must be multiplied to be true.
    """
    rng = np.random.default_rng(seed)
    middle = part.bounds.mean(axis=0)
    mesh = remeshed(part, step, rng)
    places = bent(mesh.vertices, middle, curvature)
    places = middle + (places - middle) * (1.0 - np.asarray(shrinkage_pct) / 100.0)
    normal = mesh.vertex_normals
    off = rng.normal(scale=noise_mm, size=len(places))
    if wave_mm:
        off = off + waves(places, wave_mm, wave_reach_mm, rng)
    shape = TriMesh(places, mesh.faces)
    floor = float(places[:, 2].min())
    made = TriMesh(places + off[:, None] * normal, mesh.faces)
    if hidden_mm is not None:
        is_low = shape.triangles[:, :, 2].min(axis=1) < floor + hidden_mm
        made = made.submesh(~((shape.face_normals[:, 2] < -0.3) | is_low))
    things = [made]
    if with_table:
        board = table(shape, floor, 60.0, 2.5 * step, 4.0)
        shift = np.zeros((len(board.vertices), 3))
        shift[:, 2] = rng.normal(scale=noise_mm, size=len(board.vertices))
        things.append(TriMesh(board.vertices + shift, board.faces))
    if with_clutter:
        corner = np.array([places[:, 0].max() + 15.0, middle[1], floor + 0.5])
        things.append(block(corner, corner + np.array([30.0, 20.0, 15.0]), 2 * step))
    scene = joined(things)
    if mirrored:
        scene = TriMesh(scene.vertices * [-1.0, 1.0, 1.0], scene.faces[:, ::-1])
    pose = np.eye(4)
    if is_turned:
        turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
        turn[0] *= np.linalg.det(turn)
        pose = rigid(turn, rng.uniform(-200.0, 200.0, 3))
    back = np.linalg.inv(pose)
    return PrintedScan(TriMesh(moved(pose, scene.vertices) / scan_factor, scene.faces), back, scan_factor)
