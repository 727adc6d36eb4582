"""How wide the walls of a solid are in its level cuts, to a hundredth of a millimeter, from the outlines themselves."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Float, TriMesh
from ...geometry.bit_rasters import PixelGrid
from ...geometry.level_cuts import LevelCuts, scan_lines
from .worst_places import WorstPlace, beyond

_EVERY_MM = 1.0
_CELL_MM = 2.0
_FACING = 0.6
"""A line measures a wall whose sides it crosses at 37 degrees or more; one across or along does, whatever the wall."""

_PARALLEL = 0.9962
"""Two sides that are within 5 degrees of parallel make a wall; what tapers more comes to a point by itself."""

_WIDEST_MM = 8.0
_CELLS_THAT_MATTER = 2


@dataclass(frozen=True, eq=False)
class WallPieces:
    """Pieces of wall, 2 mm long and a block of layers high, (n,) each."""

    places: Float  # (n, 3), mm
    width_mm: Float  # (n,); in the level cut: what no layer of the block exceeds there
    slope_deg: Float  # (n,); from upright
    layers: int  # of a block


class WidthFinder:
    """Collects pieces of wall block by block."""

    def __init__(self, mesh: TriMesh, layer_mm: float) -> None:
        self._mesh, self._layer_mm = mesh, layer_mm
        self._found: list[Float] = []
        self._layers = 0

    def take(self, cuts: LevelCuts, first: int, grid: PixelGrid) -> None:
        """Measure the walls of a block of layers, the first of which is `first`."""
        self._layers = max(self._layers, cuts.count)
        if len(cuts.level) == 0 or cuts.count < self._layers:  # the last few layers: walls do not begin there
            return
        every = max(1, round(_EVERY_MM / grid.pixel_mm))
        level, x, y, width, slope = (
            np.concatenate(each)
            for each in zip(*(self._across(cuts, grid, every, turned) for turned in (False, True)), strict=True)
        )
        cell = (np.floor(x / _CELL_MM).astype(np.int64) << 20) + np.floor(y / _CELL_MM).astype(np.int64)
        order = np.lexsort((width, level, cell))
        cell, level = cell[order], level[order]
        is_first = np.append(True, (np.diff(cell) != 0) | (np.diff(level) != 0))[: len(cell)]
        order, cell = order[is_first], cell[is_first]  # the narrowest of every layer of every cell
        begin = np.flatnonzero(np.append(True, np.diff(cell) != 0)[: len(cell)])
        if len(begin) == 0:
            return
        count = np.diff(np.append(begin, len(cell)))
        widest = np.maximum.reduceat(width[order], begin)
        full = count == cuts.count
        chosen = order[begin[full]]
        z = np.full(len(chosen), (first + 0.5) * self._layer_mm)
        self._found.append(np.stack([x[chosen], y[chosen], z, widest[full], slope[chosen]], axis=1))

    def found(self) -> WallPieces:
        """Return all pieces."""
        whole = np.concatenate([np.zeros((0, 5)), *self._found])
        return WallPieces(whole[:, :3], whole[:, 3], whole[:, 4], max(1, self._layers))

    def _across(self, cuts: LevelCuts, grid: PixelGrid, every: int, turned: bool) -> tuple[NDArray, ...]:
        """Return level, x, y, width, slope of the walls that lines along one axis cross."""
        lines = scan_lines(cuts, grid.origin, grid.pixel_mm, every=every, turned=turned)
        order = np.lexsort((lines.along, lines.line, lines.level))
        into, out = order[0::2], order[1::2]
        run = (lines.along[out] - lines.along[into]) * grid.pixel_mm
        near = run < _WIDEST_MM / _FACING
        into, out, run = into[near], out[near], run[near]
        way = cuts.end - cuts.start
        way = way / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)[:, None]
        one, two = way[lines.piece[into]], way[lines.piece[out]]
        axis = 0 if turned else 1  # a side that runs along the other axis is crossed square
        facing = np.minimum(np.abs(one[:, axis]), np.abs(two[:, axis]))
        width = run * 0.5 * (np.abs(one[:, axis]) + np.abs(two[:, axis]))
        # Over a bend a slanted line meets the two sides in different pieces of their outlines, which do not tell the
        # width at either end; so much, a twentieth at the most, it may be wider.
        turn = np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])
        width *= 1.0 + 0.5 * turn * np.sqrt(1.0 / np.maximum(facing, _FACING) ** 2 - 1.0)
        is_wall = (facing > _FACING) & ((one * two).sum(axis=1) < -_PARALLEL) & (width < _WIDEST_MM)
        into, out, width = into[is_wall], out[is_wall], width[is_wall]
        along = 0.5 * (lines.along[into] + lines.along[out])
        x, y = (lines.line[into], along) if turned else (along, lines.line[into])
        up = self._mesh.face_normals[:, 2]
        lean = 0.5 * sum(np.abs(up[cuts.face[lines.piece[each]]]) for each in (into, out))
        slope = np.degrees(np.arcsin(np.clip(lean, 0.0, 1.0)))
        place = grid.origin[:, None] + (np.stack([x, y]) + 0.5) * grid.pixel_mm
        return lines.level[into], place[0], place[1], width, slope


def least_width(walls: WallPieces, layer_mm: float) -> WorstPlace | None:
    """Return the width, mm, that walls fall to over a block of layers in two places or more."""
    area = _CELL_MM * walls.layers * layer_mm
    found = beyond(-walls.width_mm, area, walls.places, layer_mm, _CELLS_THAT_MATTER * area)
    return None if found is None else replace(found, value=-found.value)
