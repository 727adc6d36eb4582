"""What the evidence tells of the cut."""

from __future__ import annotations

from typing import Any

from ..stage import Results
from .regions import RegionCut


def regions_evidence(results: Results) -> dict[str, Any]:
    """Return the entry `region_cut`."""
    found = results.of(RegionCut)
    contacts = [{"between": [each.first, each.second], "area_cm2": each.area_mm2 / 100.0} for each in found.contacts]
    return {
        "region_cut": {"volume_error": found.volume_error, "contacts": contacts, "notes": list(found.notes)},
    }
