"""What the evidence tells of the body and of the virtual clay it was pressed into."""

from __future__ import annotations

from typing import Any

from ...base.plain import picked
from ...geometry.frames import inverse_rigid
from ..alignment.placed_scans import PlacedScans, typed_point
from ..stage import Results
from .pressed import PressedBody, PressedClay


def body_evidence(results: Results) -> dict[str, Any]:
    """Return the entry `body`; none without a scan of the body."""
    found, scans = results.find(PressedBody), results.of(PlacedScans)
    if found is None:
        return {}
    laid = found.laid
    return {
        "body": {
            **picked(laid.record, "file", "sha256"),
            "factor": laid.factor,
            "body_to_base": inverse_rigid(scans.to_part) @ laid.matrix,
            "landmarks": [
                {"name": name, "off_mm": float(off)} for name, off in zip(laid.names, laid.misses_mm, strict=True)
            ],
            "virtual_clay": None if found.clay is None else _clay(found.clay, scans),
            "notes": list(found.notes),
        }
    }


def _clay(clay: PressedClay, scans: PlacedScans) -> dict[str, Any]:
    numbers = clay.numbers
    return {
        "press_direction": clay.press,
        "press_basis": clay.press_basis,
        "press_plus_minus_deg": clay.press_plus_minus_deg,
        "thickness_mm": clay.thickness_mm,
        "wanted_n": clay.wanted_n,
        "force_n": numbers["force_n"].as_json(),
        "imbalance": clay.found.imbalance,
        "imprint_depth_mm": numbers["deepest_mm"].as_json(),
        "left_mm": clay.left_mm,
        "strength_kpa": numbers["strength_kpa"].as_json(),
        "contact_area_cm2": numbers["contact_cm2"].as_json(),
        "mean_pressure_kpa": numbers["mean_kpa"].as_json(),
        "peak_pressure_kpa": numbers["peak_kpa"].as_json(),
        "flesh_squeezed_mm": numbers["flesh_squeezed_mm"].as_json(),
        "tilt_deg": numbers["tilt_deg"].as_json(),
        "pressure_middle_mm": clay.middle_mm,
        "pressure_middle": typed_point(scans, clay.middle_mm),
        "shape_plus_minus_mm": clay.shape_plus_minus_mm,
        "body_ends_share": clay.end_share,
        "base_ends_share": clay.rim_share,
        "step_mm": clay.step_mm,
    }
