"""What the evidence tells of the zones."""

from __future__ import annotations

from typing import Any

from ..stage import Results
from .work import PlannedZones


def zones_evidence(results: Results) -> dict[str, Any]:
    """Return the entries `zones` and `zone_notes`."""
    plan = results.of(PlannedZones).plan
    return {"zones": list(plan.zones), "zone_notes": list(plan.notes)}
