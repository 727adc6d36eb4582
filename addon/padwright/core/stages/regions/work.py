"""The stage: cut the pad into regions."""

from __future__ import annotations

from ...base.progress import Steps
from ..pad.work import ShapedPad
from ..scans.captured import CapturedScans
from ..stage import Given
from ..zones.work import PlannedZones
from .regions import RegionCut, cut_regions, uncut


def cut(given: Given, _: None = None) -> Steps[RegionCut]:
    """Cut the pad into regions; a pad of folded walls stays one."""
    if given.job.fill.kind == "folds":
        return uncut(given.of(ShapedPad).pad, given.of(PlannedZones).plan)
    asked = given.job.regions
    levels = given.of(CapturedScans).family.levels
    bead = given.job.printer.bead_width_mm or max(level.bead_width_mm for level in levels)
    return (
        yield from cut_regions(
            given.of(ShapedPad).pad,
            given.of(PlannedZones).plan,
            least_width_mm=asked.least_width_beads * bead,
            overlap_mm=asked.overlap_mm if asked.contact == "overlapping" else 0.0,
        )
    )
