"""Stages 7, 8, 9 and 11 of a run: settings by material, load check, tuning, print plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from ..base.errors import InputError
from ..base.mesh import TriMesh
from ..geometry.pad_length import edge_distance
from ..geometry.through import BODY_SIDE
from ..job.read import blame_key
from ..job.schema import Job
from ..stages.load.contact import check_load
from ..stages.load.felt import felt
from ..stages.load.load_case import ContactPatch, patch_of
from ..stages.load.tuning import TunableZone, tune
from ..stages.load.tuning_goal import Goal
from ..stages.load.tuning_notes import beyond
from ..stages.material.choosing import Chosen, PrintLimits, choose_settings
from ..stages.material.curves import CurveBand
from ..stages.material.fill import RegionGeometry, region_curve
from ..stages.material.material_model import MaterialModel, model_from_card
from ..stages.material.region_settings import RegionSettings
from ..stages.material.region_size import region_size
from ..stages.material.step_moduli import choose_all
from ..stages.printing.level_settings import settings_for_level
from ..stages.printing.print_plan import PrintPlan, plan_print
from ..stages.regions.bodies import Body, Mirror, rounded_mesh
from .loads import blaming_case, empty_cases, keyed_cases, left_aside, posture_of
from .parts import Firmness, Part

_BEADS = (1.125, 1.5)
"""Bead widths in nozzle diameters where the job names none: common practice, no source."""


def check_wishes(job: Job) -> None:
    """Refuse, before any work, a layer that no bead can print and a target that cannot be tuned to.

    Raises
    ------
    InputError
        When every bead is thinner than the layer, no load is given to tune to, or no zone to relieve is named.
    """
    if job.printer.layer_thickness_mm is not None:
        print_limits(job).beads_for(job.printer.layer_thickness_mm)
    target = job.target
    if target.goal == "levels":
        return
    if target.goal == "relieve" and not target.relieve:
        with blame_key("target", "relieve"):
            raise InputError('This key is missing; the goal "relieve" needs the names of zones.')
    is_wrapped = job.body.press_direction == "inward"
    if not is_wrapped and job.load.body_mass_kg is None and job.load.force_n is None:
        with blame_key("load", "body_mass_kg"):
            raise InputError("This key is missing; tuning needs it, or load.force_n.")


def print_limits(job: Job) -> PrintLimits:
    """Return what may be chosen."""
    given = job.limits
    beads = given.bead_widths_mm
    if job.printer.bead_width_mm is not None:
        beads = (job.printer.bead_width_mm,)
    low, high = given.contour_counts
    density = (given.solid_share_pct[0], given.solid_share_pct[1])
    return PrintLimits(
        beads or tuple(round(factor * job.printer.nozzle_mm, 3) for factor in _BEADS),
        density,
        given.fill_structures,
        (int(low), int(high)),
    )


def choose(part: Part) -> Firmness:
    """Choose every zone's settings by the modulus of its level (stage 7)."""
    assert part.regions is not None and part.zones is not None
    zones = part.zones.zones
    present = sorted({region.zone for region in part.regions.regions})
    by_name = {zones[number].name: number for number in present}
    between = {number: _between(part, number, by_name) for number in present}
    chosen = choose_all(
        {number: part.family.target_modulus_kpa(zones[number].level) for number in present},
        {number: found for number, found in between.items() if found is not None},
        {number: _chooser(part, number) for number in present},
    )
    return _firmness(part, chosen)


def _firmness(part: Part, chosen: Mapping[int, Chosen], **more: Any) -> Firmness:
    assert part.regions is not None
    model = model_from_card(part.material)
    curves = {
        region.id: region_curve(chosen[region.zone].settings, model, _size(part, region.mesh))
        for region in part.regions.regions
    }
    notes = tuple(dict.fromkeys(note for each in chosen.values() for note in each.notes))
    return Firmness(chosen, curves, notes=notes, **more)


def _chooser(part: Part, number: int, *, is_tuned: bool = False) -> partial[Chosen]:
    """Return what chooses a zone's settings for a modulus.

    Tuning keeps to the fewest contours: with one number of contours the pad's response changes smoothly with the fill
    share, and the fill carries more of the load than the borders between zones.
    """
    assert part.zones is not None
    zone = part.zones.zones[number]
    wished = settings_for_level(zone.level, part.family.levels, part.job.printer, part.material)
    if is_tuned:
        wished = replace(wished, contour_count=int(part.job.limits.contour_counts[0]))
    model: MaterialModel = model_from_card(part.material)
    return partial(
        choose_settings,
        limits=print_limits(part.job),
        model=model,
        geometry=_zone_size(part, number),
        wished=replace(wished, notes=()),
        name=zone.name,
    )


