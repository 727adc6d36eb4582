"""What the evidence tells of the zones."""

from __future__ import annotations

from typing import Any

from ..stage import Results
from .work import PlannedZones


def zones_evidence(results: Results) -> dict[str, Any]:
    """Return the entries `zones` and `zone_notes`, and `marks` where zones come from the scan's colors."""
    planned = results.of(PlannedZones)
    plan = planned.plan
    told: dict[str, Any] = {"zones": list(plan.zones), "zone_notes": list(plan.notes)}
    if planned.marks:
        told["marks"] = [{"zone": name, **found.told} for name, found in planned.marks]
    return told
