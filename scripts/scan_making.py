"""Make things that look like scans from formulas: sheets over an outline, noise, holes, debris, any pose.

Everything here works on plain arrays in mm, takes its randomness from the generator it is given, and is shared by the
script that makes the demo scans and by the tests. Nothing of it ships in the extension.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay, cKDTree

Float = NDArray[np.float64]
Int = NDArray[np.int64]
Height = Callable[[Float, Float], Float]
Sheet = tuple[Float, Int]


def smooth_step(value: Float, start: float, end: float) -> Float:
    """Return 0 before `start`, 1 after `end`, 3 t^2 - 2 t^3 between; `start` may be greater than `end`."""
    share = np.clip((value - start) / (end - start), 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)


def rounded_box_depth(x: Float, y: Float, half_x: float, half_y: float, power: float) -> Float:
    """Return about how far each point lies inside the superellipse |x/a|^p + |y/b|^p = 1, mm; negative outside."""
    scaled_x, scaled_y = np.abs(x) / half_x, np.abs(y) / half_y
    level = np.maximum((scaled_x**power + scaled_y**power) ** (1.0 / power), 1e-9)
    slope = level ** (1.0 - power) * np.hypot(scaled_x ** (power - 1.0) / half_x, scaled_y ** (power - 1.0) / half_y)
    return (1.0 - level) / np.maximum(slope, 1e-9)


def loop_from_radius(radius: Callable[[Float], Float], center: tuple[float, float] = (0.0, 0.0)) -> Float:
    """Return a counter-clockwise loop, (k, 2), from its distance to the center at each angle."""
    angle = np.linspace(0.0, 2.0 * np.pi, 4000, endpoint=False)
    distance = radius(angle)
    return np.stack([center[0] + distance * np.cos(angle), center[1] + distance * np.sin(angle)], axis=1)


def resampled(loop: Float, spacing: float) -> Float:
    """Return the closed loop with points evenly `spacing` mm apart (about)."""
    closed = np.concatenate([loop, loop[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    count = max(16, round(along[-1] / spacing))
    at = np.linspace(0.0, along[-1], count, endpoint=False)
    return np.stack([np.interp(at, along, closed[:, axis]) for axis in range(2)], axis=1)


def loop_normals(loop: Float) -> Float:
    """Return the unit normals that point out of a counter-clockwise loop, (k, 2)."""
    tangent = np.roll(loop, -1, axis=0) - np.roll(loop, 1, axis=0)
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    return normal / np.linalg.norm(normal, axis=1, keepdims=True)


def is_in_loop(points: Float, loop: Float) -> NDArray[np.bool_]:
    """Tell which points, (q, 2), lie inside the loop (even-odd rule)."""
    inside = np.zeros(len(points), dtype=bool)
    for start, end in zip(loop, np.roll(loop, -1, axis=0), strict=True):
        if start[1] == end[1]:
            continue
        crosses = (start[1] > points[:, 1]) != (end[1] > points[:, 1])
        at = start[0] + (points[:, 1] - start[1]) * (end[0] - start[0]) / (end[1] - start[1])
        inside ^= crosses & (points[:, 0] < at)
    return inside


def _lattice(low: Float, high: Float, spacing: float) -> Float:
    rows = np.arange(low[1], high[1], spacing * np.sqrt(0.75))
    columns = np.arange(low[0], high[0], spacing)
    x, y = np.meshgrid(columns, rows)
    x = x + (np.arange(len(rows)) % 2)[:, None] * 0.5 * spacing
    return np.stack([x.ravel(), y.ravel()], axis=1)


def _plan_points(height: Height, rim: Float, normal: Float, spacing: float, rng: np.random.Generator) -> Float:
    """Return jittered points inside the rim, two and four times as dense where the height field is steep."""
    low, high = rim.min(axis=0), rim.max(axis=0)
    tree = cKDTree(rim)
    chosen = []
    for step, least, most in ((spacing, 0.0, 1.0), (0.5 * spacing, 1.0, 2.2), (0.3 * spacing, 2.2, np.inf)):
        points = _lattice(low + rng.uniform(0.0, step, 2), high, step)
        points = points + rng.uniform(-0.18, 0.18, points.shape) * step
        reach = 0.25 * spacing
        x, y = points.T
        steep = np.hypot(height(x + reach, y) - height(x - reach, y), height(x, y + reach) - height(x, y - reach))
        slope = steep / (2.0 * reach)
        points = points[(slope >= least) & (slope < most)]
        distance, nearest = tree.query(points)
        inward = ((points - rim[nearest]) * normal[nearest]).sum(axis=1) < 0.0
        chosen.append(points[inward & (distance > 0.6 * spacing)])
    return np.concatenate(chosen)


def sheet_over(
    height: Height,
    outline: Float,
    floor: float,
    triangles: int,
    rng: np.random.Generator,
    *,
    fillet: float = 3.0,
    lip: float = 8.0,
    wall: float | None = None,
) -> Sheet:
    """Return a height field's surface as a scanner sees the board: top, rounded edge, walls, a lip of the underside.

    The underside stays open past the lip. The top ends `fillet` mm inside the outline; there the edge rounds over. The
    walls end at the height `floor`, or are `wall` mm high all around.
    """
    spacing = 0.01 * float(np.ptp(outline))
    for _ in range(2):
        rim = resampled(outline, spacing)
        normal = loop_normals(rim)
        rim = rim - fillet * normal
        rim_height = height(rim[:, 0], rim[:, 1])
        drop = max(float(rim_height.mean()) - fillet - floor, 0.0) if wall is None else wall
        rings = round((1.6 * fillet + drop + lip) / spacing)
        inner = len(_plan_points(height, rim, normal, spacing, np.random.default_rng(0)))
        count = 2 * (inner + len(rim) * rings)
        spacing *= float(np.sqrt(count / triangles))
    rim = resampled(outline, spacing)
    normal = loop_normals(rim)
    rim = rim - fillet * normal
    plan = np.concatenate([rim, _plan_points(height, rim, normal, spacing, rng)])
    faces = Delaunay(plan).simplices.astype(np.int64)
    corner = plan[faces]
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    turned = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    faces[turned < 0] = faces[turned < 0][:, ::-1]
    doubtful = (faces < len(rim)).all(axis=1)
    doubtful[doubtful] = ~is_in_loop(corner[doubtful].mean(axis=1), rim)
    faces = faces[~doubtful]
    top = np.column_stack([plan, height(plan[:, 0], plan[:, 1])])
    drop = np.maximum(top[: len(rim), 2] - fillet - floor, 0.5) if wall is None else np.full(len(rim), wall)
    return _with_skirt(top, faces, normal, drop[:, None], spacing, fillet, lip)


def _with_skirt(top: Float, faces: Int, normal: Float, drop: Float, spacing: float, fillet: float, lip: float) -> Sheet:
    count = len(normal)
    rim = top[:count]
    out = np.column_stack([normal, np.zeros(count)])
    down = np.array([0.0, 0.0, -1.0])
    rings = []
    for bend in np.linspace(0.0, 0.5 * np.pi, max(3, round(1.6 * fillet / spacing) + 1))[1:]:
        rings.append(rim + fillet * np.sin(bend) * out + fillet * (1.0 - np.cos(bend)) * down)
    edge = rings[-1]
    for share in np.linspace(0.0, 1.0, max(2, round(float(drop.mean()) / spacing) + 1))[1:]:
        rings.append(edge + share * drop * down)
    foot = rings[-1]
    for inset in np.linspace(0.0, lip, max(2, round(lip / spacing) + 1))[1:]:
        rings.append(foot - inset * out)
    index = np.arange(count)
    following = np.roll(index, -1)
    blocks = [faces]
    above = index
    for ring in range(len(rings)):
        below = len(top) + ring * count + index
        blocks.append(np.stack([above, below, below[following]], axis=1))
        blocks.append(np.stack([above, below[following], above[following]], axis=1))
        above = below
    return np.concatenate([top, *rings]), np.concatenate(blocks)


def vertex_normals(vertices: Float, faces: Int) -> Float:
    """Return area-weighted unit normals, (n, 3)."""
    corner = vertices[faces]
    cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    total = np.zeros_like(vertices)
    for axis in range(3):
        total[:, axis] = np.bincount(faces.ravel(), np.repeat(cross[:, axis], 3), len(vertices))
    return total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-12)


def noisy(sheet: Sheet, sigma: float, rng: np.random.Generator) -> Sheet:
    """Return the sheet with white noise of standard deviation `sigma` mm along its vertex normals."""
    vertices, faces = sheet
    return vertices + vertex_normals(vertices, faces) * rng.normal(0.0, sigma, (len(vertices), 1)), faces


def wavy(sheet: Sheet, sigma: float, wave_mm: tuple[float, float], rng: np.random.Generator) -> Sheet:
    """Return the sheet with correlated noise of root mean square `sigma` mm along its vertex normals.

    A Gaussian random field by random waves through space (Shinozuka & Deodatis 1991): directions are even over the
    sphere, phases random, wave lengths even on a logarithmic scale from the first to the second of `wave_mm`.
    """
    vertices, faces = sheet
    count = 300
    direction = rng.normal(size=(count, 3))
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    length = np.exp(rng.uniform(*np.log(wave_mm), count))
    phase = rng.uniform(0.0, 2.0 * np.pi, count)
    height = np.cos((vertices @ direction.T) * (2.0 * np.pi / length) + phase).sum(axis=1) * np.sqrt(2.0 / count)
    return vertices + vertex_normals(vertices, faces) * (sigma * height)[:, None], faces


def with_holes(sheet: Sheet, holes: list[tuple[Float, float]]) -> Sheet:
    """Return the sheet without the faces whose middle lies within `radius` of a hole's center."""
    vertices, faces = sheet
    middle = vertices[faces].mean(axis=1)
    kept = np.ones(len(faces), dtype=bool)
    for center, radius in holes:
        kept &= np.linalg.norm(middle - center, axis=1) > radius
    return without_loose_vertices((vertices, faces[kept]))


