"""The evidence of settings, load check, tuning and print plan."""

from __future__ import annotations

from typing import Any

from ..stages.load.contact import LoadResult
from ..stages.load.load_case import LoadCase
from ..stages.load.pressure_lines import pressure_lines
from ..stages.load.tuning import Tuning
from ..stages.printing.orientation import Orientation
from ..stages.printing.print_plan import PrintPlan
from .parts import Firmness
from .predicted import load_numbers


def firmness_evidence(firmness: Firmness, family: str) -> dict[str, Any]:
    """Return the entries `settings`, `load`, `load_cases` and `tuning` of the evidence, those that there are."""
    document: dict[str, Any] = {
        "settings": {
            "zones": [
                {
                    "name": each.name,
                    "target_kPa": each.target_kpa,
                    "reached_kPa": each.reached_kpa,
                    "binding": each.binding,
                    "notes": list(each.notes),
                }
                for each in firmness.chosen.values()
            ],
            "notes": list(firmness.notes),
        }
    }
    if firmness.loads:
        lines = [
            {"name": line.name, "kPa": line.kpa, "text": line.text, "source": line.source}
            for line in pressure_lines(family)
        ]
        document["load"] = {
            **_load(*firmness.loads[0]),
            "felt": list(firmness.felt),
            "reference_lines_for_information": lines,
        }
        document["load_cases"] = [_load(case, result) for case, result in firmness.loads[1:]]
    if firmness.tuning is not None:
        document["tuning"] = _tuning(firmness.tuning)
    return document


def _load(case: LoadCase, result: LoadResult) -> dict[str, Any]:
    return {
        "posture": case.posture,
        "force_n": result.force_n,
        "point_mm": case.point_mm,
        **load_numbers(result),
        "share": {zone.name: zone.share.as_json() for zone in result.zones if zone.share.high > 0.0},
        "zones": [
            {
                "name": zone.name,
                "mean_pressure_kPa": zone.mean_pressure_kpa.as_json(),
                "peak_pressure_kPa": zone.peak_pressure_kpa.as_json(),
                "sinkage_mm": zone.sinkage_mm.as_json(),
                "bottoming_margin": zone.bottoming_margin.as_json(),
            }
            for zone in result.zones
            if zone.share.high > 0.0
        ],
        "largest_pressure_kPa": result.largest_pressure_kpa.as_json(),
        "largest_place_mm": result.largest_place_mm,
        "evenness": result.evenness.as_json(),
        "tilt_deg": result.tilt_deg.as_json(),
        "least_pad_left_mm": result.least_pad_left_mm.as_json(),
        "margin_place_mm": result.margin_place_mm,
        "imbalance": round(result.imbalance, 9),  # below that it is rounding, which hangs on the number of threads
        "notes": list(result.notes),
    }


def _tuning(found: Tuning) -> dict[str, Any]:
    def numbers(result: LoadResult | None) -> dict[str, Any] | None:
        return None if result is None else {**load_numbers(result), "evenness": result.evenness.as_json()}

    return {
        "is_met": found.is_met,
        "unmet": list(found.unmet),
        "unsure": list(found.unsure),
        "beyond": list(found.beyond),
        "binding": list(found.binding),
        "traded": list(found.traded),
        "before": numbers(found.before),
        "after": numbers(found.after),
        "zones": [
            {
                "name": zone.name,
                "before_kPa": zone.before_kpa,
                "after_kPa": zone.after_kpa,
                "share_before": zone.share_before,
                "share_after": zone.share_after,
                "share_even": zone.share_even,
            }
            for zone in found.zones
        ],
        "load_checks": found.asked,
        "notes": list(found.notes),
    }


def print_evidence(plan: PrintPlan) -> dict[str, Any]:
    """Return the entry `print` of the evidence."""

    def way(each: Orientation) -> dict[str, Any]:
        return {
            "name": each.name,
            "size_mm": each.size_mm,
            "fits": each.fits,
            "stands": each.stands,
            "support_cm2": each.support_cm2,
            "body_support_cm2": each.body_support_cm2,
        }

    return {
        "mass_g": plan.mass_g.as_json(),
        "filament_m": plan.filament_m.as_json(),
        "time_h": plan.time_h.as_json(),
        "flow_limit_h": plan.flow_limit_h,
        "cost": plan.cost.as_json() if plan.cost is not None else None,
        "orientation": way(plan.orientation),
        "looked_at": [way(each) for each in plan.looked_at],
        "hollows": [{"volume_mm3": volume, "place_mm": place} for volume, place in plan.hollows],
        "least_wall_mm": plan.least_wall_mm,
        "regions": [
            {
                "id": each.id,
                "shell_g": each.shell_g,
                "core_g": each.core_g,
                "filament_m": each.filament_m,
                "bead_area_mm2": each.bead_area_mm2,
                "speed_mm_s": each.speed_mm_s,
                "flow_speed_mm_s": each.flow_speed_mm_s,
                "time_h": each.time_h,
                "flow_limit_h": each.flow_limit_h,
            }
            for each in plan.regions
        ],
        "notes": list(plan.notes),
    }
