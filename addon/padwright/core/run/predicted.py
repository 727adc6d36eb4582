"""What the settings document predicts: each number with its bounds and what it rests on."""

from __future__ import annotations

from typing import Any

from ..base.estimate import Estimate, told
from ..stages.load.contact import LoadResult, ZoneLoad
from ..stages.load.evidence import load_numbers
from ..stages.printing.print_plan import WEIGHED, PrintPlan
from .parts import MadePart


def predicted_region(part: MadePart, region_id: str, plan: PrintPlan) -> dict[str, dict[str, Any]]:
    """Return a region's modulus as printed, what its zone bears under the first load case, and its mass."""
    assert part.firmness is not None and part.regions is not None
    band = part.firmness.curves[region_id]
    found: dict[str, dict[str, Any]] = {
        "modulus_kPa": {**band.modulus_kpa.as_json(), "at_strain_pct": told(100.0 * band.at)}
    }
    if part.firmness.loads:
        load: ZoneLoad | LoadResult = part.firmness.loads[0][1]
        if part.firmness.folded is None:  # else the one region is the whole part
            zone = next(region.zone for region in part.regions.regions if region.id == region_id)
            load = part.firmness.loads[0][1].zones[zone]
        found["peak_pressure_kPa"] = load.peak_pressure_kpa.as_json()
        found["mean_pressure_kPa"] = load.mean_pressure_kpa.as_json()
        found["sinkage_mm"] = load.sinkage_mm.as_json()
        found["bottoming_margin_pct"] = load.bottoming_margin.scaled(100.0).as_json()
    mass = next(each.mass_g for each in plan.regions if each.id == region_id)
    found["mass_g"] = Estimate(mass, mass * (1 - WEIGHED), mass * (1 + WEIGHED), "model").as_json()
    return found


def predicted_part(part: MadePart, plan: PrintPlan) -> dict[str, Any]:
    """Return what the whole part weighs, takes to print, and how it bears the first load case."""
    assert part.firmness is not None and part.pad is not None
    found: dict[str, Any] = {
        "mass_g": plan.mass_g.as_json(),
        "print_time_min": plan.time_h.scaled(60.0).as_json(),
        "filament_m": plan.filament_m.as_json(),
    }
    if part.firmness.loads:
        case, result = part.firmness.loads[0]
        flesh_mm = 0.0 if case.flesh is None else case.flesh.thickness_mm
        found["load_case"] = {"name": case.posture, "force_N": result.force_n, "flesh_thickness_mm": flesh_mm}
        if part.pad.press_direction is not None:
            found["load_case"]["direction"] = [told(float(each)) for each in part.pad.press_direction]
        found |= load_numbers(result)
        found["bottoming_margin_pct"] = result.bottoming_margin.scaled(100.0).as_json()
        del found["bottoming_margin"]
    return found
