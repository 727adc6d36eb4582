"""The print settings of one region: what the choice of stiffness ends in and what the files carry."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from ...base.text import counted


def speed_under_flow(bead_mm: float, layer_mm: float, wished_mm_s: float, flow_mm3_s: float | None) -> float:
    """Return the speed, rounded down to 0.01 mm/s, at which a bead taken as a rectangle stays under the flow.

    Of a speed below 0.1 mm/s two digits are kept, so that it never becomes 0.
    """
    if flow_mm3_s is None:
        return wished_mm_s
    speed = min(wished_mm_s, flow_mm3_s / (bead_mm * layer_mm))
    step = 100.0 if speed >= 0.1 else 10.0 ** (1 - math.floor(math.log10(speed)))
    return math.floor(speed * step) / step


@dataclass(frozen=True)
class RegionSettings:
    """How one region is to be printed. Nothing is inherited; every unit is in the name."""

    material_id: str
    nozzle_diameter_mm: float
    bead_width_mm: float
    layer_thickness_mm: float
    fill_structure: str
    solid_share_pct: float  # of the volume inside the contours. Programs differ in what they mean by theirs.
    contour_count: int  # closed beads along the outline
    # body_side_layer_count, base_side_layer_count: closed layers, by side of the part, whichever way up it is printed.
    body_side_layer_count: int
    base_side_layer_count: int
    max_speed_mm_s: float
    max_volume_flow_mm3_s: float | None = None
    # edge of the repeating cell; with the structure it fixes the geometry without any percentage.
    fill_cell_mm: float | None = None
    nozzle_temperature_degC: float | None = None  # the unit as it is written  # noqa: N815
    bed_temperature_degC: float | None = None  # noqa: N815
    basis: Mapping[str, str] = field(default_factory=dict)  # for each setting as in `estimate.BASES`
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return the settings for the sidecar, without those that are not set."""
        values = {item.name: getattr(self, item.name) for item in fields(self) if item.name not in ("basis", "notes")}
        return {name: value for name, value in values.items() if value is not None}

    def in_words(self) -> str:
        """Return all that is typed in for a region; closed layers as body side + base side, the bead with its layer."""
        return ", ".join(self.pieces())

    def pieces(self) -> tuple[str, str, str, str, str]:
        """Return what `in_words` joins: fill, contours, closed layers, bead, speed."""
        return (
            "solid" if self.fill_structure == "solid" else f"{self.fill_structure} {self.solid_share_pct:.1f} %",
            counted(self.contour_count, "contour"),
            f"closed {self.body_side_layer_count} + {self.base_side_layer_count}",
            f"bead {self.bead_width_mm:g} x {self.layer_thickness_mm:g} mm",
            f"{self.max_speed_mm_s:.3g} mm/s",
        )
