"""The evidence of a run: for every stage its numbers, notes and seconds, ready for JSON."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np

from ..base.estimate import told
from ..base.resources import version
from ..base.units import mm_per_unit
from ..geometry.frames import inverse_rigid, moved
from ..stages.alignment.align import Alignment
from ..stages.packing.sidecar import TOOL
from ..stages.pad.pad import Pad
from ..stages.reading.impression_reading import ImpressionReading
from ..stages.reading.load_centers import LoadCentre
from ..stages.scans.facts import ScanFacts
from .evidence_load import firmness_evidence, print_evidence
from .packing import Packed
from .parts import Part, Scan

_PRINT_SUMS = ("mass_g", "filament_m", "time_h", "flow_limit_h", "cost", "regions", "notes")


def run_evidence(part: Part, packed: Packed) -> dict[str, Any]:
    """Return everything the run found out, as plain data; lengths are mm in the part frame unless a name says else."""
    document: dict[str, Any] = {
        "tool": {"name": TOOL, "version": version()},
        "part": {
            "name": part.job.part.name,
            "number": part.job.part.number,
            "revision": part.job.part.revision,
            "family": part.family.id,
            "base_to_part": part.to_part,
            "to_bed": packed.to_bed,
            "mirrored": packed.mirror is not None,
        },
        "set_on_command_line": list(part.job.set_outside),
        "scans": {"base": _scan(part.base)},
        "scale": {"base": _scale(part.base)},
        "notes": list(part.notes),
        "cautions": [
            {name: getattr(each, name) for name in ("code", "severity", "brief", "text", "source")}
            for each in part.family.cautions
        ],
    }
    if part.impression is not None:
        document["scans"]["impression"] = _scan(part.impression)
        document["scale"]["impression"] = _scale(part.impression)
    if part.alignment is not None:
        document["alignment"] = _alignment(part.alignment, part)
    if part.reading is not None:
        document["impression"] = _impression(part.reading, part)
    if part.pad is not None:
        document["pad"] = {**_pad(part.pad), "volume_cm3": packed.volume_cm3}
    if part.zones is not None:
        document["zones"] = [_plain(zone) for zone in part.zones.zones]
        document["zone_notes"] = list(part.zones.notes)
    if part.regions is not None:
        document["regions"] = [
            {
                "id": body.id,
                "name": body.name,
                "firmness_level": body.firmness_level,
                "wished_level": packed.wished[body.id],
                "tuned": packed.is_tuned,
                "level_name": part.family.level_name(body.firmness_level),
                "volume_cm3": body.mesh.volume / 1000.0,
                "triangles": len(body.faces),
                "closed": body.mesh.is_closed,
                "settings": packed.settings[body.id].as_json(),
            }
            for body in packed.bodies
        ]
        document["region_cut"] = {
            "volume_error": part.regions.volume_error,
            "contacts": [
                {"between": [each.first, each.second], "area_cm2": each.area_mm2 / 100.0}
                for each in part.regions.contacts
            ],
            "notes": list(part.regions.notes),
        }
    if part.firmness is not None:
        document |= firmness_evidence(part.firmness, part.family.id)
        document["print"] = print_evidence(packed.plan)
    document["stages"] = [_plain(each) for each in part.times]
    result = _plain(document)
    assert isinstance(result, dict)
    return result


def selection_evidence(part: Part, packed: Packed) -> dict[str, Any]:
    """Return what holds for a selection of the part's regions; the evidence of the whole part is not repeated."""
    assert packed.selection is not None
    whole = run_evidence(part, packed)
    return {
        "tool": whole["tool"],
        "selection": packed.selection.as_json(),
        "part": whole["part"],
        "set_on_command_line": whole["set_on_command_line"],
        "regions": whole["regions"],
        "contacts": [
            each for each in whole["region_cut"]["contacts"] if set(each["between"]) <= set(packed.selection.ids)
        ],
        "print": {name: whole["print"][name] for name in _PRINT_SUMS},
        "notes": whole["notes"],
        "cautions": whole["cautions"],
        "stages": whole["stages"],
    }


