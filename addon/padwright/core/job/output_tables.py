"""The job's tables of what the part is printed on and of what is written."""

from __future__ import annotations

from dataclasses import dataclass

from .keys import key

_Point = tuple[float, float, float]


@dataclass(frozen=True)
class Printer:
    """What it is printed on."""

    nozzle_mm: float = key("number", "nozzle diameter", low=0.1, high=3, card=True)
    bead_width_mm: float | None = key("number", "for all regions", low=0.1, high=5, default=None)
    layer_thickness_mm: float | None = key("number", "for all regions", low=0.02, high=2, default=None)
    bed_mm: _Point = key("numbers", "[x, y, z] it can print", low=1, high=5000, count=(3, 3), card=True)
    max_speed_mm_s: float | None = key("number", "the machine's limit", low=0.1, high=1000, default=None)
    filament_diameter_mm: float = key("number", "of the filament", low=1, high=5, default=1.75)
    shrinkage_pct: _Point | None = key(
        "numbers", "[x, y, z] of the bed: how much smaller prints come out; the files are enlarged", low=-10, high=10,
        count=(3, 3), default=None,
    )  # fmt: skip
    flow_pct: float = key(
        "number", "flow to set, in percent of what the program takes for this filament", low=50, high=200, default=100.0
    )


@dataclass(frozen=True)
class Output:
    """What is written."""

    stl: bool = key("flag", "write an STL for every region too", default=True)
    thumbnail: bool = key("flag", "a picture inside the 3MF", default=True)
    color_by_level: bool = key("flag", "display colors in the 3MF", default=True)
    sheet: bool = key("flag", "write the sheet to type from at the printer", default=True)
    settings_map: str | None = key("file", "your own words for the settings", default=None)
    report: bool = key("flag", "write the report to read and print", default=True)
