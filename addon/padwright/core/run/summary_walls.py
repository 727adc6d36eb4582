"""What a run says of folded walls: what is printed, and how stiff its zones are."""

from __future__ import annotations

import numpy as np

from ..base.text import figure
from ..stages.load.load_words import span
from .packing import Packed
from .parts import MadePart
from .summary_room import Paragraph, wrapped


def walls_paragraph(part: MadePart, packed: Packed, order: int, stage: str) -> Paragraph:
    """Return how the solid is printed, the walls in it and how stiff each zone is, softest first."""
    assert part.firmness is not None and part.firmness.folded is not None
    walls = part.firmness.folded
    layout = walls.layout
    settings = next(iter(packed.settings.values()))
    slope = walls.field.slope_deg[layout.is_core]
    low, high = (figure(float(each)) for each in np.percentile(slope, (5.0, 95.0)))
    skins = " and ".join(dict.fromkeys(f"{each:g}" for each in (layout.body_skin_mm, layout.base_skin_mm)))
    printed = (
        f"Walls: one plain solid, no fill: at least {settings.contour_count} contours, bead "
        f"{settings.bead_width_mm:g} x {settings.layer_thickness_mm:g} mm, {settings.max_speed_mm_s:.3g} mm/s."
    )
    about = (
        f"{len(layout.walls)} walls {layout.width_mm:g} mm wide stand {layout.pitch_mm:.3g} mm apart between skins of "
        f"{skins} mm and lean {low} to {high} degrees."
    )
    basis = "guessed" if part.material.pressed("folds") is None else "by your coupons"
    zones = sorted(part.firmness.chosen.values(), key=lambda each: each.curve.modulus_kpa.value)
    told = "; ".join(f"{each.name} {span(each.curve.modulus_kpa)}" for each in zones)
    strains = [100.0 * each.curve.at for each in zones]
    by = " to ".join(dict.fromkeys(f"{each:.2g}" for each in (min(strains), max(strains))))
    stiff = f"Stiffness in kPa when squeezed by {by} % ({basis}): {told}."
    versions = (wrapped(printed), (*wrapped(printed), *wrapped(stiff, "  ", "  ")))
    full = (*wrapped(f"{printed} {about}"), *wrapped(stiff, "  ", "  "))
    return Paragraph((*versions, full), order, stage)