def _size(part: Part, mesh: TriMesh) -> RegionGeometry:
    assert part.pad is not None
    return region_size(mesh, part.pad.press_direction, part.pad)


def _zone_size(part: Part, number: int) -> RegionGeometry:
    """Return the size of a zone: its pieces together, so that contours have the share they have in all of them."""
    assert part.regions is not None
    sizes = [_size(part, region.mesh) for region in part.regions.regions if region.zone == number]
    area = sum(each.area_mm2 for each in sizes)
    thickness = sum(each.area_mm2 * each.thickness_mm for each in sizes) / area
    return RegionGeometry(thickness, area, sum(each.perimeter_mm for each in sizes))


def contact_patch(part: Part, present: list[int]) -> tuple[ContactPatch, tuple[str, ...]]:
    """Return where the body bears on the pad; each place has the zone, of those present, that it belongs to most.

    Left out is what bears nothing: where no pad goes down to the base side, and the rim, as wide as it is rounded:
    a free edge bulges (kept where the contact is nothing but rim).
    """
    pad, plan, reading = part.pad, part.zones, part.reading
    assert pad is not None and plan is not None
    notes: tuple[str, ...] = ()
    is_contact = pad.is_through
    if reading is None or part.aligned is None or len(reading.is_contact) != len(part.aligned.vertices):
        notes = ("Without an impression the whole body side counts as contact.",)
    else:
        _, nearest = cKDTree(part.aligned.vertices).query(pad.mesh.vertices[pad.is_through])
        is_contact = np.zeros(len(pad.side), dtype=bool)
        is_contact[pad.is_through] = reading.is_contact[nearest]
    rim_mm = part.job.pad.rim_radius_mm
    is_held = is_contact & (edge_distance(pad.mesh, pad.is_through, pad.press_direction) >= rim_mm)
    if is_held[pad.mesh.faces].all(axis=1).any():
        is_contact = is_held
    zone = np.asarray(present)[np.argmax(plan.weights[:, present], axis=1)]
    patch, _ = patch_of(
        pad.mesh, is_contact, pad.thickness, zone.astype(np.int32), pad.press_direction, gap_mm=pad.gap_mm
    )
    return patch, notes


def check(part: Part, firmness: Firmness) -> Firmness:
    """Press the body on the pad (stage 8)."""
    keyed = keyed_cases(part)
    cases = tuple(case for _, case in keyed)
    if not cases:
        note = "No load is given, so what it will feel like was not computed: give load.body_mass_kg."
        return replace(firmness, notes=(*firmness.notes, *empty_cases(part), note))
    patch = firmness.patch
    notes: tuple[str, ...] = ()
    if patch is None:
        patch, notes = contact_patch(part, sorted(firmness.chosen))
    notes += (*left_aside(part), *empty_cases(part))
    stated, meant = part.job.load.posture, posture_of(part)
    if stated != meant and stated != part.family.defaults["load", "posture"].value:
        notes += (
            f'The posture "{stated}" does not go with the load, {cases[0].force_n:.0f} N, which is that of "{meant}": '
            "it is called so. Change load.share or load.posture so that both say the same.",
        )
    bands, names = _bands(part, firmness.chosen)
    checked = []
    for key, case in keyed:
        with blaming_case(key, case):
            checked.append((case, check_load(case, patch, bands, zone_names=names)))
    loads = tuple(checked)
    said = felt(loads[0][1], cases[0], patch, bands)
    tuning = firmness.tuning
    if tuning is not None:
        goal = _goal(part)
        told = tuple(words for case, result in loads[1:] for words in beyond(case, cases[0], result, goal))
        tuning = replace(tuning, beyond=told)
    return replace(firmness, patch=patch, loads=loads, felt=said, tuning=tuning, notes=(*firmness.notes, *notes))


def _bands(part: Part, chosen: Mapping[int, Chosen]) -> tuple[list[CurveBand], list[str]]:
    """Return a curve and a name for every zone of the plan; a zone without a region bears nothing."""
    assert part.zones is not None
    some = next(iter(chosen.values())).curve
    zones = part.zones.zones
    return [chosen[n].curve if n in chosen else some for n in range(len(zones))], [zone.name for zone in zones]


