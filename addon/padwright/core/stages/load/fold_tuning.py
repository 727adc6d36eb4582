"""Zones of folded walls as tuning wants them: one wall stands for a zone, and what is found is laid out again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ...base.errors import SolveError
from ...base.mesh import Float
from ..material.choosing import Chosen
from ..material.folds.pressure_cap import pressure_cap
from ..material.folds.slopes import slope_in_print
from ..material.region_settings import RegionSettings
from .contact import press_load
from .firmness import Firmness, Folded, Ground
from .fold_basis import FoldBasis
from .fold_columns import FoldColumns
from .fold_firmness import folded
from .load_case import ContactPatch, LoadCase
from .tuning import Tuning
from .tuning_goal import Goal


@dataclass(frozen=True, eq=False)
class FoldTuning:
    """The walls of a pad as they are, and what changes them."""

    basis: FoldBasis
    untuned: Firmness
    walls: Folded
    numbers: tuple[int, ...]  # the zones, as tuning counts them

    @staticmethod
    def of(ground: Ground, firmness: Firmness) -> FoldTuning:
        """Return it for a pad that was chosen by its levels."""
        assert firmness.folded is not None
        basis, _ = FoldBasis.of(replace(ground, layout=firmness.folded.layout))
        return FoldTuning(basis, firmness, firmness.folded, tuple(sorted(firmness.chosen)))

    def chooser(self, number: int) -> Callable[[float], Chosen]:
        """Return what gives a zone's wall for a modulus."""
        return partial(self.basis.choose, number, self.walls.field, self.untuned.levels.strain(number))

    def evened(self, case: LoadCase) -> Float | None:
        """Return what the walls as they are even out under a load, as factors on the columns of the whole patch (n,).

        For a search, which takes one curve a zone and does not lay walls out; None where the pad cannot carry the load.
        """
        columns = self.walls.columns
        if columns is None:
            return None
        try:
            return press_load(case, columns.patch, [band.value for band in columns.bands], columns.zone_of)[1]
        except SolveError:
            return None

    def takes(self, _: RegionSettings) -> tuple[float, float]:
        """Return that all walls take the same: their level cut, and with it mass and time, does not hang on slope."""
        return 1.0, 1.0

    def laid(self, patch: ContactPatch, chosen: Sequence[Chosen]) -> FoldColumns:
        """Return the columns of a patch, whose zones count as tuning's, for the walls chosen."""
        strains = self.untuned.levels.strains.strains
        own = replace(patch, zone=np.asarray(self.numbers, dtype=np.int32)[patch.zone])
        found = self.basis.columns(own, self.basis.field(self._moduli(chosen), strains), strains)
        place = {number: index for index, number in enumerate(self.numbers)}
        return replace(found, zone_of=[place[zone] for zone in found.zone_of])

    def firmness(self, chosen: Sequence[Chosen]) -> Firmness:
        """Return the pad with the walls chosen."""
        return folded(self.basis, self._moduli(chosen), self.untuned.levels.strains, self.untuned.levels.notes)

    def unpromised(self, found: Tuning, goal: Goal) -> tuple[str, ...]:
        """Return which caps on pressure are kept as reckoned and yet not promised, and why."""
        said = []
        for place, kpa in goal.caps:
            name, curve = found.zones[place].name, found.zones[place].chosen.curve
            walls = None if self.basis.patch is None else self.basis.walls(self.numbers[place], self.walls.field)
            if walls is None:
                continue
            slope, _ = slope_in_print(found.zones[place].chosen.target_kpa, curve.at, walls, self.basis.model)
            cap = pressure_cap(walls.at_slope(slope), self.basis.model, curve.at)
            if cap.kpa is None:
                said.append(f'The cap of {kpa:g} kPa on "{name}" is no promise: {cap.reason}.')
        return tuple(said)

    def _moduli(self, chosen: Sequence[Chosen]) -> dict[int, float]:
        return {number: each.target_kpa for number, each in zip(self.numbers, chosen, strict=True)}
