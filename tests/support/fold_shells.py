"""A whole pad of folded walls in shell elements: walls stand on a held base skin and bear a body skin.

Walls come as strips of points, level by level. Feet are clamped. Heads are tied to the body skin, a raster of square
shells: they go and turn with the place of the skin above them. Lengths in mm, moduli in MPa, pressures in kPa.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from support.shells import (
    Held,
    Shell,
    areas,
    assemble,
    element_stiffness,
    factors,
    join,
    membrane_forces,
    stress_stiffness,
)

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Strip:
    """The middle surface of one wall."""

    places: Array  # (n, k, 3); a closed one does not say its first point again
    thickness: Array  # (n, k - 1); of the faces that begin at each point
    is_closed: bool

    def shell(self, modulus: float, poisson: float) -> Shell:
        """Return its elements."""
        n, k = self.places.shape[:2]
        start = np.arange(n if self.is_closed else n - 1)
        low = np.arange(k - 1)
        here = (start[:, None] * k + low).ravel()
        there = (((start + 1) % n)[:, None] * k + low).ravel()
        quads = np.stack([here, there, there + 1, here + 1], axis=1)
        return Shell(self.places.reshape(-1, 3), quads, self.thickness[: len(start)].ravel(), modulus, poisson)


def strip(levels: Array, width_mm: float | Array, rows: int, *, is_closed: bool) -> Strip:
    """Return a strip ruled between a wall's foot, folds and head (n, levels, 3), each face cut into `rows`.

    The level cut is `width_mm`, a number or (n,), wide square to itself; the wall's thickness is that times the cosine
    of its lean.
    """
    share = np.linspace(0.0, 1.0, rows + 1)[:-1, None]
    pieces = [levels[:, j, None] * (1.0 - share) + levels[:, j + 1, None] * share for j in range(levels.shape[1] - 1)]
    places = np.concatenate([*pieces, levels[:, -1:]], axis=1)
    ahead = np.roll(places, -1, axis=0) - places
    if not is_closed:
        ahead[-1] = ahead[-2]
    middle = 0.5 * (ahead[:, :-1] + ahead[:, 1:])
    normal = np.cross(middle, np.diff(places, axis=1))
    cosine = np.hypot(normal[..., 0], normal[..., 1]) / np.maximum(np.linalg.norm(normal, axis=2), 1e-12)
    return Strip(places, np.reshape(width_mm, (-1, 1)) * cosine, is_closed)


@dataclass(frozen=True, eq=False)
class PadShells:
    """Walls under a body skin; `inside` (nx, ny) are its cells, `top_mm` (nx + 1, ny + 1) where its middle lies."""

    strips: list[Strip]
    corner: tuple[float, float]  # of the raster
    cell_mm: float
    inside: NDArray[np.bool_]
    top_mm: Array
    skin_mm: float
    modulus: float = 13.2
    poisson: float = 0.45
    is_fast: NDArray[np.bool_] | None = None  # (nx, ny); where solid holds the skin

    @cached_property
    def skin(self) -> tuple[Shell, NDArray[np.int64]]:
        """The body skin's elements, and the number of each corner of the raster in them, -1 where it has none."""
        i, j = np.nonzero(self.inside)
        corners = np.stack([[i, j], [i + 1, j], [i + 1, j + 1], [i, j + 1]]).transpose(2, 0, 1)
        used = np.zeros(self.top_mm.shape, dtype=bool)
        used[corners[..., 0], corners[..., 1]] = True
        number = np.full(used.shape, -1)
        number[used] = np.arange(used.sum())
        at = np.argwhere(used)
        points = np.column_stack([np.array(self.corner) + self.cell_mm * at, self.top_mm[used]])
        quads = number[corners[..., 0], corners[..., 1]]
        return Shell(points, quads, np.full(len(quads), self.skin_mm), self.modulus, self.poisson), number

    @cached_property
    def walls(self) -> Shell:
        """All walls' elements."""
        return join([each.shell(self.modulus, self.poisson) for each in self.strips])

    @cached_property
    def whole(self) -> Shell:
        """Walls, then the skin."""
        return join([self.walls, self.skin[0]])

    @cached_property
    def node_mm2(self) -> Array:
        """Area of the skin that each of its corners stands for."""
        skin, _ = self.skin
        return np.bincount(skin.quads.ravel(), minlength=len(skin.points)) * self.cell_mm**2 / 4.0

    @cached_property
    def ties(self) -> sp.csr_matrix:
        """Moves of all corners by the free ones: of walls between foot and head, then of the skin."""
        skin, number = self.skin
        ends = [np.arange(s.places.shape[0])[:, None] * s.places.shape[1] for s in self.strips]
        starts = np.cumsum([0] + [s.places.shape[0] * s.places.shape[1] for s in self.strips[:-1]])
        foot = np.concatenate([at.ravel() + start for at, start in zip(ends, starts, strict=True)])
        tall = np.concatenate([np.full(len(s.places), s.places.shape[1] - 1) for s in self.strips])
        head = foot + tall
        count, above = len(self.walls.points), len(skin.points)
        free = np.ones(count, dtype=bool)
        free[foot] = free[head] = False
        ids = np.concatenate([np.where(free, np.cumsum(free) - 1, -1), free.sum() + np.arange(above)])
        rows, columns, values = [], [], []

        def put(row: Array, column: Array, value: Array) -> None:
            rows.append(row), columns.append(column), values.append(np.broadcast_to(value, row.shape))

        own = np.flatnonzero(ids >= 0)
        for axis in range(6):
            put(6 * own + axis, 6 * ids[own] + axis, np.array(1.0))
        at = self.walls.points[head]
        cell, share = self._cells(at[:, :2])
        around = np.stack([[0, 1, 1, 0], [0, 0, 1, 1]], axis=1)
        weight = np.prod(np.where(around, share[:, None], 1.0 - share[:, None]), axis=2)
        nodes = number[tuple((cell[:, None] + around).transpose(2, 0, 1))]
        lever = at - np.einsum("nk,nkx->nx", weight, skin.points[nodes])
        for k in range(4):
            column, part = 6 * ids[count + nodes[:, k]], weight[:, k]
            for axis in range(6):
                put(6 * head + axis, column + axis, part)
            for axis in range(3):  # turn x lever
                before, behind = (axis + 1) % 3, (axis + 2) % 3
                put(6 * head + axis, column + 3 + before, part * lever[:, behind])
                put(6 * head + axis, column + 3 + behind, -part * lever[:, before])
        shape = (6 * (count + above), 6 * int(free.sum() + above))
        made = sp.csr_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=shape)
        if self.is_fast is None:
            return made
        keep = np.ones(shape[1], dtype=bool)
        for axis in range(6):
            keep[6 * int(free.sum()) + axis :: 6] = self._is_loose
        return made[:, keep]

    def _cells(self, at: Array) -> tuple[NDArray[np.int64], Array]:
        """Return the cell of the skin over or nearest to each place (n, 2), and where in it."""
        rest = (at - np.array(self.corner)) / self.cell_mm
        cell = np.clip(np.floor(rest).astype(np.int64), 0, np.array(self.inside.shape) - 1)
        beside = ~self.inside[tuple(cell.T)]
        if beside.any():
            cells = np.argwhere(self.inside)
            cell[beside] = cells[cKDTree(cells + 0.5).query(rest[beside])[1]]
        return cell, rest - cell

    @cached_property
    def _solved(self) -> tuple[sp.csc_matrix, object]:
        whole = assemble(self.whole, element_stiffness(self.whole))
        matrix = (self.ties.T @ whole @ self.ties).tocsc()
        return matrix, factors(matrix)

    def moves(self, pressure_kpa: float | Array, axis: int = 2) -> Array:
        """Return the moves (n, 6) of all corners under an even pressure down, or as much push along x or y."""
        force = np.zeros((len(self.whole.points), 6))
        sign = -1.0 if axis == 2 else 1.0
        force[len(self.walls.points) :, axis] = sign * 1e-3 * pressure_kpa * self.node_mm2
        free = self._solved[1].solve(self.ties.T @ force.ravel())  # type: ignore[attr-defined]
        return (self.ties @ free).reshape(-1, 6)

    def skin_moves(self, pressure_kpa: float, axis: int) -> Array:
        """Return how far each corner of the skin goes along x or y under as much push along it."""
        return np.asarray(self.moves(pressure_kpa, axis)[len(self.walls.points) :, axis])

    @property
    def top_at_corners(self) -> Array:
        """Where the middle of the skin lies at its corners."""
        return self.skin[0].points[:, 2]

    def give_mm(self, pressure_kpa: float, smooth_mm: float = 0.0) -> Array:
        """Return how far each corner of the skin is pressed in, as the mean over a disk where asked for."""
        give = -self.moves(pressure_kpa)[len(self.walls.points) :, 2]
        if smooth_mm <= 0.0:
            return give
        flat = self.skin[0].points[:, :2]
        near = cKDTree(flat).query_ball_point(flat, smooth_mm)
        return np.array([np.average(give[some], weights=self.node_mm2[some]) for some in near])

    def sway_margin(self, pressure_kpa: float, count: int = 1) -> tuple[Array, Array]:
        """Return the smallest factors on a pressure at which the pad gives way, its skin kept level, and how much each
        is a way aside: mean move of the skin over the largest move anywhere.
        """
        moves = self.moves(pressure_kpa)
        kept, _ = self._level()
        level = Held(self.whole, self.ties[:, kept])
        matrix = self._solved[0][kept][:, kept].tocsc()
        turning = assemble(self.whole, stress_stiffness(self.whole, membrane_forces(self.whole, moves)))
        values, shapes = level.lowest(matrix, factors(matrix), turning, count)
        aside = []
        for shape in shapes.T:
            move = shape.reshape(-1, 6)
            skin_move = move[len(self.walls.points) :, :2]
            aside.append(np.hypot(*skin_move.mean(axis=0)) / np.abs(move[:, :3]).max())
        return values, np.array(aside)

    def plate_kpa_mm(self) -> Array:
        """Return what each corner of the skin bears, for a millimeter, under a plate that stays level: kPa/mm; the skin
        slides under it. Nothing over solid.
        """
        kept, down = self._level()
        matrix = self._solved[0]
        inner = factors(matrix[kept][:, kept].tocsc())
        moves = np.where(down, -1.0, 0.0)
        moves[kept] = inner.solve(-(matrix[kept] @ moves))  # type: ignore[attr-defined]
        borne = np.zeros(len(self.node_mm2))
        borne[self._is_loose] = -1e3 * (matrix @ moves)[down]
        return borne / self.node_mm2

    def _level(self) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Return which free moves stay free where the skin keeps its level, and which are its moves down."""
        kept, down = np.ones(self.ties.shape[1], dtype=bool), np.zeros(self.ties.shape[1], dtype=bool)
        skin = slice(self.ties.shape[1] - 6 * int(self._is_loose.sum()), None)
        for axis in (2, 3, 4):
            kept[skin][axis::6] = False
        down[skin][2::6] = True
        return kept, down

    @cached_property
    def _is_loose(self) -> NDArray[np.bool_]:
        """Corners of the skin that solid does not hold."""
        _, number = self.skin
        loose = np.ones(len(self.skin[0].points), dtype=bool)
        if self.is_fast is not None:
            i, j = np.nonzero(self.is_fast & self.inside)
            loose[number[np.concatenate([i, i + 1, i, i + 1]), np.concatenate([j, j, j + 1, j + 1])]] = False
        return loose

    @property
    def mass_g(self) -> float:
        """Walls and both skins at 1.2 g/cm3."""
        skins = 2.0 * self.skin_mm * self.cell_mm**2 * int(self.inside.sum())
        return 1.2e-3 * (float(areas(self.walls) @ self.walls.thickness) + skins)