def without_loose_vertices(sheet: Sheet) -> Sheet:
    """Return the sheet without the vertices no face uses."""
    vertices, faces = sheet
    used = np.zeros(len(vertices), dtype=bool)
    used[faces.ravel()] = True
    return vertices[used], (np.cumsum(used) - 1)[faces]


def joined(sheets: list[Sheet]) -> Sheet:
    """Return several sheets as one, without welding."""
    starts = np.cumsum([0] + [len(vertices) for vertices, _ in sheets])
    return (
        np.concatenate([vertices for vertices, _ in sheets]),
        np.concatenate([faces + start for (_, faces), start in zip(sheets, starts[:-1], strict=True)]),
    )


def grid_faces(rows: int, columns: int) -> Int:
    """Return two triangles per cell of a rows x columns vertex grid, turned so that row x column points out."""
    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    right, below, across = corner + 1, corner + columns, corner + columns + 1
    return np.concatenate([np.stack([corner, below, across], 1), np.stack([corner, across, right], 1)])


def crumb(center: Float, size: float, rng: np.random.Generator) -> Sheet:
    """Return a lumpy closed ball: dust, or a bit of clay, that the scanner saw in the air."""
    rows, columns = 9, 16
    polar = np.linspace(0.0, np.pi, rows + 2)[1:-1]
    angle = np.linspace(0.0, 2.0 * np.pi, columns, endpoint=False)
    ring = np.stack(
        [
            np.sin(polar)[:, None] * np.cos(angle),
            np.sin(polar)[:, None] * np.sin(angle),
            np.repeat(np.cos(polar)[:, None], columns, 1),
        ],
        axis=2,
    ).reshape(-1, 3)
    ball = np.concatenate([ring, [[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]]])
    ball = center + 0.5 * size * ball * rng.uniform(0.75, 1.0, (len(ball), 1))
    turn = np.arange(columns)
    following = np.roll(turn, -1)
    north, south = len(ball) - 2, len(ball) - 1
    blocks = [np.stack([np.full(columns, north), turn, following], 1)]
    for row in range(rows - 1):
        above, below = row * columns + turn, (row + 1) * columns + turn
        blocks.append(np.stack([above, below, below[following]], 1))
        blocks.append(np.stack([above, below[following], above[following]], 1))
    last = (rows - 1) * columns + turn
    blocks.append(np.stack([last, np.full(columns, south), last[following]], 1))
    return ball, np.concatenate(blocks)


