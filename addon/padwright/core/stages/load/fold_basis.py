"""What folded walls are chosen with: the layout, the zones on it, the material."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ...base.cached import cached_property
from ...base.errors import InputError, SolveError
from ..folds.layout import FoldLayout
from ..material.choosing import Chosen
from ..material.curves import CurveBand
from ..material.fill import RegionGeometry, region_curve
from ..material.folds.slopes import slope_in_print
from ..material.folds.walls import Walls
from ..material.material_model import MaterialModel, model_from_card
from ..material.region_settings import RegionSettings
from ..printing.solid_settings import solid_settings
from .bearing import contact_patch
from .firmness import Ground
from .fold_columns import FoldColumns, breathing_bands, fold_columns, zone_walls
from .fold_field import FoldField, ZoneShares, fold_field, walls_at, zone_shares
from .job_loads import load_cases
from .load_case import ContactPatch
from .pad_nodes import PadNodes

MET = 0.05
"""A zone's wish counts as met within 5 %: a slope is printed to about a degree."""


@dataclass(frozen=True, eq=False)
class FoldBasis:
    """What walls are chosen with: the layout, the zones on it, the material."""

    ground: Ground
    layout: FoldLayout
    shares: ZoneShares
    model: MaterialModel
    settings: RegionSettings
    patch: ContactPatch | None

    @staticmethod
    def of(ground: Ground) -> tuple[FoldBasis, tuple[str, ...]]:
        """Return it for a job, with notes on the contact."""
        assert ground.layout is not None
        layout = ground.layout
        shares = zone_shares(layout, ground.pad, ground.zones, ground.job.blend.width_mm)
        settings = solid_settings(ground.job.printer, ground.card, ground.family.levels, layout.width_mm)
        patch: ContactPatch | None = None
        notes: tuple[str, ...] = ()
        try:
            if load_cases(ground):
                patch, notes = contact_patch(ground, sorted(shares.numbers))
        except (InputError, SolveError):  # the load check tells what is wrong with a load or a contact
            pass
        return FoldBasis(ground, layout, shares, model_from_card(ground.card), settings, patch), notes

    def on(self, layout: FoldLayout) -> FoldBasis:
        """Return it for another layout of the same pad."""
        ground = replace(self.ground, layout=layout)
        shares = zone_shares(layout, ground.pad, ground.zones, ground.job.blend.width_mm)
        settings = solid_settings(ground.job.printer, ground.card, ground.family.levels, layout.width_mm)
        return replace(self, ground=ground, layout=layout, shares=shares, settings=settings)

    @cached_property
    def nodes(self) -> PadNodes:
        """The pad on the raster on which its walls even out firmness, under the body on the whole patch."""
        assert self.patch is not None
        return PadNodes.of(self.layout, self.shares, self.patch)

    def field(self, moduli: Mapping[int, float], strains: Mapping[int, float]) -> FoldField:
        """Return the walls for the zones' moduli, kPa, at their strains."""
        return fold_field(self.layout, self.shares, moduli, strains, self.model)

    def columns(self, patch: ContactPatch, field: FoldField, strains: Mapping[int, float]) -> FoldColumns:
        """Return a patch as columns of these walls."""
        solid = {number: self._solid(patch, number, strains[number]) for number in self.shares.numbers}
        return fold_columns(patch, self.nodes, field, solid, self.model, strains)

    def chosen(self, number: int, kpa: float, field: FoldField, strain: float) -> Chosen:
        """Return one wall that stands for a zone's, as its choice; where it has none under the body, solid pad."""
        name = self.ground.zones.zones[number].name
        walls = self.walls(number, field)
        if walls is None:
            walls = self._mean_walls(field, number)
        if walls is None:
            band = self._solid(self.patch, number, strain)
            return Chosen(self.settings, band, kpa, band.modulus_kpa.value, "too firm to print", (), name)
        return self._told(self._band(walls, strain), kpa, name)

    def choose(self, number: int, field: FoldField, strain: float, kpa: float) -> Chosen:
        """Return one wall that stands for a zone's at another modulus: for tuning, which tries many."""
        walls = self.walls(number, field)
        if walls is None:
            return self.chosen(number, kpa, field, strain)
        limit = self._limit(number)
        slope, _ = slope_in_print(kpa, strain, walls, self.model, limit)
        name = self.ground.zones.zones[number].name
        return self._told(self._band(walls.at_slope(slope), strain), kpa, name)

    def _band(self, walls: Walls, strain: float) -> CurveBand:
        return breathing_bands(self.layout, walls, self.model, strain)[0]

    def _told(self, band: CurveBand, kpa: float, name: str) -> Chosen:
        reached = band.modulus_kpa.value
        off = reached / kpa - 1.0
        binding = None if abs(off) <= MET else "too soft to print" if off > 0.0 else "too firm to print"
        return Chosen(self.settings, band, kpa, reached, binding, (), name)

    def walls(self, number: int, field: FoldField) -> Walls | None:
        """Return one wall that stands for those of a zone under the body; None where it has none there."""
        return None if self.patch is None else zone_walls(self.layout, field, self.patch, number)

    def _limit(self, number: int) -> float:
        assert self.patch is not None
        cell = self.layout.index(self.patch.position)
        own = (self.patch.zone == number) & self.layout.is_core.flat[cell]
        return float(np.median(self.layout.slope_limit_deg.flat[cell[own]]))

    def _mean_walls(self, field: FoldField, number: int) -> Walls | None:
        """Return one wall for a zone that no body bears on."""
        cell = self.shares.cell
        column = self.shares.numbers.index(number)
        own = cell[(np.argmax(self.shares.share, axis=1) == column) & self.layout.is_core.flat[cell]]
        if len(own) == 0:
            return None
        middle = own[np.argsort(self.layout.height_mm.flat[own], kind="stable")[len(own) // 2]]
        return walls_at(self.layout, np.array([middle]), field.slope_deg.flat[[middle]])

    def _solid(self, patch: ContactPatch | None, number: int, strain: float) -> CurveBand:
        """Return the curve of solid pad in a zone."""
        height = max(float(np.median(self.layout.height_mm[self.layout.is_core])), 1.0)
        area = 1000.0
        if patch is not None:
            cell = self.layout.index(patch.position)
            own = (patch.zone == number) & ~self.layout.is_core.flat[cell]
            if own.any():
                area = float(patch.area_mm2[own].sum())
                height = float(patch.thickness_mm[own] @ patch.area_mm2[own]) / area
        return region_curve(self.settings, self.model, RegionGeometry(height, area, 0.0), strain)
