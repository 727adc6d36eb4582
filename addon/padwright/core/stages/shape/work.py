"""The stage: make the solid of a pad of folded walls."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ...base.progress import Steps
from ..load.firmness import Firmness
from ..pad.work import ShapedPad
from ..stage import Given, Results
from .build import FoldedSolid, build_shape


@dataclass(frozen=True, eq=False)
class FoldedPart:
    """The part as it is printed."""

    solid: FoldedSolid
    notes: tuple[str, ...]


def shape(given: Given, _: None = None) -> Steps[FoldedPart]:
    """Make the solid with the walls that the load was checked on."""
    walls = given.of(Firmness).folded
    assert walls is not None
    solid = yield from build_shape(given.of(ShapedPad).pad, walls.layout, walls.field.slope_deg)
    return FoldedPart(solid, solid.notes)


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
            "voids": solid.voids,
            "notes": list(found.notes),
        }
    }
