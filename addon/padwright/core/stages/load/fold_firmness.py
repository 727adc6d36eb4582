"""How firm a pad of folded walls gets: walls by the zones' wishes, zones by the strain under the load, tuning."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ...base.errors import InputError, SolveError
from ...base.notes import to_look_at
from ..folds.layout import FoldLayout
from ..material.choosing import Chosen
from ..material.curves import LEVEL_STRAIN, CurveBand
from ..material.fill import RegionGeometry, region_curve
from ..material.folds.slopes import slope_in_print
from ..material.folds.walls import Walls
from ..material.material_model import MaterialModel, model_from_card
from ..material.region_settings import RegionSettings
from ..printing.solid_settings import solid_settings
from .bearing import contact_patch
from .contact import press_load
from .firmness import Firmness, Folded, Ground
from .fold_columns import FoldColumns, breathing_bands, fold_columns, zone_walls
from .fold_field import FoldField, ZoneShares, fold_field, walls_at, zone_shares
from .job_loads import load_cases
from .level_basis import LevelBasis, LevelStrains
from .level_strains import mean_strains
from .load_case import ContactPatch, LoadCase
from .pad_nodes import PadNodes
from .tuning_search import smaller_patch

_FIRST_STRAIN = 0.2
"""Where the search for the strain under the load starts: what the levels of folded walls are made for."""

_MOST_ROUNDS, _SETTLED = 6, 0.03
"""As for settings (`level_strains`)."""

_MET = 0.05
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
        binding = None if abs(off) <= _MET else "too soft to print" if off > 0.0 else "too firm to print"
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


def fold_firmness(ground: Ground) -> Firmness:
    """Choose how far the walls lean by the moduli of the zones' levels, at the strain each has under the first load."""
    basis, notes = FoldBasis.of(ground)
    zones = ground.zones.zones
    moduli = {number: zones[number].target_kpa(ground.family) for number in basis.shares.numbers}
    strains = LevelStrains(dict.fromkeys(basis.shares.numbers, LEVEL_STRAIN))
    if basis.patch is not None:
        strains = _settled(basis, moduli, load_cases(ground)[0])
    return folded(basis, moduli, strains, notes)


def folded(basis: FoldBasis, moduli: Mapping[int, float], strains: LevelStrains, notes: Sequence[str] = ()) -> Firmness:
    """Return the walls for the zones' moduli at their strains, with what they give."""
    ground = basis.ground
    field = basis.field(moduli, strains.strains)
    chosen = {
        number: basis.chosen(number, moduli[number], field, strains.strains[number]) for number in basis.shares.numbers
    }
    columns = None if basis.patch is None else basis.columns(basis.patch, field, strains.strains)
    most = ground.regions.regions[0].zone
    told = chosen.get(most, next(iter(chosen.values())))
    curves = {region.id: told.curve for region in ground.regions.regions}
    return Firmness(
        chosen,
        curves,
        LevelBasis(strains=strains, notes=tuple(notes)),
        patch=basis.patch,
        notes=(*notes, *_wish_notes(basis, field, moduli)),
        card=ground.card,
        body=ground.body,
        folded=Folded(basis.layout, field, basis.shares, columns),
    )


def _settled(basis: FoldBasis, moduli: Mapping[int, float], case: LoadCase) -> LevelStrains:
    """Choose and press in turn until walls and strains belong together, on about 1000 points."""
    assert basis.patch is not None
    numbers = basis.shares.numbers
    few = smaller_patch(basis.patch, max(numbers) + 1)
    strains = dict.fromkeys(numbers, _FIRST_STRAIN)
    bearing: frozenset[int] = frozenset()
    for number in range(1, _MOST_ROUNDS + 1):
        columns = basis.columns(few, basis.field(moduli, strains), strains)
        try:
            run, _ = press_load(case, columns.patch, [band.value for band in columns.bands], columns.zone_of)
        except SolveError:
            return LevelStrains(strains, bearing, number, False)
        found, bearing = mean_strains(few, columns.patch.area_mm2, run, numbers)
        if max(abs(np.log(found[zone] / strains[zone])) for zone in numbers) <= _SETTLED:
            return LevelStrains(strains, bearing, number)
        share = 1.0 if number == 1 else 0.5
        strains = {zone: float(strains[zone] ** (1.0 - share) * found[zone] ** share) for zone in numbers}
    return LevelStrains(strains, bearing, _MOST_ROUNDS, False)


def _wish_notes(basis: FoldBasis, field: FoldField, moduli: Mapping[int, float]) -> list[str]:
    """Return what to say of zones whose walls cannot be as soft or as firm as wished."""
    notes: list[str] = []
    layout, shares = basis.layout, basis.shares
    is_core = layout.is_core.flat[shares.cell]
    most = np.argmax(shares.share, axis=1)
    for column, number in enumerate(shares.numbers):
        own = (most == column) & is_core
        if not own.any():
            continue
        cell = shares.cell[own]
        off = field.reached_kpa.flat[cell] / field.wished_kpa.flat[cell]
        firmer, softer = float((off > 1.0 + _MET).mean()), float((off < 1.0 - _MET).mean())
        name = basis.ground.zones.zones[number].name
        for share, word, end in ((firmer, "firmer", off.max()), (softer, "softer", off.min())):
            if share > 0.2:
                notes.append(
                    to_look_at(
                        f'Over {100.0 * share:.0f} % of "{name}" the walls are {word} than its {moduli[number]:.0f} '
                        f"kPa, up to {end if end > 1.0 else 1.0 / end:.1f} times: they lean as far, or stand as "
                        "upright, as they may there."
                    )
                )
    return notes
