"""Fill the small holes of a scan, and put what is new and what was there together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Float, Int, TriMesh, directed_edges
from ...base.notes import to_look_at
from ...base.rows import extent
from ...base.text import counted
from .holes import fill_hole, is_hole, neighbor_rings
from .topology import border_loops, half_edge_ends

WIDEST_FILLED_MM = 40.0
WIDEST_FILLED_SHARE = 0.2
"""A hole is small up to this width and this share of the part's length; choices of ours, no source."""
_MOST_HOLES = 3000


def fill_small_holes(
    points: Float, faces: Int, vectors: Float, border: Int, widest: float | None, notes: list[str]
) -> tuple[Float, NDArray[np.int64], int]:
    """Return new vertices and faces that close the small holes, and how many were closed."""
    nothing = np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64), 0
    if len(border) == 0:
        return nothing
    longest = float(extent(points.take(faces[:, 0], axis=0)).max())
    limit = min(WIDEST_FILLED_MM, WIDEST_FILLED_SHARE * longest) if widest is None else widest
    holes, wide = _holes(points, faces, vectors, border, limit)
    if wide:
        stay = f"{counted(len(wide), 'hole')} {'stays' if len(wide) == 1 else 'stay'}"
        notes.append(f"{stay} open, wider than {limit:.0f} mm: the widest {max(wide):.0f} mm across.")
    if not holes:
        return nothing
    holes.sort(key=lambda hole: hole[0])
    left = len(holes) - _MOST_HOLES
    _, graph = neighbor_rings(faces, np.concatenate([hole[1] for hole in holes]), len(points))
    new_points: list[Float] = []
    new_faces: list[NDArray[np.int64]] = []
    at = len(points)
    refused = 0
    for _width, loop, normals in holes[:_MOST_HOLES]:
        length = np.linalg.norm(normals, axis=1, keepdims=True)
        filling = fill_hole(points, loop, graph, normals / np.maximum(length, 1e-300))
        if filling is None:
            refused += 1
            continue
        index = np.concatenate([loop[::-1].astype(np.int64), at + np.arange(len(filling.points))])
        new_points.append(filling.points)
        new_faces.append(index[filling.faces])
        at += len(filling.points)
    filled = len(new_faces)
    if filled:
        widest_filled = holes[min(filled + refused, len(holes)) - 1][0]
        notes.append(
            f"{counted(filled, 'small hole')} filled, the widest {widest_filled:.1f} mm across"
            f" ({counted(at - len(points), 'new vertex', 'new vertices')})."
        )
    if refused or left > 0:
        still = counted(refused + max(left, 0), "small hole")
        notes.append(to_look_at(f"{still} left open, for folding over themselves or being too many."))
    if not filled:
        return nothing
    return np.concatenate(new_points), np.concatenate(new_faces), filled


def _holes(
    points: Float, faces: Int, vectors: Float, border: Int, limit: float
) -> tuple[list[tuple[float, Int, Float]], list[float]]:
    """Return the holes to fill, each with width, loop and the normals beside it, and the widths of those too wide."""
    begin, _ = half_edge_ends(faces, border)
    normal_at = dict(zip(begin.tolist(), border.tolist(), strict=True))
    holes, wide = [], []
    for loop in border_loops(faces, border):
        width = float(np.ptp(points[loop], axis=0).max())
        normals = vectors[np.array([normal_at[vertex] for vertex in loop.tolist()]) // 3]
        if len(loop) < 3 or not is_hole(points, loop, normals):
            continue
        if width <= limit:
            holes.append((width, loop, normals))
        else:
            wide.append(width)
    return holes, wide


def assembled(
    mesh: TriMesh, kept: Int, points: Float, faces: Int, new_points: Float, new_faces: NDArray[np.int64]
) -> TriMesh:
    """Return old and new faces as one mesh without unused vertices, colors carried along."""
    every = np.concatenate([points, new_points]) if len(new_points) else points
    all_faces = np.concatenate([faces, new_faces]).astype(np.int32) if len(new_faces) else faces
    colors = None
    if mesh.colors is not None:
        colors = np.concatenate([mesh.colors[kept], _colors_inside(mesh.colors[kept], len(new_points), new_faces)])
    used = np.zeros(len(every), dtype=bool)
    used[all_faces.reshape(-1)] = True
    if used.all():
        return TriMesh(every, all_faces, colors)
    number = np.cumsum(used, dtype=np.int32) - np.int32(1)
    return TriMesh(every[used], number[all_faces], None if colors is None else colors[used])


def _colors_inside(colors: NDArray[np.uint8], count: int, faces: NDArray[np.int64]) -> NDArray[np.uint8]:
    """Return colors for new vertices: what their neighbors have, spread inward step by step."""
    old = len(colors)
    value = np.zeros((old + count, 4))
    value[:old] = colors
    is_known = np.arange(old + count) < old
    edge = directed_edges(faces)
    edge = np.concatenate([edge, edge[:, ::-1]])
    while not is_known.all():
        step = edge[is_known[edge[:, 0]] & ~is_known[edge[:, 1]]]
        if len(step) == 0:
            value[~is_known] = 255
            break
        reached, place = np.unique(step[:, 1], return_inverse=True)
        place = place.reshape(-1)
        met = np.bincount(place)
        for channel in range(4):
            value[reached, channel] = np.bincount(place, value[step[:, 0], channel]) / met
        is_known[reached] = True
    return np.rint(value[old:]).astype(np.uint8)
