"""The list of stages: what a run goes through from end to end. It loads nothing of what the work needs."""

from __future__ import annotations

from ..stages import alignment, load, pad, reading, regions, scans, zones

STAGES = tuple(room.STAGE for room in (scans, alignment, reading, pad, zones, regions, load))
"""In the order in which each needs the ones before it; what share is left over is for packing."""


def stage_of(place: str) -> str | None:
    """Return the first stage that reads a place of a job, with dots, or None where only packing does."""
    return next((stage.name for stage in STAGES if stage.holds(place)), None)
