"""The stage: make the solid of a pad of folded walls."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ...base.mesh import Float
from ...base.notes import to_act_on, to_look_at
from ...base.progress import Steps
from ...geometry.frames import inverse_rigid, rigid
from ..folds.breathing import MOST_KPA, SIT_DOWN_S, Airways, held_water_mm, least_areas, void_pressures
from ..folds.layout import FoldLayout
from ..load.firmness import Firmness
from ..material.material_model import model_from_card
from ..pad.work import ShapedPad
from ..stage import Given, Results
from .build import FoldedSolid, build_shape
from .slice_report import SliceLimits, SliceReport, refuse_loose_walls
from .slices import check_slices
from .tips import SolidStuff


@dataclass(frozen=True, eq=False)
class FoldedPart:
    """The part as it is printed."""

    solid: FoldedSolid
    notes: tuple[str, ...]
    slices: SliceReport | None = None  # None until every layer was looked at
    most_air_kpa: float = 0.0  # in any space between walls, while a body sits down; 0 where all are shut in by choice


def shape(given: Given, _: None = None) -> Steps[FoldedPart]:
    """Make the solid with the walls that the load was checked on."""
    walls = given.of(Firmness).folded
    assert walls is not None
    solid = yield from build_shape(given.of(ShapedPad).pad, walls.layout, walls.field.slope_deg)
    air, told = _air(solid, walls.layout, walls.field.strain)
    return FoldedPart(solid, (*solid.notes, *told), most_air_kpa=air)


def _air(solid: FoldedSolid, layout: FoldLayout, strain: Float) -> tuple[float, tuple[str, ...]]:
    """Return the highest pressure in a space between walls, kPa, while a body sits down, and what to say of it."""
    opened = solid.openings
    if len(opened.room_mm3) == 0:
        return 0.0, ()
    pressed = float(strain[layout.is_core].mean())
    squeezed = opened.room_mm3 * pressed
    most = float(void_pressures(Airways(squeezed, opened.links, opened.area_mm2), pressed).max())
    if most <= MOST_KPA:
        return most, ()
    needed = float(least_areas(squeezed, opened.links, pressed).sum())
    return most, (
        to_look_at(
            f"Air between the walls comes to {most:.1f} kPa when a body sits down in {SIT_DOWN_S:g} s; over "
            f"{MOST_KPA:g} kPa it is felt as firmness that goes off slowly. Openings have {opened.area_mm2.sum():.0f} "
            f"mm2 in all, where {needed:.0f} mm2, most of it near the rim, would do."
        ),
    )


def look_at_layers(given: Given, made: FoldedPart) -> Steps[FoldedPart]:
    """Cut the solid at every layer as it lies on its base side, and check it.

    What would print badly is to be acted on before printing. Raises SolidError where walls hold nothing.
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
    refuse_loose_walls(report)
    return replace(made, notes=(*made.notes, *map(to_act_on, report.errors), *report.notes), slices=report)


def shape_evidence(results: Results) -> dict[str, Any]:
    """Return the entry `fill`: what makes the part soft, and of folded walls the solid that is printed."""
    found = results.find(FoldedPart)
    if found is None:
        return {"fill": {"kind": "settings"}}
    solid = found.solid
    narrowest = min((min(each.height_mm, each.end_mm - each.start_mm) for each in solid.openings.openings), default=0.0)
    return {
        "fill": {
            "kind": "folds",
            "volume_cm3": solid.volume_cm3,
            "triangles": len(solid.mesh.faces),
            "closed": solid.mesh.is_closed,
            "walls": solid.walls,
            "steepest_deg": solid.steepest_deg,
            "filled_mm3": solid.filled_mm3,
            "openings": len(solid.openings.openings),
            "opening_mm2": float(solid.openings.area_mm2.sum()),
            "most_air_kpa": found.most_air_kpa,
            "holds_water_mm": None if not narrowest else held_water_mm(narrowest),
            "slices": None if found.slices is None else found.slices.as_json(),
            "notes": list(found.notes),
        }
    }
