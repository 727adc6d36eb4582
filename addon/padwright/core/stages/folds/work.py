"""The stage: choose the walls and lay them out."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...base.progress import Steps
from ...geometry.through import body_side
from ...job.material_cards import material_of
from ..material.folds.fold_print import bears_as_kpa
from ..material.material_model import model_from_card
from ..pad.work import ShapedPad
from ..printing.level_settings import settings_for_level
from ..scans.captured import CapturedScans
from ..stage import Given, Results
from ..zones.work import PlannedZones
from .layout import FoldLayout, FoldWishes, lay_out
from .upright import refuse_unless_upright
from .wall_choice import Places, WallChoice, choose_walls


def lay(given: Given, _: None = None) -> Steps[FoldLayout]:
    """Choose the walls and lay them out."""
    refuse_unless_upright(given.of(ShapedPad).pad, given.job.printer.bed_mm)
    asked, choice = given.job.fill, _choice(given)
    to_part = given.of(CapturedScans).to_part
    wishes = FoldWishes(
        choice.width_mm,
        choice.pitch_mm,
        body_skin_mm=choice.skin_mm,
        base_skin_mm=choice.skin_mm,
        folds=choice.folds,
        most_slope_deg=asked.most_slope_deg,
        longest_bridge_mm=asked.longest_bridge_mm,
        least_core_mm=asked.least_core_mm,
        layout=asked.layout,
        voids=asked.voids,
        direction=None if asked.direction is None else to_part[:3, :3] @ np.asarray(asked.direction),
    )
    return (yield from lay_out(given.of(ShapedPad).pad, wishes))


def _choice(given: Given) -> WallChoice:
    job, pad, plan = given.job, given.of(ShapedPad).pad, given.of(PlannedZones).plan
    card = material_of(job.material, given.folder)
    family = given.of(CapturedScans).family.with_fill(job.fill.kind)
    firm = settings_for_level(family.levels[-1].level, family.levels, job.printer, card)
    body, model = body_side(pad), model_from_card(card)
    area = np.bincount(body.mesh.faces.ravel(), np.repeat(body.mesh.face_areas / 3.0, 3), len(body.index))
    wished = np.array([zone.target_kpa(family) for zone in plan.zones])
    zone = np.argmax(plan.weights[body.index], axis=1)
    return choose_walls(
        Places(pad.thickness[body.index], area * pad.is_through[body.index], wished[zone]),
        job.fill,
        bead_mm=firm.bead_width_mm,
        layer_mm=firm.layer_thickness_mm,
        solid_kpa=bears_as_kpa(model),
        poisson=model.poisson,
    )


def layout_evidence(results: Results) -> dict[str, Any]:
    """Return the entry `walls`; none where settings make the part soft."""
    layout = results.find(FoldLayout)
    return {} if layout is None else walls_evidence(layout)


def walls_evidence(layout: FoldLayout) -> dict[str, Any]:
    """Return the entry `walls` of a layout."""
    cell_cm2 = layout.step_mm**2 / 100.0
    height = layout.height_mm[layout.is_core]
    return {
        "walls": {
            "layout": layout.wishes.layout,
            "width_mm": layout.width_mm,
            "pitch_mm": layout.pitch_mm,
            "folds": layout.folds,
            "body_skin_mm": layout.body_skin_mm,
            "base_skin_mm": layout.base_skin_mm,
            "most_slope_deg": layout.most_slope_deg,
            "wave_deg": layout.wishes.wave_deg,
            "count": len(layout.walls),
            "core_cm2": float(layout.is_core.sum()) * cell_cm2,
            "solid_cm2": float(layout.is_solid.sum()) * cell_cm2,
            "core_height_mm": [float(height.min()), float(np.median(height)), float(height.max())],
            "to_plane": layout.to_plane,
            "notes": list(layout.notes),
        }
    }
