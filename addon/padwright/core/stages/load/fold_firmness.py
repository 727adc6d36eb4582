"""How firm a pad of folded walls gets: walls by the zones' wishes, zones by the strain under the load, tuning."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ...base.errors import SolveError
from ...base.notes import to_look_at
from ..folds.sway import LEAST_MARGIN
from ..material.curves import LEVEL_STRAIN
from .contact import press_load
from .firmness import Firmness, Folded, Ground
from .fold_basis import MET, FoldBasis
from .fold_field import FoldField
from .fold_steadier import steadied
from .job_loads import load_cases
from .level_basis import LevelBasis, LevelStrains
from .level_strains import mean_strains
from .load_case import LoadCase
from .tuning_search import smaller_patch

_FIRST_STRAIN = 0.2
"""Where the search for the strain under the load starts: what the levels of folded walls are made for."""

_MOST_ROUNDS, _SETTLED = 6, 0.03
"""As for settings (`level_strains`)."""


def fold_firmness(ground: Ground) -> Firmness:
    """Choose how far the walls lean by the moduli of the zones' levels, at the strain each has under the first load."""
    basis, notes = FoldBasis.of(ground)
    zones = ground.zones.zones
    moduli = {number: zones[number].target_kpa(ground.family) for number in basis.shares.numbers}
    strains = LevelStrains(dict.fromkeys(basis.shares.numbers, LEVEL_STRAIN))
    if basis.patch is not None:
        cases = load_cases(ground)
        strains = _settled(basis, moduli, cases[0])
        found = steadied(basis, moduli, strains, cases)
        if found is not None:
            before, better = found
            basis = basis.on(better.layout)
            strains = _settled(basis, moduli, cases[0])
            notes += (
                to_look_at(
                    f"With the usual walls the pad would slide off them at {before:.2f} times the load, where a "
                    f"little over {LEAST_MARGIN:g} times is asked; so it has {better.change.words}, which bear "
                    f"{better.margin:.1f} times. They may feel firmer."
                ),
            )
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
        firmer, softer = float((off > 1.0 + MET).mean()), float((off < 1.0 - MET).mean())
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
