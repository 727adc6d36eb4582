"""The settings of every zone by the modulus of its level, in the job's material."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from math import log
from typing import Any

import numpy as np

from ...base.errors import InputError, SolveError
from ...base.notes import to_act_on, to_look_at
from ..material.choosing import Chosen, PrintLimits, choose_settings
from ..material.curves import layered_ratio
from ..material.fill import middle_curve, region_curve
from ..material.material_model import model_from_card
from ..material.step_moduli import choose_all
from ..printing.level_settings import settings_for_level
from ..zones.zones import level_words
from .bearing import contact_patch
from .contact_solve import MN_PER_N
from .firmness import Firmness, Ground
from .job_loads import load_cases
from .level_basis import LevelBasis, LevelStrains
from .level_strains import settle, without_load
from .load_case import ContactPatch
from .wishes import print_limits
from .zone_sides import layer_ratios
from .zone_sizes import zone_sizes

_TURNED_ROUND = 1.1
"""Times as firm as the zone that was to be firmer, from which a zone is told: nearer they feel alike (our choice)."""

_BORDERS_TOLD = 0.02
"""Share of the load from which what contours on borders carry is told (our choice)."""


def zone_settings(ground: Ground, *, known: Firmness | None = None) -> Firmness:
    """Choose every zone's settings by the modulus of its level, at the strain it has under the first load.

    Contact and sizes are those of `known`, where the same zones were chosen for before.
    """
    zones = ground.zones.zones
    present = sorted({region.zone for region in ground.regions.regions})
    by_name = {zones[number].name: number for number in present}
    between = {number: between_of(ground, number, by_name) for number in present}
    targets = {number: zones[number].target_kpa(ground.family) for number in present}
    patch, notes = _patch(ground, present) if known is None else (known.patch, ())
    sizes = zone_sizes(ground, patch) if known is None else known.levels.sizes

    def choose(strains: Mapping[int, float]) -> dict[int, Chosen]:
        basis = LevelBasis(sizes, LevelStrains(strains))
        return choose_all(
            targets,
            {number: found for number, found in between.items() if found is not None},
            {number: chooser(ground, number, basis) for number in present},
        )

    strains = without_load(present)
    if patch is None:
        chosen = choose(strains.strains)
    else:
        strains, chosen = settle(load_cases(ground)[0], patch, present, choose)
    levels = LevelBasis(sizes, strains, (*notes, *_strain_notes(ground, strains)))
    firmness = firmness_of(ground, chosen, levels, patch)
    return replace(firmness, notes=(*_turned_round(ground, chosen, patch), *firmness.notes))


def _patch(ground: Ground, present: list[int]) -> tuple[ContactPatch | None, tuple[str, ...]]:
    """Return where the body bears, for the load the levels are to hold under; None without one.

    A load or contact that is refused is left to the load check, which says what is wrong with it.
    """
    try:
        return contact_patch(ground, present) if load_cases(ground) else (None, ())
    except (InputError, SolveError):
        return None, ()


def _strain_notes(ground: Ground, found: LevelStrains) -> tuple[str, ...]:
    """Return what to say of the strains at which the levels are met."""
    if not found.rounds:
        return ()
    names = {number: ground.zones.zones[number].name for number in found.strains}
    told = ", ".join(f'"{names[number]}" {100.0 * strain:.2g} %' for number, strain in found.strains.items())
    notes = [f"The levels' moduli are met where the load squeezes each zone: {told}."]
    idle = [f'"{names[number]}"' for number in found.strains if number not in found.bearing]
    if idle and found.bearing:
        notes.append(f"Nothing bears on {', '.join(idle)}: met there is the level at the mean strain of the others.")
    if not found.is_settled:
        notes.append(
            to_look_at(
                f"Settings and strains did not come to rest in {found.rounds} rounds: where the zones are squeezed "
                "more or less than told, their moduli are others than their levels'."
            )
        )
    return tuple(notes)


def _border_notes(
    ground: Ground, chosen: Mapping[int, Chosen], levels: LevelBasis, patch: ContactPatch | None
) -> tuple[str, ...]:
    """Return what to say of contours that stand on borders inside the part, under the body."""
    if patch is None:
        return ()
    model, sizes = model_from_card(ground.card), levels.sizes
    carried = 0.0
    for number, each in chosen.items():
        away, band = sizes.zones[number], each.curve
        walled = replace(away, perimeter_mm=away.perimeter_mm + sizes.borders_mm[number])
        rise = middle_curve(each.settings, model, walled).secant_kpa(band.at) - band.modulus_kpa.value
        carried += rise * band.at * away.area_mm2 / MN_PER_N
    case = load_cases(ground)[0]
    force = case.force_n or (case.mean_pressure_kpa or 0.0) * float(patch.area_mm2.sum()) / MN_PER_N
    if carried < _BORDERS_TOLD * force:
        return ()
    return (
        "Contours on borders inside the part are hard lines under the body: pressed as far as the fill beside them "
        f"they would carry {carried:.0f} of {force:.0f} N. Flesh gives way to lines so narrow; the load check leaves "
        "them out.",
    )


def _in_the_pad(chosen: Mapping[int, Chosen], patch: ContactPatch | None) -> dict[int, float]:
    """Return how much stiffer each zone is in the pad than as a free block: what is beside it counts where known."""
    curves = {number: each.curve.value for number, each in chosen.items()}
    if patch is None:
        return {number: layered_ratio(curve) for number, curve in curves.items()}
    some = next(iter(curves.values()))
    ratios = layer_ratios(patch, [curves.get(number, some) for number in range(max(curves) + 1)])
    return {number: ratios[number].value for number in curves}


def _turned_round(ground: Ground, chosen: Mapping[int, Chosen], patch: ContactPatch | None) -> tuple[str, ...]:
    """Return what to say of zones that come out firmer under the body than those they were to be softer than."""
    zones = {number: ground.zones.zones[number] for number in chosen}
    plain = [number for number, zone in zones.items() if zone.between is None]
    reached = {number: each.reached_kpa for number, each in chosen.items()}
    stiffened = _in_the_pad(chosen, patch)
    under = {number: kpa * stiffened[number] for number, kpa in reached.items()}
    wished = {number: zones[number].target_kpa(ground.family) for number in plain}
    notes = []
    for soft, firm in itertools.permutations(plain, 2):
        if wished[soft] < wished[firm] and under[soft] > _TURNED_ROUND * under[firm]:
            notes.append(
                to_act_on(
                    f'"{zones[soft].name}" ({level_words(zones[soft])}) comes out firmer than "{zones[firm].name}" '
                    f"({level_words(zones[firm])}): {reached[soft]:.0f} against {reached[firm]:.0f} kPa, as near as "
                    "filament, nozzle and limits let both come to their levels. Take a softer filament "
                    "(material.card) or a finer nozzle, or leave the zone out."
                )
            )
    return tuple(notes)


def firmness_of(
    ground: Ground, chosen: Mapping[int, Chosen], levels: LevelBasis, patch: ContactPatch | None, **more: Any
) -> Firmness:
    """Return what the zones' settings give the regions."""
    model = model_from_card(ground.card)
    curves = {
        region.id: region_curve(
            chosen[region.zone].settings, model, levels.sizes.regions[region.id], levels.strain(region.zone)
        )
        for region in ground.regions.regions
    }
    notes = tuple(dict.fromkeys(note for each in chosen.values() for note in each.notes))
    notes += (*levels.notes, *_border_notes(ground, chosen, levels, patch))
    return Firmness(chosen, curves, levels, patch=patch, notes=notes, card=ground.card, **more)


