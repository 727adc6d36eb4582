"""Print settings of one region, complete and each with what it rests on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from ...base.errors import InputError
from ...job.cards import Level
from ...job.material_cards import MaterialCard
from ...job.output_tables import Printer
from ..material.region_settings import RegionSettings, speed_under_flow


def settings_for_level(
    level: float, levels: Sequence[Level], printer: Printer, material: MaterialCard
) -> RegionSettings:
    """Return the settings of a firmness level from the family card, marked "assumed"; a speed under the flow, "model".

    Whose the job's own values are, the person's or the card's, they do not show: whoever has the job tells that.

    A blend step (2.5) lies between two levels: widths, fill shares and speeds are interpolated straight, counts too and
    then rounded (half goes up), the structure is that of the nearer level (of the softer at half) but never "solid" or
    "none" between two levels. The speed is held under what the material's volume flow allows:
    speed = flow / (bead width x layer thickness), the bead taken as a rectangle.

    Raises InputError when the level lies outside those of the card.

    `levels`: the card's levels, softest first.
    """
    if not levels or not levels[0].level <= level <= levels[-1].level:
        known = f"{levels[0].level} to {levels[-1].level}" if levels else "none"
        raise InputError(f"Firmness level {level:g} is not on the family card ({known}).", hint="Choose one of those.")
    below = max((each for each in levels if each.level <= level), key=lambda each: each.level)
    above = min((each for each in levels if each.level >= level), key=lambda each: each.level)
    share = 0.0 if above.level == below.level else (level - below.level) / (above.level - below.level)

    def between(name: str) -> float:
        low, high = float(getattr(below, name)), float(getattr(above, name))
        return round(low + (high - low) * share, 4)

    def counted(name: str) -> int:
        return math.floor(between(name) + 0.5)

    bead = printer.bead_width_mm or between("bead_width_mm")
    layer = printer.layer_thickness_mm or between("layer_thickness_mm")
    flow_speed = material.max_volume_flow_mm3_s / (bead * layer)
    wished = min(between("max_speed_mm_s"), printer.max_speed_mm_s or math.inf)
    speed = speed_under_flow(bead, layer, wished, material.max_volume_flow_mm3_s)
    notes: tuple[str, ...] = ()
    if flow_speed < wished:
        notes = (
            f"Level {level:g}: {speed:g} mm/s instead of {wished:g}, held back by the material's "
            f"{material.max_volume_flow_mm3_s:g} mm3/s.",
        )
    result = RegionSettings(
        material_id=material.id,
        nozzle_diameter_mm=printer.nozzle_mm,
        bead_width_mm=bead,
        layer_thickness_mm=layer,
        fill_structure=_structure(below, above, share),
        solid_share_pct=between("solid_share_pct"),
        contour_count=counted("contour_count"),
        body_side_layer_count=counted("body_side_layer_count"),
        base_side_layer_count=counted("base_side_layer_count"),
        max_speed_mm_s=speed,
        max_volume_flow_mm3_s=material.max_volume_flow_mm3_s,
        nozzle_temperature_degC=material.nozzle_temperature_degc,
        bed_temperature_degC=material.bed_temperature_degc,
        notes=notes,
    )
    basis = {name: "model" if name == "max_speed_mm_s" and notes else "assumed" for name in result.as_json()}
    return replace(result, basis=basis)


def _structure(below: Level, above: Level, share: float) -> str:
    """Return the structure between two levels; only a level itself is all solid or all empty."""
    near, far = (below, above) if share <= 0.5 else (above, below)
    if 0.0 < share < 1.0 and near.fill_structure in ("solid", "none") and far.fill_structure not in ("solid", "none"):
        return far.fill_structure
    if 0.0 < share < 1.0 and below.fill_structure != above.fill_structure and near.fill_structure in ("solid", "none"):
        # From empty to full there is no lattice on the card to go by.
        return "gyroid"
    return near.fill_structure
