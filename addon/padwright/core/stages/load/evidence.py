"""What the evidence tells of settings, load check and tuning."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...base.estimate import Estimate
from ..folds.work import walls_evidence
from ..scans.captured import CapturedScans
from ..stage import Results
from .contact import LoadResult
from .firmness import Firmness, Folded, Tried
from .load_case import LoadCase
from .pressure_lines import pressure_lines
from .tuning import Tuning


def load_evidence(results: Results) -> dict[str, Any]:
    """Return the entries of `firmness_evidence` for what the stage found."""
    return firmness_evidence(results.of(Firmness), results.of(CapturedScans).family.id)


def firmness_evidence(firmness: Firmness, family: str) -> dict[str, Any]:
    """Return the entries `settings`, `load`, `load_cases`, `walls`, `fold_field`, `tuning`, those that there are."""
    levels = firmness.levels.strains
    document: dict[str, Any] = {
        "settings": {
            "zones": [
                {
                    "name": each.name,
                    "target_kPa": each.target_kpa,
                    "reached_kPa": each.reached_kpa,
                    "at_strain_pct": 100.0 * each.curve.at,
                    "bears": number in levels.bearing,
                    "binding": each.binding,
                    "notes": list(each.notes),
                }
                for number, each in firmness.chosen.items()
            ],
            "rounds": levels.rounds,
            "is_settled": levels.is_settled,
            "notes": list(firmness.notes),
        }
    }
    if firmness.loads:
        lines = [
            {"name": line.name, "kPa": line.kpa, "text": line.text, "source": line.source}
            for line in pressure_lines(family)
        ]
        document["load"] = {
            **_load(*firmness.loads[0]),
            **({} if firmness.beside is None else {"beside_mat": firmness.beside.as_json()}),
            "rigid_body": None if firmness.rigid is None else _bearing(firmness.rigid),
            "felt": list(firmness.felt),
            "advice": [_tried(each) for each in firmness.advice],
            "reference_lines_for_information": lines,
        }
        document["load_cases"] = [_load(case, result) for case, result in firmness.loads[1:]]
    if firmness.folded is not None:
        document |= walls_evidence(firmness.folded.layout)  # as they had to be for the load
        document["fold_field"] = _walls(firmness.folded)
    if firmness.tuning is not None:
        document["tuning"] = _tuning(firmness.tuning)
    return document


def _walls(folded: Folded) -> dict[str, Any]:
    """Return how far the walls lean and what they reach, and how they stand under each load."""
    core, field = folded.layout.is_core, folded.field
    return {
        **{
            name: np.percentile(values[core], (0.0, 5.0, 50.0, 95.0, 100.0))
            for name, values in (
                ("slope_deg", field.slope_deg),
                ("wished_kPa", field.wished_kpa),
                ("reached_kPa", field.reached_kpa),
            )
        },
        "percentiles": [0, 5, 50, 95, 100],
        "most_slope_change_deg_mm": field.most_change(folded.layout),
        "stands": [each.as_json() for each in folded.stands],
    }


def _tried(each: Tried) -> dict[str, Any]:
    return {
        "change": each.change or "as it is",
        "how": each.how,
        "sinkage_mm": each.give_mm,
        "peak_pressure_kPa": each.peak_kpa,
        "mass_g": each.mass_g,
        "time_h": [each.least_h, each.most_h],
    }


def _load(case: LoadCase, result: LoadResult) -> dict[str, Any]:
    return {
        "posture": case.posture,
        "force_n": result.force_n,
        "sideways_n": case.sideways_n,
        "needed_friction": case.needed_friction,
        "weight": case.weight,
        "point_mm": case.point_mm,
        **load_numbers(result),
        "mean_sinkage_mm": result.mean_sinkage_mm.as_json(),
        "flesh": _flesh(case, result),
        "body_motion_mm": result.body_motion_mm.as_json(),
        **_bearing(result),
        "evenness": result.evenness.as_json(),
        "tilt_deg": result.tilt_deg.as_json(),
        "least_pad_left_mm": result.least_pad_left_mm.as_json(),
        "margin_place_mm": result.margin_place_mm,
        "contacts": [
            {
                "center_mm": piece.center_mm,
                "area_cm2": piece.area_cm2,
                "width_mm": piece.width_mm,
                "thickness_mm": piece.thickness_mm,
                "times_as_stiff": [piece.stiffer.low, piece.stiffer.value, piece.stiffer.high],
                "open_share": piece.open_share,
            }
            for piece in result.pieces
        ],
        "imbalance": round(result.imbalance, 9),  # below that it is rounding, which hangs on the number of threads
        "notes": list(result.notes),
    }


def _flesh(case: LoadCase, result: LoadResult) -> dict[str, Any] | None:
    if case.flesh is None or result.flesh_squeezed_mm is None:
        return None
    value, (low, high) = case.flesh.thickness_mm, case.flesh.thickness_factors
    thickness = Estimate(value, low * value, high * value, "user" if low == high else "assumed")
    return {"thickness_mm": thickness.as_json(), "squeezed_mm": result.flesh_squeezed_mm.as_json()}


def _bearing(result: LoadResult) -> dict[str, Any]:
    """Return what each zone bears, and where most is borne."""
    return {
        "share": {zone.name: zone.share.as_json() for zone in result.zones if zone.share.high > 0.0},
        "zones": [
            {
                "name": zone.name,
                "mean_pressure_kPa": zone.mean_pressure_kpa.as_json(),
                "peak_pressure_kPa": zone.peak_pressure_kpa.as_json(),
                "sinkage_mm": zone.sinkage_mm.as_json(),
                "mean_sinkage_mm": zone.mean_sinkage_mm.as_json(),
                "bottoming_margin": zone.bottoming_margin.as_json(),
            }
            for zone in result.zones
            if zone.share.high > 0.0
        ],
        "largest_pressure_kPa": result.largest_pressure_kpa.as_json(),
        "largest_place_mm": result.largest_place_mm,
    }


def _tuning(found: Tuning) -> dict[str, Any]:
    def numbers(result: LoadResult | None) -> dict[str, Any] | None:
        return None if result is None else {**load_numbers(result), "evenness": result.evenness.as_json()}

    return {
        "is_met": found.is_met,
        "unchanged": found.unchanged,
        "unmet": list(found.unmet),
        "unsure": list(found.unsure),
        "beyond": list(found.beyond),
        "binding": list(found.binding),
        "traded": list(found.traded),
        "before": numbers(found.before),
        "after": numbers(found.after),
        "loads": [
            {"posture": each.case.posture, "before": numbers(each.before), "after": numbers(each.after)}
            for each in found.loads
        ],
        "tried": [
            {
                "name": pad.name,
                "is_taken": pad is found.taken,
                "is_within_limits": pad.is_within,
                "is_felt": pad.is_felt,
                "peak_kPa": pad.peak_kpa if pad.borne else None,
                "sinkage_mm": pad.sinkage_mm if pad.borne else None,
                "mass_g": pad.mass_g,
                "hours": pad.hours,
                "moduli_kPa": {each.name: each.reached_kpa for each in pad.chosen},
            }
            for pad in found.tried
        ],
        "zones": [
            {
                "name": zone.name,
                "before_kPa": zone.before_kpa,
                "after_kPa": zone.after_kpa,
                "share_before": zone.share_before,
                "share_after": zone.share_after,
                "share_even": zone.share_even,
            }
            for zone in found.zones
        ],
        "load_checks": found.asked,
        "notes": list(found.notes),
    }


def load_numbers(result: LoadResult) -> dict[str, dict[str, Any]]:
    """Return what a load check found for the part as a whole."""
    return {
        "peak_pressure_kPa": result.peak_pressure_kpa.as_json(),
        "mean_pressure_kPa": result.mean_pressure_kpa.as_json(),
        "sinkage_mm": result.sinkage_mm.as_json(),
        "contact_area_cm2": result.contact_area_cm2.as_json(),
        "bottoming_margin": result.bottoming_margin.as_json(),
    }
