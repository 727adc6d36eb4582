"""The settings of every zone by the modulus of its level, in the job's material."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from ...base.mesh import TriMesh
from ...base.notes import to_act_on
from ..material.choosing import Chosen, choose_settings
from ..material.fill import RegionGeometry, region_curve
from ..material.material_model import MaterialModel, model_from_card
from ..material.region_size import region_size
from ..material.step_moduli import choose_all
from ..printing.level_settings import settings_for_level
from .firmness import Firmness, Ground
from .wishes import print_limits

_TURNED_ROUND = 1.1
"""Times as firm as the zone that was to be firmer, from which a zone is told: nearer they feel alike (our choice)."""


def zone_settings(ground: Ground) -> Firmness:
    """Choose every zone's settings by the modulus of its level."""
    zones = ground.zones.zones
    present = sorted({region.zone for region in ground.regions.regions})
    by_name = {zones[number].name: number for number in present}
    between = {number: between_of(ground, number, by_name) for number in present}
    chosen = choose_all(
        {number: ground.family.target_modulus_kpa(zones[number].level) for number in present},
        {number: found for number, found in between.items() if found is not None},
        {number: chooser(ground, number) for number in present},
    )
    firmness = firmness_of(ground, chosen)
    return replace(firmness, notes=(*_turned_round(ground, chosen), *firmness.notes))


def _turned_round(ground: Ground, chosen: Mapping[int, Chosen]) -> tuple[str, ...]:
    """Return what to say of zones that come out firmer than those they were to be softer than."""
    zones = {number: ground.zones.zones[number] for number in chosen}
    plain = [number for number, zone in zones.items() if zone.between is None]
    notes = []
    for soft, firm in itertools.permutations(plain, 2):
        reached, beside = chosen[soft].reached_kpa, chosen[firm].reached_kpa
        if zones[soft].level < zones[firm].level and reached > _TURNED_ROUND * beside:
            notes.append(
                to_act_on(
                    f'"{zones[soft].name}" (level {zones[soft].level:g}) comes out firmer than "{zones[firm].name}" '
                    f"(level {zones[firm].level:g}): {reached:.0f} against {beside:.0f} kPa, as near as filament, "
                    "nozzle and limits let both come to their levels. Take a softer filament (material.card) or a "
                    "finer nozzle, or leave the zone out."
                )
            )
    return tuple(notes)


def firmness_of(ground: Ground, chosen: Mapping[int, Chosen], **more: Any) -> Firmness:
    """Return what the zones' settings give the regions."""
    model = model_from_card(ground.card)
    curves = {
        region.id: region_curve(chosen[region.zone].settings, model, _size(ground, region.mesh))
        for region in ground.regions.regions
    }
    notes = tuple(dict.fromkeys(note for each in chosen.values() for note in each.notes))
    return Firmness(chosen, curves, notes=notes, card=ground.card, body=ground.body, **more)


def chooser(ground: Ground, number: int, *, is_tuned: bool = False) -> partial[Chosen]:
    """Return what chooses a zone's settings for a modulus.

    Tuning keeps to the fewest contours: with one number of contours the pad's response changes smoothly with the fill
    share, and the fill carries more of the load than the borders between zones.
    """
    zone = ground.zones.zones[number]
    wished = settings_for_level(zone.level, ground.family.levels, ground.job.printer, ground.card)
    if is_tuned:
        wished = replace(wished, contour_count=int(ground.job.limits.contour_counts[0]))
    model: MaterialModel = model_from_card(ground.card)
    return partial(
        choose_settings,
        limits=print_limits(ground.job),
        model=model,
        geometry=zone_size(ground, number),
        wished=replace(wished, notes=()),
        name=zone.name,
    )


def _size(ground: Ground, mesh: TriMesh) -> RegionGeometry:
    return region_size(mesh, ground.pad.press_direction, ground.pad)


def zone_size(ground: Ground, number: int) -> RegionGeometry:
    """Return the size of a zone: its pieces together, so that contours have the share they have in all of them."""
    sizes = [_size(ground, region.mesh) for region in ground.regions.regions if region.zone == number]
    area = sum(each.area_mm2 for each in sizes)
    thickness = sum(each.area_mm2 * each.thickness_mm for each in sizes) / area
    return RegionGeometry(thickness, area, sum(each.perimeter_mm for each in sizes))


def between_of(ground: Ground, number: int, by_name: Mapping[str, int]) -> tuple[int, int, float] | None:
    """Return which two zones a blend step lies between and its share of the second, by their levels."""
    zone = ground.zones.zones[number]
    if zone.between is None or any(name not in by_name for name in zone.between):
        return None
    levels = {each.name: each.level for each in ground.zones.zones}
    low, high = levels[zone.between[0]], levels[zone.between[1]]
    share = 0.5 if low == high else float(np.clip((zone.level - low) / (high - low), 0.0, 1.0))
    return by_name[zone.between[0]], by_name[zone.between[1]], share