def chooser(ground: Ground, number: int, levels: LevelBasis, *, is_tuned: bool = False) -> partial[Chosen]:
    """Return what chooses a zone's settings for a modulus.

    Tuning keeps to the fewest contours: with one number of contours the pad's response changes smoothly with the fill
    share, and the fill carries more of the load than the borders between zones. So does a zone that lies wholly inside
    the part: its contours would be a hard ring around it, and no air asks for them.
    """
    zone = ground.zones.zones[number]
    limits, is_inside = _limits(ground, number, levels), number in levels.sizes.inside
    wished = settings_for_level(zone.level, ground.family.levels, ground.job.printer, ground.card)
    if is_tuned or is_inside:
        wished = replace(wished, contour_count=limits.contour_counts[0])
    return partial(
        choose_settings,
        limits=limits,
        model=model_from_card(ground.card),
        geometry=levels.sizes.zones[number],
        wished=replace(wished, notes=()),
        name=zone.name,
        strain=levels.strain(number),
    )


def _limits(ground: Ground, number: int, levels: LevelBasis) -> PrintLimits:
    """Return what a zone may be printed with: where air touches it, a contour closes it if any is allowed."""
    limits = print_limits(ground.job)
    low, high = limits.contour_counts
    if number in levels.sizes.inside:
        return limits
    return replace(limits, contour_counts=(max(low, min(1, high)), high))


def between_of(ground: Ground, number: int, by_name: Mapping[str, int]) -> tuple[int, int, float] | None:
    """Return which two zones a blend step lies between and its share of the second, by their levels."""
    zone = ground.zones.zones[number]
    if zone.between is None or any(name not in by_name for name in zone.between):
        return None
    zones = {each.name: each for each in ground.zones.zones}
    first, second = (zones[name] for name in zone.between)
    ends, own = (first.level, second.level), zone.level
    if ends[0] == ends[1]:  # then it lies between what they are times as stiff as that level
        ends, own = (log(first.stiffness_times), log(second.stiffness_times)), log(zone.stiffness_times)
    share = 0.5 if ends[0] == ends[1] else float(np.clip((own - ends[0]) / (ends[1] - ends[0]), 0.0, 1.0))
    return by_name[zone.between[0]], by_name[zone.between[1]], share