def _scan(scan: Scan) -> dict[str, Any]:
    return {
        "file": scan.record.file,
        "sha256": scan.record.sha256,
        "format": scan.read.file_format,
        "unit": scan.unit,
        "before": _facts(scan.before),
        "after": _facts(scan.after),
        "notes": list(scan.notes),
    }


def _facts(facts: ScanFacts) -> dict[str, Any]:
    return {
        "triangles": facts.triangles,
        "size_mm": facts.size,
        "pieces": facts.pieces,
        "holes": len(facts.holes),
        "open_edges": facts.open_edges,
        "closed": facts.closed,
    }


def _scale(scan: Scan) -> dict[str, Any]:
    if scan.fit is None:
        return {"factor": scan.factor, "standard_error": None, "basis": "taken over"}
    return {**scan.fit.evidence(), "factor": scan.factor, "basis": "check lengths" if scan.fit.names else "file"}


def _alignment(found: Alignment, part: Part) -> dict[str, Any]:
    return {
        "impression_to_base": inverse_rigid(part.to_part) @ found.matrix,
        "impression_to_part": found.matrix,
        "method": found.method,
        "rms_mm": found.rms_mm,
        "p95_mm": found.p95_mm,
        "overlap": found.overlap,
        "noise_mm": found.noise_mm,
        "margin": found.margin,
        "standard_error_mm": found.standard_error_mm,
        "noise_reach_mm": found.noise_reach_mm,
        "scale_implied": {
            each.basis: {"factor": each.factor, "standard_error": each.standard_error} for each in found.scale_implied
        },
        "motions": found.motions,
        "check": found.check,
        "pose": found.pose or None,
        "pose_chosen": part.job.alignment.pose is not None,
        "other_poses": [
            {
                "pose": other.number,
                "score": other.score,
                "apart_mm": other.apart_mm,
                "turn_deg": other.turn_deg,
                "words": other.words,
                "behind": other.behind,
                "behind_error": other.behind_error,
                "is_rival": other.is_rival,
            }
            for other in found.others
        ],
        "pair_misses_mm": found.pair_misses_mm,
        "notes": list(found.notes),
    }


def _impression(reading: ImpressionReading, part: Part) -> dict[str, Any]:
    return {
        "press_direction": reading.press_direction,
        "press_basis": reading.press.basis,
        "press_plus_minus_deg": reading.press.plus_minus_deg,
        "press_off_deg": reading.press.off_deg,
        "load_centres": [_centre(centre, part) for centre in reading.load_centres],
        "other_load_centres": [_centre(centre, part) for centre in reading.other_load_centres],
        "spacing_mm": reading.spacing_mm,
        "spacing_plus_minus_mm": reading.spacing_plus_minus_mm,
        "measured_spacing_mm": reading.measured_spacing_mm,
        "contact_area_cm2": reading.contact_area_cm2,
        "clay_area_cm2": reading.clay_area_cm2,
        "undisturbed_basis": reading.undisturbed.basis,
        "noise_mm": reading.noise_mm,
        "notes": list(reading.notes),
    }


def _centre(centre: LoadCentre, part: Part) -> dict[str, Any]:
    """Return a load centre with its place in the base scan's own numbers, as a job takes it."""
    in_mm = moved(inverse_rigid(part.to_part), centre.position_mm[None])[0]
    near = in_mm / (mm_per_unit(part.base.unit) * part.base.factor)
    return {**{field.name: getattr(centre, field.name) for field in dataclasses.fields(centre)}, "near": near}


def _pad(pad: Pad) -> dict[str, Any]:
    found = {f.name: getattr(pad, f.name) for f in dataclasses.fields(pad) if f.name not in ("mesh", "notes")}
    numbers = {name: value for name, value in found.items() if not isinstance(value, np.ndarray)}
    return {
        **numbers,
        "closed": pad.mesh.is_closed,
        "triangles": len(pad.mesh.faces),
        "size_mm": np.ptp(pad.mesh.bounds, axis=0),
        "notes": list(pad.notes),
    }


def _plain(value: Any) -> Any:
    """Return the value as what JSON knows; a number that is not finite becomes null."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, np.ndarray) and value.shape == (4, 4):  # a motion stays rigid to the last digits
        return (np.round(value, 12) + 0.0).tolist()
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return told(float(value)) if math.isfinite(value) else None
    return value