def flake(center: Float, size: float, rng: np.random.Generator) -> Sheet:
    """Return a small crumpled open sheet, turned any way."""
    x, y = np.meshgrid(np.linspace(-0.5, 0.5, 8), np.linspace(-0.5, 0.5, 8), indexing="ij")
    flat = np.stack([x.ravel(), y.ravel(), rng.normal(0.0, 0.06, x.size)], axis=1) * size
    return center + flat @ random_rotation(rng).T, grid_faces(8, 8)


def turntable_piece(
    level: float, radii: tuple[float, float], angles_deg: tuple[float, float], spacing: float, rng: np.random.Generator
) -> Sheet:
    """Return a piece of a flat ring below the part: what is left of the turntable."""
    rows = max(3, round((radii[1] - radii[0]) / spacing))
    columns = max(3, round(np.deg2rad(angles_deg[1] - angles_deg[0]) * radii[1] / spacing))
    radius, angle = np.meshgrid(np.linspace(*radii, rows), np.deg2rad(np.linspace(*angles_deg, columns)), indexing="ij")
    ring = np.stack(
        [
            (radius * np.cos(angle)).ravel(),
            (radius * np.sin(angle)).ravel(),
            level + rng.normal(0.0, 0.15, radius.size),
        ],
        axis=1,
    )
    return ring, grid_faces(rows, columns)


