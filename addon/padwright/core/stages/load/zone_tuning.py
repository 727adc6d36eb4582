"""The zones tuned to the job's target."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ...base.notes import to_act_on
from .bearing import contact_patch
from .firmness import Firmness, Ground
from .fold_tuning import FoldTuning
from .job_loads import blaming_case, keyed_cases
from .tuning import tune
from .tuning_costs import zone_takes
from .tuning_goal import Goal
from .tuning_pads import TunableZone
from .zone_settings import between_of, chooser, firmness_of


def tune_zones(ground: Ground, firmness: Firmness) -> Firmness:
    """Tune the zones to the target, where the job has one."""
    job, plan = ground.job, ground.zones
    keyed = keyed_cases(ground)
    cases = tuple(case for _, case in keyed)
    if job.target.goal == "levels" or not cases:
        return firmness
    present = sorted(firmness.chosen)
    place = {number: index for index, number in enumerate(present)}
    by_name = {plan.zones[number].name: place[number] for number in present}
    target = job.target
    relieved = target.relieve if target.goal == "relieve" else ()
    wished = dict.fromkeys((*relieved, *(cap.zone for cap in target.caps)))
    gone = [name for name in wished if name not in by_name]
    missing = tuple(
        to_act_on(f'"{name}" has no region of its own on this pad, so it cannot be relieved.') for name in gone
    )
    if target.goal == "relieve" and len(gone) == len(wished):
        return replace(firmness, notes=(*firmness.notes, *missing))
    patch, notes = (firmness.patch, ()) if firmness.patch is not None else contact_patch(ground, present)
    walls = None if firmness.folded is None else FoldTuning.of(ground, firmness)
    own = replace(
        patch,
        zone=np.searchsorted(present, patch.zone).astype(np.int32),
        evened=None if walls is None else walls.evened(cases[0]),
    )
    zones = [
        TunableZone(
            plan.zones[number].name,
            plan.zones[number].target_kpa(ground.family),
            walls.chooser(number) if walls else chooser(ground, number, firmness.levels, is_tuned=True),
            between_of(ground, number, by_name),
            firmness.chosen[number],
            walls.takes if walls else zone_takes(ground, number),
        )
        for number in present
    ]
    goal = goal_of(ground, by_name)
    with blaming_case(*keyed[0]):
        found = tune(cases, own, zones, _neighbors(ground, present), goal, walls.laid if walls else None)
    if not firmness.has_coupons:
        found = replace(found, unsure=tuple(f"{doubt} Printed coupons would tell." for doubt in found.unsure))
    chosen = {number: zone.chosen for number, zone in zip(present, found.zones, strict=True)}
    if walls:
        found = replace(found, unsure=(*found.unsure, *walls.unpromised(found, goal)))
        tuned = replace(walls.firmness([zone.chosen for zone in found.zones]), tuning=found)
    else:
        tuned = firmness_of(ground, chosen, firmness.levels, patch, tuning=found)
    return replace(tuned, notes=(*tuned.notes, *missing, *notes))


def goal_of(ground: Ground, by_name: Mapping[str, int]) -> Goal:
    """Return the job's aim and limits, with zones by their place among those present, `by_name`."""
    target = ground.job.target
    relieve = dict.fromkeys(target.relieve if target.goal == "relieve" else ())
    return Goal(
        tuple(by_name[name] for name in relieve if name in by_name),
        target.relief_share,
        target.sinkage_limit_mm,
        target.least_bottoming_margin,
        target.greatest_modulus_ratio,
        target.level_step_limit,
        tuple(level.target_modulus_kpa for level in ground.family.levels),
        tuple((by_name[cap.zone], cap.most_pressure_kpa) for cap in target.caps if cap.zone in by_name),
        target.goal == "relieve",
        target.peak_for_mass_pct,
        target.peak_for_time_pct,
        target.loads,
    )


def _neighbors(ground: Ground, present: list[int]) -> list[tuple[int, int]]:
    zone = np.argmax(ground.zones.weights[:, present], axis=1)
    pair = np.sort(zone[ground.pad.mesh.edges], axis=1)
    found = np.unique(pair[pair[:, 0] != pair[:, 1]], axis=0)
    return [(int(first), int(second)) for first, second in found]
