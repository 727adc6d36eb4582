"""What would make a pad give more: each change is tried, not argued, and told with what it gives, weighs and takes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np

from ...base.errors import InputError, SolveError
from ...base.mesh import TriMesh
from ...base.text import figure
from ...job.material_cards import MaterialCard, load_material, material_names
from ...job.schema import Job, Limits
from ..material.fill import middle_curve
from ..material.material_model import model_from_card
from ..material.region_settings import RegionSettings, speed_under_flow
from ..printing.print_plan import TRAVEL, plan_region
from .contact import check_load
from .firmness import Firmness, Ground, Tried
from .level_basis import ZoneSizes
from .load_case import ContactPatch, LoadCase
from .load_words import length_words
from .pressure_lines import JUST_NOTICEABLE
from .zone_settings import zone_settings

NOTICED = 1.23
"""Times as much give as now from which a change helps: hands tell two stiffnesses apart from 23 % on (Jones & Hunter
1990, doi 10.1007/BF00228884, cited, not read)."""

THICKER_MM = ((10.0, 2.0), (np.inf, 5.0))
"""A pad under so many mm is tried so much thicker (our choice)."""

SHOWN = 2
"""How many changes are told."""


@dataclass(frozen=True, eq=False)
class _Change:
    change: str
    how: str
    settings: Mapping[int, RegionSettings]
    card: MaterialCard
    thicker_mm: float = 0.0


def advise(ground: Ground, firmness: Firmness, patch: ContactPatch, case: LoadCase) -> tuple[Tried, ...]:
    """Return the pad as it is and the `SHOWN` changes that make it give most; nothing where none helps.

    `firmness` is that of the pad as it is. Tried are: the same print in the softest filament that ships and helps;
    every zone one level lower; as few contours as allowed; gyroid instead of upright walls (these three where zones
    follow their levels and are not tuned); a thicker pad of the same fill. Not among them is a softer filament filled
    to the same stiffness: it is heavier and hardly gives more. A change helps that gives `NOTICED` times as much,
    presses no harder at the peak than a body tells (`JUST_NOTICEABLE`), and leaves `target.least_bottoming_margin`.
    """
    now = _Change("", "", {number: each.settings for number, each in firmness.chosen.items()}, ground.card)
    sizes = firmness.levels.sizes
    pressed = _pressed(ground, now, sizes, patch, case)
    if pressed is None:
        return ()
    found = [
        (more, change)
        for change in _changes(ground, now, firmness, patch, case, pressed)
        if (more := _pressed(ground, change, sizes, patch, case)) is not None and _helps(more, pressed)
    ]
    found.sort(key=lambda each: -each[0][0])
    best = [(pressed, now), *found[:SHOWN]] if found else []
    return tuple(_tried(ground, change, *told) for told, change in best)


def advice_words(tried: Sequence[Tried]) -> str:
    """Return the changes that help in a sentence, the first against the pad as it is."""
    if not tried:
        return "Softer filament, softer levels, fewer contours and a thicker pad were tried: none gives much more."
    now, *better = tried
    times, unit_of_time = (1.0, "h") if max(each.most_h for each in tried) >= 1.0 else (60.0, "min")
    told = []
    for each in better:
        pairs = [
            ("gives", length_words(each.give_mm), length_words(now.give_mm), "mm"),
            ("weighs", figure(each.mass_g), figure(now.mass_g), "g"),
            ("prints", _time(each, times), _time(now, times), unit_of_time),
        ]
        parts = [
            f"{verb} {new} {unit}{'' if each is not better[0] else ' as now' if new == old else f' instead of {old}'}"
            for verb, new, old, unit in pairs
        ]
        told.append(f"{each.change} {', '.join(parts)}")
    return f"Tried: {'; '.join(told)}."


def _helps(more: tuple[float, float], now: tuple[float, float]) -> bool:
    """Say if give and peak of a change are better than today's."""
    return more[0] >= NOTICED * now[0] and more[1] < (1.0 + JUST_NOTICEABLE) * now[1]


def _changes(
    ground: Ground,
    now: _Change,
    firmness: Firmness,
    patch: ContactPatch,
    case: LoadCase,
    pressed: tuple[float, float],
) -> Iterator[_Change]:
    """Return what is tried, as it is asked for; `pressed` is give and peak of the pad as it is."""
    yield from _softer_filament(ground, now, firmness.levels.sizes, patch, case, pressed)
    job, zones = ground.job, ground.zones
    if job.target.goal == "levels":
        lower = tuple(replace(zone, level=max(1.0, zone.level - 1.0)) for zone in zones.zones)
        asked = replace(ground, zones=replace(zones, zones=lower))
        how = "lower every zones.level by 1, to 1 at the least"
        yield _rechosen("every zone one level lower", how, asked, firmness)
        fewest = max(job.limits.contour_counts[0], 1)  # one closes the skin, and at the rim it bears nothing
        if any(each.contour_count > fewest for each in now.settings.values()):
            how = f"limits.contour_counts = [{fewest:g}, {fewest:g}]"
            asked = _limited(ground, replace(job.limits, contour_counts=(fewest, fewest)))
            yield _rechosen(f"no more contours than {fewest:g}", how, asked, firmness)
        if any(each.fill_structure not in ("gyroid", "solid", "none") for each in now.settings.values()):
            asked = _limited(ground, replace(job.limits, fill_structures=("gyroid",)))
            yield _rechosen("gyroid in every zone", 'limits.fill_structures = ["gyroid"]', asked, firmness)
    thickness = float(patch.thickness_mm @ patch.area_mm2) / float(patch.area_mm2.sum())
    more = next(added for limit, added in THICKER_MM if thickness < limit)
    yield replace(now, change=f"a pad {more:g} mm thicker", how="thicker clay, the same fill", thicker_mm=more)


