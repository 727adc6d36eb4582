"""What would keep a pad from sliding off its walls: other walls, tried by calculation."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ...base.errors import InputError, SolveError
from ...base.progress import drain
from ..folds.layout import FoldLayout, FoldWishes, lay_out
from ..folds.sway import LEAST_MARGIN
from ..folds.wall_choice import walls_of
from .contact import press_load
from .fold_basis import FoldBasis
from .fold_sway import sway_margin
from .level_basis import LevelStrains
from .load_case import ContactPatch, LoadCase
from .tuning_search import smaller_patch

_WAVES_DEG = (20.0,)
"""How far rows may swing where the usual swing does not hold. By shell elements of a whole pad walls that swing by 25
degrees begin to buckle by themselves at 1.5 times a seated load, before the pad slides; with 20 at 1.9."""

_FIRMER = (1.25, 1.6, 2.0, 3.0)
"""Factors on the zones' moduli that are tried."""

_MOST_BEADS = 6

SURE_MARGIN = 1.02 * LEAST_MARGIN
"""A pad is chosen and advised with so much: 1000 points of the patch tell the margin within 1 % of what all do."""


@dataclass(frozen=True)
class WallChange:
    """One thing that is done otherwise."""

    words: str  # what the pad then has
    how: str  # what to do for it; "": a pad is made so by itself where that holds it
    wishes: FoldWishes
    factor: float = 1.0  # on the zones' moduli
    is_open: bool = False  # whether the job leaves it open


def changes(basis: FoldBasis) -> Iterator[WallChange]:
    """Yield what may hold a pad, what is felt least first."""
    wishes, asked, settings = basis.layout.wishes, basis.ground.job.fill, basis.settings
    swung = wishes
    if wishes.layout == "rows":
        for wave in _WAVES_DEG:
            if wave > wishes.wave_deg:
                swung = replace(wishes, wave_deg=wave)
                yield WallChange(f"rows that swing by {wave:.0f} degrees", "", swung, is_open=True)
    beads = round(wishes.width_mm / settings.bead_width_mm)
    for more in range(beads + 1, min(beads + 2, _MOST_BEADS) + 1):
        walls = walls_of(more, wishes.folds, asked, settings.bead_width_mm, settings.layer_thickness_mm)
        wider = replace(
            swung,
            width_mm=walls.width_mm,
            pitch_mm=walls.pitch_mm,
            body_skin_mm=walls.skin_mm,
            base_skin_mm=walls.skin_mm,
        )
        yield WallChange(
            f"walls of {more} beads", f"Set fill.wall_beads = {more}", wider, is_open=asked.wall_beads is None
        )
    for factor in _FIRMER:
        yield WallChange(
            f"zones {factor:g} times as firm",
            "Give its zones higher levels, or take a filament as much firmer",
            wishes,
            factor,
        )


@dataclass(frozen=True, eq=False)
class Steadied:
    """A pad with a change."""

    change: WallChange
    layout: FoldLayout
    margin: float  # the least of all loads


def tried(
    basis: FoldBasis,
    change: WallChange,
    moduli: Mapping[int, float],
    strains: LevelStrains,
    cases: Sequence[LoadCase],
) -> Steadied | None:
    """Return how the pad stands with a change; None where it cannot be had, or cannot carry a load."""
    try:
        layout = basis.layout
        if change.wishes != layout.wishes:
            layout = drain(lay_out(basis.ground.pad, change.wishes))
        other = basis.on(layout)
        firmer = {number: kpa * change.factor for number, kpa in moduli.items()}
        return Steadied(change, layout, least_margin(other, firmer, strains, cases))
    except (InputError, SolveError):
        return None


def least_margin(
    basis: FoldBasis, moduli: Mapping[int, float], strains: LevelStrains, cases: Sequence[LoadCase]
) -> float:
    """Return the least margin of a pad over its loads, on about 1000 points. Raises SolveError where it cannot bear."""
    assert basis.patch is not None
    few: ContactPatch = smaller_patch(basis.patch, max(basis.shares.numbers) + 1)
    field = basis.field(moduli, strains.strains)
    columns = basis.columns(few, field, strains.strains)
    found = float("inf")
    for case in cases:
        run, _ = press_load(case, columns.patch, [band.value for band in columns.bands], columns.zone_of)
        found = min(found, sway_margin(basis.layout, field.slope_deg, columns.patch, run.pressure, basis.model))
    return found


def steadied(
    basis: FoldBasis, moduli: Mapping[int, float], strains: LevelStrains, cases: Sequence[LoadCase]
) -> tuple[float, Steadied] | None:
    """Return the margin of a pad that does not stand, and the first change left open by the job with which it does.

    None where it stands as it is, or nothing open holds it.
    """
    try:
        before = least_margin(basis, moduli, strains, cases)
    except SolveError:  # the load check tells
        return None
    if before >= SURE_MARGIN:
        return None
    for change in changes(basis):
        if change.is_open:
            found = tried(basis, change, moduli, strains, cases)
            if found is not None and found.margin >= SURE_MARGIN:
                return before, found
    return None


def what_holds(basis: FoldBasis, moduli: Mapping[int, float], strains: LevelStrains, case: LoadCase) -> str:
    """Return what to do for a pad that does not stand under a load, tried by calculation."""
    every = []
    for change in changes(basis):
        found = tried(basis, change, moduli, strains, (case,)) if change.how else None
        if found is None:
            continue
        every.append(found)
        if found.margin >= SURE_MARGIN:
            return f"It was tried: with {change.words} it bears {found.margin:.1f} times the load. {change.how}."
    if not every:
        return "None of the walls that were tried can bear the load at all: make the pad thicker."
    best = max(every, key=lambda each: each.margin)
    return (
        f"None of {len(every)} changes that were tried holds it, the best is {best.change.words}, with "
        f"{best.margin:.1f} times the load: make the pad thinner where it is soft, or the load less."
    )
