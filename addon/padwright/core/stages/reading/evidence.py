"""What the evidence tells of the impression."""

from __future__ import annotations

import dataclasses
from typing import Any

from ..alignment.placed_scans import PlacedScans, typed_point
from ..stage import Results
from .impression_reading import ImpressionReading
from .load_centers import FoundLoadCenter
from .work import ReadBodySide


def reading_evidence(results: Results) -> dict[str, Any]:
    """Return the entry `impression`; none without one."""
    reading = results.of(ReadBodySide).reading
    return {} if reading is None else {"impression": _impression(reading, results.of(PlacedScans))}


def _impression(reading: ImpressionReading, scans: PlacedScans) -> dict[str, Any]:
    return {
        "press_direction": reading.press_direction,
        "press_basis": reading.press.basis,
        "press_plus_minus_deg": reading.press.plus_minus_deg,
        "press_off_deg": reading.press.off_deg,
        "load_centres": [_center(center, scans) for center in reading.load_centers],
        "other_load_centres": [_center(center, scans) for center in reading.other_load_centers],
        "spacing_mm": reading.spacing_mm,
        "spacing_plus_minus_mm": reading.spacing_plus_minus_mm,
        "measured_spacing_mm": reading.measured_spacing_mm,
        "contact_area_cm2": reading.contact_area_cm2,
        "clay_area_cm2": reading.clay_area_cm2,
        "undisturbed_basis": reading.undisturbed.basis,
        "noise_mm": reading.noise_mm,
        "notes": list(reading.notes),
    }


def _center(center: FoundLoadCenter, scans: PlacedScans) -> dict[str, Any]:
    """Return a load center with its place in the base scan's own numbers, as a job takes it."""
    values = {field.name: getattr(center, field.name) for field in dataclasses.fields(center)}
    return {**values, "near": typed_point(scans, center.position_mm)}
