"""A pad of folded walls on a coarse raster of nodes, for what its walls even out along their run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.cached import cached_property
from ...base.mesh import Bool, Float, Int
from ..folds.layout import FoldLayout
from ..folds.sway import turned
from ..material.folds.law import run_tie_kpa_mm
from ..material.folds.walls import Walls
from ..material.material_model import MaterialModel
from .fold_field import FoldField, ZoneShares
from .load_case import ContactPatch
from .run_layer import RunLayer
from .wall_runs import Coarse, Stretches

_PITCHES = 0.9
"""Side of the raster's cells in pitches: on a finer one walls stand alone, and nothing lies between them."""

_MOST_CELLS = 3500

_COVERED = 0.5
"""Share of a node's ground that the body must cover for it to bear there."""


@dataclass(frozen=True, eq=False)
class PadNodes:
    """The raster, without what the walls' lean makes of it."""

    raster: Coarse
    walls: Stretches
    is_pad: Bool  # (nx, ny), of the coarse cells
    corners: NDArray[np.int64]  # (m, 4); nodes of each of them
    node_mm: Float  # (n, 2)
    area_mm2: Float  # (n,)
    cell: Int  # (n,); the layout's cell that stands for each node
    zone: Int  # (n,)
    is_covered: Bool  # (n,)

    @staticmethod
    def of(layout: FoldLayout, shares: ZoneShares, patch: ContactPatch) -> PadNodes:
        """Return it for a body on a patch."""
        ground = np.zeros(layout.is_core.shape)
        ground.flat[shares.cell] = layout.step_mm**2
        fine = _PITCHES * layout.pitch_mm / layout.step_mm
        fine = max(fine, np.sqrt(len(shares.cell) / _MOST_CELLS))
        raster = Coarse(layout, max(round(fine), 1))
        ground_mm2 = raster.blocks(ground)
        is_pad = ground_mm2 > 0.0
        i, j = np.nonzero(is_pad)
        wide = raster.shape[1] + 1
        around = np.stack([i * wide + j, (i + 1) * wide + j, (i + 1) * wide + j + 1, i * wide + j + 1], axis=1)
        numbers, corners = np.unique(around, return_inverse=True)
        corners = corners.reshape(-1, 4)
        node_mm = raster.origin + raster.step_mm * (np.stack([numbers // wide, numbers % wide], axis=1) - 0.5)

        def shared(values: Float) -> Float:
            return np.asarray(
                np.bincount(corners.ravel(), np.repeat(0.25 * values[is_pad], 4), len(numbers)), dtype=float
            )

        area = shared(ground_mm2)
        pressed = np.zeros(layout.is_core.shape)
        np.add.at(pressed.reshape(-1), layout.index(patch.position), patch.area_mm2)
        covered = shared(raster.blocks(np.where(ground > 0.0, pressed, 0.0))) >= _COVERED * area
        owner = np.zeros(layout.is_core.size, dtype=np.int32)
        owner[shares.cell] = np.asarray(shares.numbers, dtype=np.int32)[np.argmax(shares.share, axis=1)]
        near = ndimage.distance_transform_edt(ground == 0.0, return_distances=False, return_indices=True)
        at = layout.columns.nearest(node_mm)
        cell = np.ravel_multi_index((near[0][at], near[1][at]), layout.is_core.shape)
        return PadNodes(raster, Stretches.of(layout), is_pad, corners, node_mm, area, cell, owner[cell], covered)

    @cached_property
    def is_wall(self) -> Bool:
        """Where walls stand, (n,)."""
        return np.asarray(self.raster.layout.is_core.flat[self.cell])

    @cached_property
    def height_mm(self) -> Float:
        """How high the columns are, (n,): the core, else the solid pad."""
        layout = self.raster.layout
        outer = (layout.high_mm - layout.low_mm).flat[self.cell]
        return np.where(self.is_wall, layout.height_mm.flat[self.cell], np.maximum(outer, 1.0))

    def layer(self, patch: ContactPatch, field: FoldField, model: MaterialModel, kind: Int, firmer: Float) -> RunLayer:
        """Return what ties the columns below a patch, with the nodes' kinds and factors on them (n,)."""
        layout, runs = self.raster.layout, self.walls
        unknowns = np.zeros(6) if model.folds is None else model.folds.unknowns
        walls = Walls(
            layout.height_mm[runs.cell], layout.width_mm * np.exp(unknowns[1]), layout.pitch_mm,
            field.slope_deg[runs.cell], layout.folds,
        )  # fmt: skip
        solid = model.modulus_kpa * float(np.exp(unknowns[0] + unknowns[3]))
        tie = run_tie_kpa_mm(walls, solid, model.poisson)
        tie = tie * layout.pitch_mm * runs.length_mm / self.raster.step_mm**2
        ties = self.raster.spread(runs.middle, turned(tie, np.zeros(len(tie)), runs.run))[:, self.is_pad]
        return RunLayer(
            self.raster.step_mm, self.corners, ties, self.node_mm, self.area_mm2, self.height_mm, kind, firmer,
            self.is_covered,
            layout.flat(patch.position),
        )  # fmt: skip
