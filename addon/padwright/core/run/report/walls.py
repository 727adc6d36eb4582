"""What the report tells of folded walls: their slopes, how they stand, whether every layer of them prints."""

from __future__ import annotations

import math

import numpy as np

from ...base.text import figure as number_words
from ...stages.folds.sway import LEAST_MARGIN, SIDE_SHARE
from ...stages.load.firmness import Folded
from ...stages.load.fold_places import kpa_everywhere
from ...stages.load.load_words import span
from ...stages.report.field_picture import Scale
from ...stages.report.page import facts, heading, side_by_side
from .pictures import value_figures
from .source import ReportSource


def walls_body(source: ReportSource) -> str:
    """Return how walls lean, how firm the part gets by them, and how they stand; nothing without walls."""
    firmness = source.part.firmness
    if firmness is None or firmness.folded is None:
        return ""
    walls = firmness.folded
    return heading("The walls inside") + facts(_standing(walls)) + side_by_side(_figures(source, walls))


def _standing(walls: Folded) -> list[tuple[str, str]]:
    slope = walls.field.slope_deg[walls.layout.is_core]
    low, high = (number_words(float(each)) for each in np.percentile(slope, (5.0, 95.0)))
    rows = [
        (
            "Walls",
            f"{len(walls.layout.walls)}, {walls.layout.width_mm:g} mm wide, {walls.layout.pitch_mm:.3g} mm apart",
        ),
        ("They lean", f"{low} to {high} degrees from upright"),
    ]
    if not walls.stands:
        return rows
    stand = walls.stands[0]
    rows.append(
        (
            "Sideways",
            f"slides off its walls at {span(stand.sway.margin)} times this load; at least {LEAST_MARGIN:g} is asked",
        )
    )
    if math.isfinite(stand.sway.creep_mm):
        rows.append(
            (
                f"Pushed with {100 * SIDE_SHARE:.0f} % of the load",
                f"gives {number_words(stand.sway.creep_mm)} mm sideways",
            )
        )
    if stand.endurance is not None:
        rows.append(("After hours", f"gives {span(stand.endurance.after_hours)} times what it gives at first"))
    return rows


def _figures(source: ReportSource, walls: Folded) -> list[str]:
    pad = source.part.pad
    assert pad is not None
    cell = walls.layout.index(pad.mesh.vertices)
    is_wall = walls.layout.is_core.ravel()[cell] & pad.is_through
    slope = walls.field.slope_deg.ravel()[cell]
    found = []
    if is_wall.any():
        scale = Scale.over(float(slope[is_wall].min()), float(slope[is_wall].max()), "degrees from upright")
        found += value_figures(
            source.pad_views, slope, scale, "Lean of the walls", "The more walls lean, the softer the part is there.",
            is_known=is_wall, plain="solid", is_mirrored=source.is_mirrored,
        )  # fmt: skip
    kpa = kpa_everywhere(walls.layout, walls.field.reached_kpa).ravel()[cell]
    is_known = is_wall & np.isfinite(kpa)
    if is_known.any():
        high = float(np.percentile(kpa[is_known], 98.0))
        found += value_figures(
            source.pad_views, np.where(is_known, kpa, 0.0), Scale.over(0.0, high, "kPa"), "Stiffness",
            "How stiff the part gets, place by place. What is firmer than the scale has its last color.",
            is_known=is_known, plain="solid", is_mirrored=source.is_mirrored,
        )  # fmt: skip
    return found


def layers_rows(source: ReportSource) -> list[tuple[str, str]]:
    """Return what looking at every layer of the solid found; nothing without walls."""
    folded = source.part.folded
    if folded is None:
        return []
    rows = [("Air while sitting down", f"at most {number_words(folded.most_air_kpa)} kPa over outside, in any space")]
    cut = folded.slices
    if cut is None:
        return rows
    rows.append(("Layers looked at", f"{cut.layer_count} of {cut.layer_mm:g} mm, {len(cut.errors) or 'no'} faults"))
    bridge = cut.hanging.bridge_mm
    if bridge is not None:
        rows.append(("Longest bridge", f"{bridge.value:.1f} mm, in layer {bridge.layer}"))
    if cut.least_width_mm is not None:
        rows.append(("Narrowest wall", f"{cut.least_width_mm.value:.2f} mm, in layer {cut.least_width_mm.layer}"))
    if cut.tip is not None:
        rows.append(
            ("A wall's top gives way to the nozzle", f"by {cut.tip.moves_mm.value:.1f} mm at most while it is printed")
        )
    return rows
