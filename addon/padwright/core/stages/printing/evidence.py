"""What the evidence tells of the print."""

from __future__ import annotations

from typing import Any

from .orientation import Orientation
from .print_plan import PrintPlan, RegionPlan


def print_evidence(plan: PrintPlan) -> dict[str, Any]:
    """Return the entry `print` of the evidence."""
    return {
        "mass_g": plan.mass_g.as_json(),
        "filament_m": plan.filament_m.as_json(),
        "time_h": plan.time_h.as_json(),
        "flow_limit_h": plan.flow_limit_h,
        "cost": plan.cost.as_json() if plan.cost is not None else None,
        "orientation": _without("turn", plan.orientation),
        "looked_at": [_without("turn", each) for each in plan.looked_at],
        "hollows": [{"volume_mm3": volume, "place_mm": place} for volume, place in plan.hollows],
        "least_wall_mm": plan.least_wall_mm,
        "regions": [_without("name", each) for each in plan.regions],
        "notes": list(plan.notes),
    }


def _without(field: str, record: Orientation | RegionPlan) -> dict[str, Any]:
    """Return what a record holds but for one field."""
    return {name: value for name, value in vars(record).items() if name != field}
