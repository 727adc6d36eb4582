"""Print settings of one region, complete and each with what it rests on."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any, Protocol

from ..errors import InputError

BASES = ("measured", "model", "literature", "user", "assumed")
"""What a number rests on, from the strongest to the weakest but for "user", which the person answers for."""


class LevelLike(Protocol):
    """One firmness level of a family card, with the settings assumed for it."""

    @property
    def level(self) -> int: ...  # noqa: D102
    @property
    def bead_width_mm(self) -> float: ...  # noqa: D102
    @property
    def layer_thickness_mm(self) -> float: ...  # noqa: D102
    @property
    def fill_pattern(self) -> str: ...  # noqa: D102
    @property
    def fill_density_pct(self) -> float: ...  # noqa: D102
    @property
    def contour_count(self) -> int: ...  # noqa: D102
    @property
    def roof_layer_count(self) -> int: ...  # noqa: D102
    @property
    def floor_layer_count(self) -> int: ...  # noqa: D102
    @property
    def max_speed_mm_s(self) -> float: ...  # noqa: D102


class PrinterLike(Protocol):
    """What the job says about the printer; None where it leaves the card's value."""

    @property
    def nozzle_mm(self) -> float: ...  # noqa: D102
    @property
    def bead_width_mm(self) -> float | None: ...  # noqa: D102
    @property
    def layer_thickness_mm(self) -> float | None: ...  # noqa: D102
    @property
    def max_speed_mm_s(self) -> float | None: ...  # noqa: D102


class MaterialLike(Protocol):
    """What a material card must hold for the settings."""

    @property
    def id(self) -> str: ...  # noqa: D102
    @property
    def max_volume_flow_mm3_s(self) -> float: ...  # noqa: D102
    @property
    def nozzle_temperature_degc(self) -> float | None: ...  # noqa: D102
    @property
    def bed_temperature_degc(self) -> float | None: ...  # noqa: D102


@dataclass(frozen=True)
class RegionSettings:
    """How one region is to be printed. Nothing is inherited; every unit is in the name.

    Attributes
    ----------
    fill_density_pct : float
        Solid share of the volume inside the contours, percent. Programs differ in what they mean by theirs.
    fill_cell_mm : float, optional
        Edge of the repeating cell; with the pattern it fixes the geometry without any percentage.
    contour_count : int
        Closed beads along the outline.
    basis : mapping of str to str
        For each setting one of `BASES`.
    notes : tuple of str
    """

    material_id: str
    nozzle_diameter_mm: float
    bead_width_mm: float
    layer_thickness_mm: float
    fill_pattern: str
    fill_density_pct: float
    contour_count: int
    roof_layer_count: int
    floor_layer_count: int
    max_speed_mm_s: float
    max_volume_flow_mm3_s: float | None = None
    fill_cell_mm: float | None = None
    nozzle_temperature_degC: float | None = None  # the unit as it is written  # noqa: N815
    bed_temperature_degC: float | None = None  # noqa: N815
    basis: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return the settings for the sidecar, without those that are not set."""
        values = {item.name: getattr(self, item.name) for item in fields(self) if item.name not in ("basis", "notes")}
        return {name: value for name, value in values.items() if value is not None}


def settings_for_level(
    level: float, levels: Sequence[LevelLike], printer: PrinterLike, material: MaterialLike
) -> RegionSettings:
    """Return the settings of a firmness level from the family card, marked "assumed".

    A blend step (2.5) lies between two levels: widths, densities and speeds are interpolated straight, counts too and
    then rounded (half goes up), the pattern is that of the nearer level (of the softer at half) but never "solid" or
    "none" between two levels. The speed is held under what the material's volume flow allows:
    speed = flow / (bead width x layer thickness), the bead taken as a rectangle.

    Parameters
    ----------
    level : float
    levels : sequence of LevelLike
        The card's levels, softest first.
    printer : PrinterLike
    material : MaterialLike

    Raises
    ------
    InputError
        When the level lies outside those of the card.
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
    # Rounded down, so that speed x width x thickness never ends above the flow.
    speed = math.floor(min(wished, flow_speed) * 100.0) / 100.0
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
        fill_pattern=_pattern(below, above, share),
        fill_density_pct=between("fill_density_pct"),
        contour_count=counted("contour_count"),
        roof_layer_count=counted("roof_layer_count"),
        floor_layer_count=counted("floor_layer_count"),
        max_speed_mm_s=speed,
        max_volume_flow_mm3_s=material.max_volume_flow_mm3_s,
        nozzle_temperature_degC=material.nozzle_temperature_degc,
        bed_temperature_degC=material.bed_temperature_degc,
        notes=notes,
    )
    from_job = {"material_id", "nozzle_diameter_mm"}
    from_job |= {"bead_width_mm"} if printer.bead_width_mm else set()
    from_job |= {"layer_thickness_mm"} if printer.layer_thickness_mm else set()
    from_job |= {"max_speed_mm_s"} if speed == printer.max_speed_mm_s else set()
    basis = {name: "user" if name in from_job else "assumed" for name in result.as_json()}
    return replace(result, basis=basis)


def _pattern(below: LevelLike, above: LevelLike, share: float) -> str:
    """Return the pattern between two levels; only a level itself is all solid or all empty."""
    near, far = (below, above) if share <= 0.5 else (above, below)
    if 0.0 < share < 1.0 and near.fill_pattern in ("solid", "none") and far.fill_pattern not in ("solid", "none"):
        return far.fill_pattern
    if 0.0 < share < 1.0 and below.fill_pattern != above.fill_pattern and near.fill_pattern in ("solid", "none"):
        # From empty to full there is no lattice on the card to go by.
        return "gyroid"
    return near.fill_pattern
