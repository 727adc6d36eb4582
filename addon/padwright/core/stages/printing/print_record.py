"""What the settings document tells of the print as a whole: how the part lies, bed, supports, heat, drying."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ...base.estimate import told
from ...base.text import figure
from ...job.material_cards import MaterialCard
from ...job.schema import Point
from .orientation import OVERHANG_DEG, Orientation
from .print_plan import PrintPlan
from .support_words import is_worth_telling


def print_record(
    plan: PrintPlan, bed_mm: Point, *, is_bed_given: bool, stl_count: int, card: MaterialCard
) -> dict[str, Any]:
    """Return the entry `print` of the settings document: numbers, and `in_words` for the person.

    Parameters
    ----------
    bed_mm : (3,) float
    is_bed_given : bool
        Whether the person named the bed; else it is the part family's guess.
    stl_count : int
        How many STLs are written beside the 3MF.
    card : MaterialCard
        What it does not know is left out, never guessed.
    """
    way = plan.orientation
    size = [round(float(side), 1) for side in way.size_mm]
    return {
        "orientation": way.name,
        "size_on_bed_mm": size,
        "bed": {
            "size_mm": [float(side) for side in bed_mm],
            "basis": "user" if is_bed_given else "assumed",
            "fits": way.fits,
            "to_spare_mm": [round(float(bed) - float(side), 1) for bed, side in zip(bed_mm, way.size_mm, strict=True)],
        },
        "stands": way.stands,
        "support": _support(way),
        **heat_record(card),
        "in_words": [
            f"Open the 3MF{_STL_WORDS[min(stl_count, 2)]}.",
            f"The part lies {way.name}; the files are laid so already.",
            *([_fit_words(way, bed_mm, is_bed_given)] if way.fits else []),
            *(str(note) for note in plan.notes),
            *([] if is_worth_telling(way) else ["It needs no supports."]),
            *_heat_words(card),
        ],
    }


def heat_record(card: MaterialCard) -> dict[str, Any]:
    """Return what a card knows of temperatures and drying, each with its source; nothing where it knows nothing."""
    found: dict[str, Any] = {}
    heat = {"nozzle_degC": card.nozzle_temperature_degc, "bed_degC": card.bed_temperature_degc}
    heat = {name: value for name, value in heat.items() if value is not None}
    if heat:
        found["temperatures"] = {**heat, "source": card.temperature_source or _SILENT}
    drying = {"at_degC": card.drying_temperature_degc, "hours": card.drying_hours}
    drying = {name: value for name, value in drying.items() if value is not None}
    if drying:
        found["drying"] = {**drying, "source": card.drying_source or _SILENT}
    return found


_STL_WORDS = (
    "",
    "; where your program takes none, the STL",
    "; where your program takes none, load all STLs at once as one object of several parts",
)
_SILENT = "the material card, which gives no source"


def _support(way: Orientation) -> dict[str, Any]:
    is_needed = is_worth_telling(way)
    return {
        "needed": is_needed,
        "area_cm2": told(way.support_cm2),
        "of_underside_cm2": told(way.under_cm2),
        "on_body_side_cm2": told(way.body_support_cm2),
        "mean_height_mm": told(way.support_mean_mm),
        "highest_mm": told(way.support_most_mm),
        "overhang_from_upright_deg": OVERHANG_DEG,
    }


def _fit_words(way: Orientation, bed_mm: Point, is_bed_given: bool) -> str:
    size = " x ".join(figure(side) for side in way.size_mm)
    bed = " x ".join(f"{side:g}" for side in bed_mm)
    guess = "" if is_bed_given else " (a guess: give yours as printer.bed_mm)"
    return f"{size} mm: it fits a bed of {bed} mm{guess}."


def _heat_words(card: MaterialCard) -> list[str]:
    found = heat_record(card)
    heat, drying = found.get("temperatures", {}), found.get("drying", {})
    lines = []
    parts = [f"{name} {heat[key]:g} degrees C" for name, key in _PLACES.items() if key in heat]
    lines.append(
        f"Temperatures: {', '.join(parts)} ({heat['source']})."
        if parts
        else "The material card names no temperatures: take those on the spool."
    )
    if drying:
        at = f" at {drying['at_degC']:g} degrees C" if "at_degC" in drying else ""
        hours = f" for {drying['hours']:g} h" if "hours" in drying else ""
        lines.append(f"Dry the filament{hours}{at} before printing ({drying['source']}).")
    return lines


_PLACES: Mapping[str, str] = {"nozzle": "nozzle_degC", "bed": "bed_degC"}
