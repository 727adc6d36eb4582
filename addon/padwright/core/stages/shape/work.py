"""The stage: make the solid of a pad of folded walls."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ...base.notes import to_act_on
from ...base.progress import Steps
from ...geometry.frames import inverse_rigid, rigid
from ..load.firmness import Firmness
from ..material.material_model import model_from_card
from ..pad.work import ShapedPad
from ..stage import Given, Results
from .build import FoldedSolid, build_shape
from .slice_report import SliceLimits, SliceReport
from .slices import check_slices
from .tips import SolidStuff


@dataclass(frozen=True, eq=False)
class FoldedPart:
    """The part as it is printed."""

    solid: FoldedSolid
    notes: tuple[str, ...]
    slices: SliceReport | None = None  # None until every layer was looked at


def shape(given: Given, _: None = None) -> Steps[FoldedPart]:
    """Make the solid with the walls that the load was checked on."""
    walls = given.of(Firmness).folded
    assert walls is not None
    solid = yield from build_shape(given.of(ShapedPad).pad, walls.layout, walls.field.slope_deg)
    return FoldedPart(solid, solid.notes)


def look_at_layers(given: Given, made: FoldedPart) -> Steps[FoldedPart]:
    """Cut the solid at every layer as it lies on its base side, and check it.

    What would not print is to be acted on.
    """
    walls = given.of(Firmness).folded
    assert walls is not None
    wishes, card = walls.layout.wishes, given.of(Firmness).card
    assert card is not None
    model = model_from_card(card)
    settings = next(iter(given.of(Firmness).chosen.values())).settings
    laid = made.solid.mesh.transformed(walls.layout.to_plane)
    to_bed = rigid(np.eye(3), np.array([0.0, 0.0, -laid.bounds[0, 2]])) @ walls.layout.to_plane
    report = yield from check_slices(
        made.solid.mesh.transformed(to_bed),
        layer_mm=settings.layer_thickness_mm,
        bead_mm=settings.bead_width_mm,
        limits=SliceLimits(wishes.most_slope_deg, wishes.longest_bridge_mm, skin_mm=wishes.base_skin_mm),
        stuff=SolidStuff(model.solid.value / 1000.0, model.poisson),
        to_part=inverse_rigid(to_bed),
    )
    return replace(made, notes=(*made.notes, *map(to_act_on, report.errors), *report.notes), slices=report)


def shape_evidence(results: Results) -> dict[str, Any]:
    """Return the entry `fill`: what makes the part soft, and of folded walls the solid that is printed."""
    found = results.find(FoldedPart)
    if found is None:
        return {"fill": {"kind": "settings"}}
    solid = found.solid
    return {
        "fill": {
            "kind": "folds",
            "volume_cm3": solid.volume_cm3,
            "triangles": len(solid.mesh.faces),
            "closed": solid.mesh.is_closed,
            "walls": solid.walls,
            "filled_mm3": solid.filled_mm3,
            "slices": None if found.slices is None else found.slices.as_json(),
            "notes": list(found.notes),
        }
    }
