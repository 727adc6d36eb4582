"""What a zone weighs and how long it prints by its settings, so that tuning can weigh them against pressure."""

from __future__ import annotations

import numpy as np

from ..material.region_settings import RegionSettings
from ..printing.print_plan import plan_region, shell_reach_mm
from ..printing.shell import ShellAndCore, shell_and_core
from .firmness import Ground
from .tuning_search import Takes


def zone_takes(ground: Ground, number: int) -> Takes:
    """Return what tells mass and hours of a zone, all its pieces together, printed with its base side down.

    Hours are those of the beads alone at the speed set, as in `PrintPlan.time_h`. How the part will really lie is
    chosen later; that changes contours and closed layers a little, and all settings alike.
    """
    press = ground.pad.press_direction
    up = np.array([0.0, 0.0, 1.0]) if press is None else -np.asarray(press, dtype=np.float64)
    regions = [region for region in ground.regions.regions if region.zone == number]
    known: dict[tuple[str, tuple[float, float]], ShellAndCore] = {}

    def takes(settings: RegionSettings) -> tuple[float, float]:
        mass = hours = 0.0
        for region in regions:
            place = region.id, shell_reach_mm(settings)
            if place not in known:  # the same for all fill shares, and what takes the time
                known[place] = shell_and_core(region.mesh, up, *place[1])
            diameter = ground.job.printer.filament_diameter_mm
            plan = plan_region(region, settings, up, ground.card.density_g_cm3, diameter, known[place])
            mass, hours = mass + plan.mass_g, hours + plan.time_h
        return mass, hours

    return takes
