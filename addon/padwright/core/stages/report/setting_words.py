"""Our settings in plain words, and the units in which another program may want them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

Numbers = Mapping[str, float]


@dataclass(frozen=True)
class SettingKind:
    """One setting of a region as a person knows it."""

    name: str  # in plain words
    about: str  # what it means, for the blank words map
    unit: str  # that of our number
    # Every unit in which it can be told -> what turns our number into it; the other settings of the region are given
    # too, by their keys, as a percentage of the nozzle hangs on the nozzle.
    units: Mapping[str, Callable[[float, Numbers], float]] = field(default_factory=dict)
    is_count: bool = False  # a whole number in our unit


def _times(factor: float) -> Callable[[float, Numbers], float]:
    return lambda value, _: value * factor


def _of_nozzle(value: float, others: Numbers) -> float:
    return 100.0 * value / others["nozzle_diameter_mm"]


def _of_bead(value: float, others: Numbers) -> float:
    return 100.0 * value / others["bead_width_mm"]


_LENGTH = {"mm": _times(1.0), "um": _times(1000.0), "in": _times(1.0 / 25.4)}
_LAYERS = {"layers": _times(1.0), "mm": lambda value, others: value * others["layer_thickness_mm"]}
_SPEED = {"mm/s": _times(1.0), "mm/min": _times(60.0), "m/min": _times(0.06), "in/s": _times(1.0 / 25.4)}
_FLOW = {"mm3/s": _times(1.0), "mm3/min": _times(60.0), "cm3/h": _times(3.6)}
_HEAT = {"degC": _times(1.0), "degF": lambda value, _: 1.8 * value + 32.0, "K": lambda value, _: value + 273.15}

TOP, BOTTOM = "layers_on_top", "layers_at_bottom"
"""Closed layers by how the part lies: which of them are the body side's is known once it lies on one of its sides."""
SIDES = ("body_side_layer_count", "base_side_layer_count")
"""The same by the part's sides."""

SETTING_KINDS: Mapping[str, SettingKind] = MappingProxyType(
    {
        "material_id": SettingKind("filament", "the filament, by the name of its material card", ""),
        "nozzle_diameter_mm": SettingKind("nozzle", "diameter of the nozzle", "mm", _LENGTH),
        "layer_thickness_mm": SettingKind(
            "layer height", "height of a layer", "mm", {**_LENGTH, "% of nozzle": _of_nozzle}
        ),
        "bead_width_mm": SettingKind(
            "line width", "width of the printed line", "mm", {**_LENGTH, "% of nozzle": _of_nozzle}
        ),
        "fill_structure": SettingKind("fill", "what the inside is filled with", ""),
        "solid_share_pct": SettingKind(
            "fill share", "how much of the inside is plastic", "%", {"%": _times(1.0), "fraction": _times(0.01)}
        ),
        "fill_cell_mm": SettingKind(
            "fill cell", "edge of the fill's repeating cell", "mm", {**_LENGTH, "% of line width": _of_bead}
        ),
        "contour_count": SettingKind(
            "contours", "closed lines along the outline", "lines",
            {"lines": _times(1.0), "mm": lambda value, others: value * others["bead_width_mm"]}, is_count=True,
        ),
        TOP: SettingKind("closed layers at the top", "closed layers that end up on top", "layers", _LAYERS, True),
        BOTTOM: SettingKind("closed layers at the bottom", "closed layers next to the bed", "layers", _LAYERS, True),
        "body_side_layer_count": SettingKind(
            "closed layers on the body side", "the same by side, where the part lies on neither of its sides",
            "layers", _LAYERS, is_count=True,
        ),
        "base_side_layer_count": SettingKind(
            "closed layers on the base side", "the same by side, where the part lies on neither of its sides",
            "layers", _LAYERS, is_count=True,
        ),
        "max_speed_mm_s": SettingKind("speed, at most", "greatest speed of the nozzle", "mm/s", _SPEED),
        "max_volume_flow_mm3_s": SettingKind("flow, at most", "most plastic the nozzle may give", "mm3/s", _FLOW),
        "nozzle_temperature_degC": SettingKind("nozzle temperature", "temperature of the nozzle", "degC", _HEAT),
        "bed_temperature_degC": SettingKind("bed temperature", "temperature of the bed", "degC", _HEAT),
    }
)  # fmt: skip
"""By the key of `RegionSettings`, in the order of a sheet without the person's own words."""

STRUCTURE_WORDS: Mapping[str, str] = MappingProxyType(
    {"solid": "solid", "gyroid": "gyroid", "honeycomb": "honeycomb", "square_grid": "square grid", "none": "empty"}
)
"""Our fill structures in plain words."""