class _Limited:
    """A job, or as much of it as a stage sees, with other limits."""

    def __init__(self, job: Job, limits: Limits) -> None:
        self._job, self.limits = job, limits

    def __getattr__(self, name: str) -> Any:
        return getattr(self._job, name)


def _limited(ground: Ground, limits: Limits) -> Ground:
    return replace(ground, job=cast(Job, _Limited(ground.job, limits)))


def _rechosen(change: str, how: str, ground: Ground, firmness: Firmness) -> _Change:
    chosen = zone_settings(ground, known=firmness).chosen
    return _Change(change, how, {number: each.settings for number, each in chosen.items()}, ground.card)


def _softer_filament(
    ground: Ground,
    now: _Change,
    sizes: ZoneSizes,
    patch: ContactPatch,
    case: LoadCase,
    pressed: tuple[float, float],
) -> Iterator[_Change]:
    """Return the same print in the softest filament that ships and helps, where there is one."""
    cards = [load_material(name) for name in material_names()]
    softer = [each for each in cards if 1000.0 * each.modulus_mpa < model_from_card(ground.card).solid.value]
    mass = ground.card.density_g_cm3  # of two as soft the one of today's plastic: the print then weighs the same
    for card in sorted(softer, key=lambda each: (each.modulus_mpa, abs(each.density_g_cm3 - mass))):
        settings = {number: _in_filament(each, card) for number, each in now.settings.items()}
        words = f"the same print in softer filament ({card.hardness})"
        change = _Change(words, f"the settings as they are, printed in {card.id}", settings, card)
        found = _pressed(ground, change, sizes, patch, case)
        if found is not None and _helps(found, pressed):
            yield change
            return


def _in_filament(settings: RegionSettings, card: MaterialCard) -> RegionSettings:
    """Return settings for another filament: no faster than it flows, at its temperatures."""
    flow = card.max_volume_flow_mm3_s
    bead, layer = settings.bead_width_mm, settings.layer_thickness_mm
    return replace(
        settings,
        material_id=card.id,
        max_speed_mm_s=speed_under_flow(bead, layer, settings.max_speed_mm_s, flow),
        max_volume_flow_mm3_s=flow,
        nozzle_temperature_degC=card.nozzle_temperature_degc,
        bed_temperature_degC=card.bed_temperature_degc,
    )


def _pressed(
    ground: Ground, change: _Change, sizes: ZoneSizes, patch: ContactPatch, case: LoadCase
) -> tuple[float, float] | None:
    """Return give, mm, and peak pressure, kPa, of a changed pad; None where it does not hold."""
    model = model_from_card(change.card)
    curves = {}
    for number, settings in change.settings.items():
        size = sizes.zones[number]
        size = replace(size, thickness_mm=size.thickness_mm + change.thicker_mm)
        curves[number] = middle_curve(settings, model, size, model.unknowns)
    some = next(iter(curves.values()))
    every = [curves.get(number, some) for number in range(len(ground.zones.zones))]
    thicker = replace(patch, thickness_mm=patch.thickness_mm + change.thicker_mm)
    try:
        result = check_load(case, thicker, every, is_explained=False)
    except (InputError, SolveError):
        return None
    if result.bottoming_margin.value < ground.job.target.least_bottoming_margin and change.change:
        return None
    return result.sinkage_mm.value, result.peak_pressure_kpa.value


def _tried(ground: Ground, change: _Change, give_mm: float, peak_kpa: float) -> Tried:
    """Plan the print of a changed pad, its base side down as a rule."""
    press = ground.pad.press_direction
    up = np.array([0.0, 0.0, 1.0]) if press is None else -np.asarray(press)
    takes = [
        plan_region(
            replace(region, mesh=_thickened(region.mesh, up, change.thicker_mm)),
            change.settings[region.zone],
            up,
            change.card.density_g_cm3,
            ground.job.printer.filament_diameter_mm,
        )
        for region in ground.regions.regions
    ]
    mass, flowing, printing = (
        sum(values) for values in zip(*((each.mass_g, each.flow_limit_h, each.time_h) for each in takes), strict=True)
    )
    return Tried(change.change, change.how, give_mm, peak_kpa, mass, flowing, printing * (1.0 + TRAVEL))


def _thickened(mesh: TriMesh, up: np.ndarray, more_mm: float) -> TriMesh:
    """Return a region stretched across the layers until it is so much thicker on average."""
    if more_mm == 0.0:
        return mesh
    area = 0.5 * float(mesh.face_areas @ np.abs(mesh.face_normals @ up))
    times = more_mm * area / mesh.volume
    return TriMesh(mesh.vertices + times * np.outer(mesh.vertices @ up, up), mesh.faces)


def _time(tried: Tried, times: float) -> str:
    low, high = (figure(times * each) for each in (tried.least_h, tried.most_h))
    return low if low == high else f"{low} to {high}"
