"""What the evidence tells of the print."""

from __future__ import annotations

from typing import Any

from .orientation import Orientation
from .print_plan import PrintPlan


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
            "under_cm2": each.under_cm2,
            "support_mean_mm": each.support_mean_mm,
            "support_most_mm": each.support_most_mm,
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
