"""A pad's walls as the product lays them out, in shell elements, beside what the product says of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu
from scipy.spatial import cKDTree

from padwright.core.stages.folds.layout import FoldLayout
from padwright.core.stages.folds.standing import standing_slope_deg
from padwright.core.stages.load.fold_field import FoldField, ZoneShares, walls_at
from padwright.core.stages.load.fold_sway import PadSway, pad_sway
from padwright.core.stages.load.load_case import ContactPatch
from padwright.core.stages.load.pad_nodes import PadNodes
from padwright.core.stages.load.run_layer import RunLayer
from padwright.core.stages.material.folds.law import modulus_kpa
from padwright.core.stages.material.material_model import MaterialModel
from padwright.core.stages.shape.build import wall_place
from padwright.core.stages.shape.row_ends import wall_sheets
from support.fold_shells import PadShells, Strip, strip

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class LaidPad:
    """A layout with wished slopes in degrees, (nx, ny), of a solid in kPa."""

    layout: FoldLayout
    slope_deg: Array
    solid_kpa: float = 13200.0
    poisson: float = 0.45

    @cached_property
    def cells(self) -> NDArray[np.int64]:
        """The flat numbers of the core's cells."""
        return np.flatnonzero(self.layout.is_core)

    @cached_property
    def places(self) -> Array:
        """Their middles, (c, 2)."""
        return self.layout.centers(self.cells)

    @cached_property
    def told_kpa_mm(self) -> Array:
        """What the law says they bear for a millimeter of give, kPa/mm."""
        stands = standing_slope_deg(self.layout, self.slope_deg)
        walls = walls_at(self.layout, self.cells, stands.flat[self.cells])
        return modulus_kpa(walls, self.solid_kpa, self.poisson) / self.layout.height_mm.flat[self.cells]

    @cached_property
    def patch(self) -> ContactPatch:
        """All of the core as the body's patch."""
        flat = np.column_stack([self.places, self.layout.high_mm.flat[self.cells]])
        back = np.linalg.inv(self.layout.to_plane)
        count = len(self.cells)
        return ContactPatch(
            flat @ back[:3, :3].T + back[:3, 3], np.full(count, self.layout.step_mm**2),
            self.layout.height_mm.flat[self.cells], np.zeros(count, dtype=np.int32), -self.layout.to_plane[2, :3],
        )  # fmt: skip

    @cached_property
    def runs(self) -> RunLayer:
        """The layer that its walls make along their run, as the load check has it."""
        cells = np.flatnonzero(self.layout.is_core | self.layout.is_solid)
        shares = ZoneShares((0,), cells, np.ones((len(cells), 1)))
        nodes = PadNodes.of(self.layout, shares, self.patch)
        stands = standing_slope_deg(self.layout, self.slope_deg)
        none = np.zeros(stands.shape)
        field = FoldField(none, none, none, stands)
        model = MaterialModel(self.solid_kpa, self.poisson)
        kinds = np.zeros(len(nodes.cell), dtype=np.int64)
        return nodes.layer(self.patch, field, model, kinds, np.ones(len(nodes.cell)))

    def told_give_mm(self, pressure_kpa: float | Array) -> Array:
        """Return what is told of small give at the layer's nodes, under a pressure (n,) on them; inf: solid nowhere."""
        runs = self.runs
        cell = self.layout.columns.nearest(runs.node_mm)
        near = cKDTree(self.places).query(runs.node_mm)[1]
        weight = np.where(self.layout.is_solid[cell], 1e3, 1.0) * self.told_kpa_mm[near] * runs.area_mm2
        push = np.broadcast_to(pressure_kpa, runs.area_mm2.shape) * runs.area_mm2
        ties = runs.ties(np.zeros(len(push)))
        return np.asarray(splu((ties + sp.diags(weight)).tocsc()).solve(push))

    def sway(self, pressure_kpa: float) -> PadSway:
        """Return how the product says it stands under an even pressure on the core."""
        model = MaterialModel(self.solid_kpa, self.poisson)
        stands = standing_slope_deg(self.layout, self.slope_deg)
        return pad_sway(self.layout, stands, self.patch, np.full(len(self.cells), pressure_kpa), model)

    def shells(self, cell_mm: float = 2.5, size_mm: float = 3.0, rows: int = 3) -> PadShells:
        """Return it in elements: middles of the walls as the printed solid is made from them, with as many `rows` from
        foot to fold; an even skin over the core; solid places hold the skin.
        """
        layout, columns = self.layout, self.layout.columns
        place = wall_place(layout, self.slope_deg)
        strips: list[Strip] = []
        for wall, sheet in zip(layout.walls, wall_sheets(layout, place), strict=True):
            if sheet is None:
                continue
            points = sheet.places[:-1] if sheet.is_closed else sheet.places
            long = float(np.hypot(*np.diff(wall.points, axis=0).T).sum())
            count = max(round(long / size_mm), 4)
            last = len(points) if sheet.is_closed else len(points) - 1
            index = np.unique(np.round(np.linspace(0, last, count + 1)).astype(int))
            levels = points[index[index < len(points)]]
            strips.append(strip(levels, layout.width_mm, rows, is_closed=sheet.is_closed))
        corner = layout.origin - 0.5 * layout.step_mm
        shape = np.ceil(np.array(layout.is_core.shape) * layout.step_mm / cell_mm).astype(int)
        middle = np.stack(np.meshgrid(*(np.arange(n) + 0.5 for n in shape), indexing="ij"), axis=-1) * cell_mm + corner
        edges = np.stack(np.meshgrid(*(np.arange(n + 1.0) for n in shape), indexing="ij"), axis=-1) * cell_mm + corner
        i, j = columns.nearest(middle.reshape(-1, 2))
        solid = layout.is_solid[i, j].reshape(shape)
        top = columns.sample(columns.core_high_mm, edges.reshape(-1, 2)).reshape(shape + 1)
        return PadShells(
            strips, (float(corner[0]), float(corner[1])), cell_mm, layout.is_core[i, j].reshape(shape) | solid,
            top + 0.5 * layout.body_skin_mm, layout.body_skin_mm, 1e-3 * self.solid_kpa, self.poisson,
            solid if solid.any() else None,
        )  # fmt: skip
