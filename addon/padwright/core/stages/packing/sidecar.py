"""The settings document that goes with the 3MF: which region, how firm, how to print it, and what that rests on."""

from __future__ import annotations

import json
import math
import os
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import numpy as np

from ...base.errors import ExportError, InputError
from ...base.estimate import told
from ...base.mesh import Float
from ...job.cards import Caution
from ..regions.bodies import COUNTS_PER_MM, RegionBody
from .ids import NAMESPACE_URI, part_uuid
from .sidecar_parts import ContactRecord, MaterialRecord, Provenance, ScaleRecord, SidecarParts
from .threemf import rigid_matrix

SCHEMA_VERSION = "1.5.0"
TOOL = "Padwright"
_UNITS = {
    "length": "mm", "angle": "deg", "mass": "g", "volume": "cm3", "stress": "kPa", "speed": "mm/s",
    "temperature": "degC",
}  # fmt: skip


def run_time_utc(environment: Mapping[str, str] | None = None) -> str:
    """Return the time to write into files, RFC 3339 in UTC: SOURCE_DATE_EPOCH where it is set, else now.

    Raises InputError when SOURCE_DATE_EPOCH is not a whole number of seconds (reproducible-builds.org/specs/source-
    date-epoch).
    """
    text = (os.environ if environment is None else environment).get("SOURCE_DATE_EPOCH", "")
    if not text:
        return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    if not re.fullmatch(r"[0-9]{1,11}", text):
        raise InputError(f'SOURCE_DATE_EPOCH is "{text}".', hint="Set it to whole seconds since 1970, or unset it.")
    return datetime.fromtimestamp(int(text), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def threemf_name(number: str) -> str:
    """Return the name of the 3MF; ".project.3mf" holds models and settings (3MF Core 1.4.0, section 2.2.1)."""
    return f"{number}.project.3mf"


def stl_name(number: str, region_id: str) -> str:
    """Return the name of a region's STL."""
    return f"{number}.{region_id}.stl"


def write_sidecar(parts: SidecarParts) -> bytes:
    """Return the settings document as UTF-8 JSON.

    It is made so that it keeps the schema and the rules beyond it, as the tests ask of every document they make; how
    long a name may be and how large a number is asked where the job and the cards are read.

    Raises ExportError when the person has not answered a caution of severity "stop".
    """
    unanswered = [each for each in parts.cautions if each.severity == "stop" and each.code not in parts.stops_answered]
    if unanswered:
        raise ExportError(
            f"{unanswered[0].text} ({unanswered[0].code})", hint="The part is not written until you have answered this."
        )
    return (json.dumps(sidecar_document(parts), indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def sidecar_document(parts: SidecarParts) -> dict[str, Any]:
    """Return the settings document as plain data; what a person needs first comes first."""
    part = parts.part
    bounds = np.stack([body.mesh.bounds for body in parts.bodies])
    document: dict[str, Any] = {
        "$schema": NAMESPACE_URI,
        "schema_version": SCHEMA_VERSION,
        "part": {
            "name": part.name,
            "part_number": part.number,
            "revision": part.revision,
            "uuid": part_uuid(part.number, "part"),
            **_given(family=part.family, description=part.description),
            "volume_cm3": part.volume_cm3 or sum(_cm3(body.mesh.volume) for body in parts.bodies),
            "process": "material_extrusion",
        },
        "units": dict(_UNITS),
        "coordinate_frame": {
            "name": "part",
            "handedness": "right",
            "origin": part.origin,
            "bounding_box_mm": _box(np.stack([bounds[:, 0].min(axis=0), bounds[:, 1].max(axis=0)])),
            "press_direction": None if part.press_direction is None else _vector(part.press_direction, 9),
            "to_bed": _motion(part.to_bed),
            **_given(bed_scale=None if part.bed_scale is None else _vector(part.bed_scale, 9)),
        },
        "files": _files(parts),
        "materials": [_material(parts.material)],
        "firmness_scale": [
            {
                "level": level.level,
                "name": level.name,
                "target_modulus_kPa": level.target_modulus_kpa,
                "display_color": level.display_color,
            }
            for level in parts.levels
        ],
        "regions": [_region(parts, order, body) for order, body in enumerate(parts.bodies)],
    }
    if part.mirror is not None:
        document["part"]["mirrored"] = {
            "plane_normal": _vector(part.mirror.plane_normal, 9),
            "plane_point_mm": _vector(part.mirror.plane_point_mm, 4),
        }
    if parts.printing is not None:
        document["print"] = dict(parts.printing)
    if parts.selection is not None:
        document["x_selection"] = dict(parts.selection)
    if parts.contacts:
        document["contacts"] = [_contact(contact) for contact in parts.contacts]
    if parts.predicted_part:
        document["predicted"] = _finite(parts.predicted_part)
    document["provenance"] = _provenance(parts.provenance)
    document["cautions"] = [_caution(caution, parts.stops_answered) for caution in parts.cautions]
    first = ("$schema", "schema_version", "part", "print", "regions", "predicted", "cautions", "materials", "files")
    return {name: document[name] for name in first if name in document} | document


def _region(parts: SidecarParts, order: int, body: RegionBody) -> dict[str, Any]:
    number = parts.part.number
    settings = parts.settings[body.id]
    region: dict[str, Any] = {
        "id": body.id,
        "name": body.name,
        "firmness_level": round(body.firmness_level, 4),
        **({"wished_level": round(parts.wished[body.id], 4), "tuned": parts.is_tuned} if parts.wished else {}),
        "order": order,
        "geometry": {
            "object_id": order + 2,
            "object_uuid": part_uuid(number, f"region:{body.id}"),
            "part_number": f"{number}.{body.id}",
            **_given(file=stl_name(number, body.id) if body.id in parts.stl_sha256 else ""),
            "mesh_sha256": body.mesh_sha256,
            "triangles": len(body.faces),
            "vertices": len(body.counts),
        },
        "volume_cm3": _cm3(body.mesh.volume),
        "surface_cm2": round(body.mesh.area / 100.0, 4),
        "bounding_box_mm": _box(body.mesh.bounds),
        "closed": True,
        "settings": settings.as_json(),
        "settings_basis": dict(settings.basis),
    }
    if parts.predicted.get(body.id):
        region["predicted"] = _finite(parts.predicted[body.id])
    return region


def _files(parts: SidecarParts) -> list[dict[str, Any]]:
    number = parts.part.number
    way = f"on the bed, {parts.part.orientation}" if parts.part.orientation else "on the bed"
    moved = parts.part.to_bed if parts.stl_from_part is None else parts.stl_from_part
    beside = "in its place among the other regions; load the STLs of a part together as one object, or they lose it"
    if parts.selection is not None:
        beside = f"where it lies in the whole part; {beside.split('; ')[1]}"
    first = {
        "file": threemf_name(number),
        "media_type": "model/3mf",
        "holds": "all_regions",
        "opens": f"{way}, every region in its place: open this one where your program reads 3MF",
        "mesh_frame": "part",
        "coordinate_step_mm": 1.0 / COUNTS_PER_MM,
    }
    return [first] + [
        {
            "file": stl_name(number, body.id),
            "media_type": "model/stl",
            "holds": "one_region",
            "region_id": body.id,
            "opens": f"{way}, {beside}",
            "mesh_frame": "bed",
            "part_to_mesh": _motion(moved),
            "sha256": parts.stl_sha256[body.id],
        }
        for body in parts.bodies
        if body.id in parts.stl_sha256
    ]


def _material(material: MaterialRecord) -> dict[str, Any]:
    shore = re.fullmatch(r"\s*([0-9]+(?:\.[0-9]+)?)\s*([AaDd])\s*", material.hardness)
    hardness = None
    if shore and float(shore.group(1)) <= 100.0:  # a Shore scale ends there
        hardness = {"scale": f"shore_{shore.group(2).lower()}", "value": float(shore.group(1))}
    return {
        "id": material.id,
        "name": material.name,
        **_given(**{"class": material.symbol}),
        **_given(
            hardness=hardness,
            density_g_cm3=material.density_g_cm3,
            modulus_kPa=dict(material.modulus_kpa) if material.modulus_kpa else None,
        ),
    }


def _contact(contact: ContactRecord) -> dict[str, Any]:
    entry: dict[str, Any] = {
        "between": [contact.first, contact.second],
        "area_cm2": round(contact.area_cm2, 4),
        "joint": contact.joint,
    }
    return entry | ({"amount_mm": contact.amount_mm} if contact.joint == "overlap" else {})


def _provenance(provenance: Provenance) -> dict[str, Any]:
    scales = {"base": _scale(provenance.base_scale)}
    if provenance.impression_scale is not None:
        scales["impression"] = _scale(provenance.impression_scale)
    return {
        "tool": {"name": TOOL, "version": provenance.version},
        "created_utc": provenance.created_utc,
        "inputs": [
            {
                "role": each.role,
                "file": _relative(each.file),
                "sha256": each.sha256,
                **_given(bytes=each.size, unit_read_as=each.unit, triangles=each.triangles),
            }
            for each in provenance.inputs
        ],
        "scale": scales,
        **_given(
            alignment={name: told(value) for name, value in provenance.alignment.items()}
            if provenance.alignment
            else None,
            random_seed=provenance.random_seed,
        ),
    }


def _scale(scale: ScaleRecord) -> dict[str, Any]:
    lengths = [
        {"name": name, "measured_mm": measured, "plus_minus_mm": plus_minus, "in_scan_mm": told(in_scan)}
        for name, measured, plus_minus, in_scan in scale.lengths
    ]
    return {
        "factor": told(scale.factor),
        "plus_minus": told(scale.plus_minus),
        "coverage": scale.coverage,
        "method": scale.method,
        **_given(lengths_used=lengths or None),
    }


def _caution(caution: Caution, answers: Mapping[str, str]) -> dict[str, Any]:
    return {
        "code": caution.code,
        "severity": caution.severity,
        "text": caution.text,
        **_given(source=caution.source, answered_by=answers.get(caution.code, "")),
    }


def _relative(file: str) -> str:
    """Return the path with forward slashes; of one that is absolute or steps up, the last step alone."""
    path = file.replace("\\", "/")
    if path.startswith("/") or re.match(r"^[A-Za-z]:", path) or ".." in path.split("/"):
        path = path.rsplit("/", 1)[-1]
    return re.sub(r'[:*?"<>|]', "_", path)


def _given(**values: Any) -> dict[str, Any]:
    """Return the values that are there: neither None nor empty text."""
    return {name: value for name, value in values.items() if value is not None and value != ""}


def _finite(predicted: Mapping[str, Mapping[str, Any]]) -> dict[str, dict[str, Any]]:
    """Return the predictions that are numbers, as told; JSON has no word for one without an end."""
    return {
        name: {key: told(value) if isinstance(value, float) else value for key, value in entry.items()}
        for name, entry in predicted.items()
        if all(math.isfinite(value) for value in entry.values() if isinstance(value, float))
    }


def _motion(matrix: Float) -> list[float]:
    return [float(value) for value in rigid_matrix(matrix).ravel()]


def _vector(values: Float, decimals: int) -> list[float]:
    return [float(value) for value in np.round(np.asarray(values, dtype=np.float64), decimals) + 0.0]


def _box(bounds: Float) -> dict[str, list[float]]:
    return {"min": _vector(bounds[0], 4), "max": _vector(bounds[1], 4)}


def _cm3(volume_mm3: float) -> float:
    return round(volume_mm3 / 1000.0, 9)