def tune_zones(part: Part, firmness: Firmness) -> Firmness:
    """Tune the zones to the target, where the job has one (stage 9)."""
    job, plan = part.job, part.zones
    assert plan is not None
    keyed = keyed_cases(part)
    cases = tuple(case for _, case in keyed)
    if job.target.goal == "levels" or not cases:
        return firmness
    present = sorted(firmness.chosen)
    place = {number: index for index, number in enumerate(present)}
    by_name = {plan.zones[number].name: place[number] for number in present}
    target = job.target
    wished = target.relieve if target.goal == "relieve" else ()
    gone = [name for name in wished if name not in by_name]
    missing = tuple(f'"{name}" has no region of its own on this pad, so it cannot be relieved.' for name in gone)
    if wished and len(gone) == len(wished):
        return replace(firmness, notes=(*firmness.notes, *missing))
    patch, notes = contact_patch(part, present)
    own = replace(patch, zone=np.searchsorted(present, patch.zone).astype(np.int32))
    zones = [
        TunableZone(
            plan.zones[number].name,
            part.family.target_modulus_kpa(plan.zones[number].level),
            _chooser(part, number, is_tuned=True),
            _between(part, number, by_name),
            firmness.chosen[number],
        )
        for number in present
    ]
    goal = _goal(part, tuple(by_name[name] for name in dict.fromkeys(wished) if name in by_name))
    with blaming_case(*keyed[0]):
        found = tune(cases[0], own, zones, _neighbours(part, present), goal)
    chosen = {number: zone.chosen for number, zone in zip(present, found.zones, strict=True)}
    tuned = _firmness(part, chosen, patch=patch, tuning=found)
    return replace(tuned, notes=(*tuned.notes, *missing, *notes))


def _goal(part: Part, relieve: tuple[int, ...] = ()) -> Goal:
    """Return the job's limits, with the zones to relieve by their place among those present."""
    target = part.job.target
    return Goal(
        relieve,
        target.relief_share,
        target.sinkage_limit_mm,
        target.least_bottoming_margin,
        target.greatest_modulus_ratio,
        target.level_step_limit,
        tuple(level.target_modulus_kpa for level in part.family.levels),
    )


def _between(part: Part, number: int, by_name: Mapping[str, int]) -> tuple[int, int, float] | None:
    """Return which two zones a blend step lies between and its share of the second, by their levels."""
    assert part.zones is not None
    zone = part.zones.zones[number]
    if zone.between is None or any(name not in by_name for name in zone.between):
        return None
    levels = {each.name: each.level for each in part.zones.zones}
    low, high = levels[zone.between[0]], levels[zone.between[1]]
    share = 0.5 if low == high else float(np.clip((zone.level - low) / (high - low), 0.0, 1.0))
    return by_name[zone.between[0]], by_name[zone.between[1]], share


def _neighbours(part: Part, present: list[int]) -> list[tuple[int, int]]:
    assert part.pad is not None and part.zones is not None
    zone = np.argmax(part.zones.weights[:, present], axis=1)
    pair = np.sort(zone[part.pad.mesh.edges], axis=1)
    found = np.unique(pair[pair[:, 0] != pair[:, 1]], axis=0)
    return [(int(first), int(second)) for first, second in found]


def plan_the_print(
    part: Part, bodies: Sequence[Body], settings: Mapping[str, RegionSettings], mirror: Mirror | None
) -> PrintPlan:
    """Plan the print of the part as it is packed (stage 11)."""
    pad, job = part.pad, part.job
    assert pad is not None
    # On the grid of the files, as the bodies are: what hangs on the last bits does not choose how the part lies.
    mesh = rounded_mesh(mirror.of(pad.mesh) if mirror is not None else pad.mesh)
    bodies_side = (pad.side == BODY_SIDE)[pad.mesh.faces].all(axis=1)
    return plan_print(
        bodies,
        settings,
        mesh,
        density_g_cm3=part.material.density_g_cm3,
        bed_mm=job.printer.bed_mm,
        press_direction=pad.press_direction,
        is_body_face=bodies_side,
        least_wall_mm=pad.least_thickness_mm,
        filament_diameter_mm=job.printer.filament_diameter_mm,
        price_per_kg=job.material.price_per_kg,
    )