def littered(
    sheet: Sheet, floor: float, rng: np.random.Generator, *, debris: bool = True, turntable: bool = True
) -> Sheet:
    """Return the sheet with crumbs and flakes in the air above it and a piece of the turntable under `floor`."""
    low, high = sheet[0].min(axis=0), sheet[0].max(axis=0)
    size = float((high - low).max())
    parts = [sheet]
    for count in range(5 if debris else 0):
        center = low + (high - low) * rng.uniform(0.05, 0.95, 3)
        center[2] = high[2] + 0.12 * size * rng.uniform(0.2, 1.0)
        make = crumb if count % 2 == 0 else flake
        parts.append(make(center, size * rng.uniform(0.007, 0.018), rng))
    if turntable:
        start = rng.uniform(0.0, 360.0)
        spacing = 0.012 * size * max(1.0, float(np.sqrt(20_000 / len(sheet[1]))))
        level = floor - 0.006 * size
        parts.append(turntable_piece(level, (0.33 * size, 0.58 * size), (start, start + 90.0), spacing, rng))
    return joined(parts)


def random_rotation(rng: np.random.Generator) -> Float:
    """Return a uniformly random rotation (Shoemake 1992, from a normalised normal quaternion)."""
    w, x, y, z = (quaternion := rng.normal(size=4)) / np.linalg.norm(quaternion)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )


def ply_bytes(vertices: Float, faces: Int, *, byte_order: str = "little") -> bytes:
    """Return a binary PLY file with float coordinates."""
    mark = "<" if byte_order == "little" else ">"
    face = np.zeros(len(faces), dtype=[("count", "u1"), ("index", f"{mark}i4", (3,))])
    face["count"], face["index"] = 3, faces
    head = (
        f"ply\nformat binary_{byte_order}_endian 1.0\nelement vertex {len(vertices)}\n"
        "property float x\nproperty float y\nproperty float z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    return head.encode("ascii") + np.asarray(vertices, dtype=f"{mark}f4").tobytes() + face.tobytes()


def write_if_changed(path: Path, data: bytes) -> bool:
    """Write the file unless it holds these bytes already; tell whether it was written."""
    if path.exists() and path.read_bytes() == data:
        return False
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return True
