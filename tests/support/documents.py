"""What must agree between the documents of one run, looked at with readers of the tests' own."""

from __future__ import annotations

import hashlib
import io
import json
import math
import zipfile
from collections.abc import Mapping
from typing import Any
from xml.etree import ElementTree

import jsonschema
import numpy as np

from padwright.core.base.resources import shared_path
from support.sidecar_rules import rule_faults

_CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
_SCHEMA = jsonschema.Draft202012Validator(json.loads(shared_path("schemas", "settings.schema.json").read_text("utf-8")))


def _volume(corner: np.ndarray) -> float:
    corner = corner - corner.reshape(-1, 3).mean(axis=0)
    return float(np.einsum("ij,ij->", corner[:, 0], np.cross(corner[:, 1], corner[:, 2])) / 6000.0)


def _stl(data: bytes) -> np.ndarray:
    count = int.from_bytes(data[80:84], "little")
    record = np.frombuffer(data[84:], dtype=[("normal", "<f4", 3), ("corner", "<f4", (3, 3)), ("extra", "<u2")])
    assert len(record) == count
    return record["corner"].astype(np.float64)


def read_model(package_bytes: bytes) -> tuple[list[dict[str, Any]], dict[str, str], bytes]:
    """Return the regions of a 3MF (name, id, level, color, corners in mm), its metadata and the settings inside."""
    with zipfile.ZipFile(io.BytesIO(package_bytes)) as package:
        root = ElementTree.fromstring(package.read("3D/3dmodel.model"))
        inside = package.read("3D/Other/settings.json")
    colors = [base.get("displaycolor") for base in root.iter(f"{_CORE}base")]
    found = []
    for item in root.iter(f"{_CORE}object"):
        mesh = item.find(f"{_CORE}mesh")
        if mesh is None:
            continue
        told = {each.get("name"): each.text for each in item.iter(f"{_CORE}metadata")}
        points = np.array([[float(v.get(axis)) for axis in "xyz"] for v in mesh.iter(f"{_CORE}vertex")])
        faces = np.array([[int(t.get(corner)) for corner in ("v1", "v2", "v3")] for t in mesh.iter(f"{_CORE}triangle")])
        found.append(
            {
                "id": told["pw:region"],
                "name": item.get("name"),
                "level": float(told["pw:firmness_level"]),
                "wished": float(told["pw:wished_level"]) if "pw:wished_level" in told else None,
                "color": colors[int(item.get("pindex"))],
                "corners": points[faces],
            }
        )
    metadata = {each.get("name"): each.text for each in root.findall(f"{_CORE}metadata")}
    return found, metadata, inside


def sidecar_faults(document: Any) -> list[str]:
    """Return what is wrong with a settings document: against its schema first, then against the rules beyond it."""
    found = [f"{'/'.join(map(str, each.absolute_path))}: {each.message}" for each in _SCHEMA.iter_errors(document)]
    return found or rule_faults(document)


def check_documents(files: Mapping[str, bytes], evidence: Mapping[str, Any]) -> dict[str, Any]:
    """Hold settings, 3MF, STL and evidence of one run against each other; return the settings document."""
    number = next(name for name in files if name.endswith(".settings.json")).removesuffix(".settings.json")
    text = files[f"{number}.settings.json"]
    document = json.loads(text)
    assert sidecar_faults(document) == []
    regions, told = document["regions"], evidence["regions"]
    model, metadata, inside = read_model(files[f"{number}.project.3mf"])
    assert inside == text
    assert metadata["pw:settings_sha256"] == hashlib.sha256(text).hexdigest()
    assert [each["id"] for each in regions] == [each["id"] for each in told] == [each["id"] for each in model]
    touching = all(each["joint"] == "coincident" for each in document.get("contacts", ()))
    if touching:
        total = math.fsum(each["volume_cm3"] for each in regions)
        # Only the order of the sum is left to differ: some units of the last of 53 bits.
        assert abs(document["part"]["volume_cm3"] - total) <= 1e-14 * total
        if "pad" in evidence:
            # The evidence tells nine digits.
            assert abs(evidence["pad"]["volume_cm3"] - total) <= 5e-9 * total
    for entry, said, shape in zip(regions, told, model, strict=True):
        assert entry["name"] == said["name"] == shape["name"]
        assert entry["firmness_level"] == said["firmness_level"] == shape["level"]
        assert entry["wished_level"] == said["wished_level"] == shape["wished"]
        assert entry["tuned"] == said["tuned"]
        assert entry["settings"] == said["settings"]
        assert entry["geometry"]["triangles"] == said["triangles"] == len(shape["corners"])
        volume = entry["volume_cm3"]
        assert abs(said["volume_cm3"] - volume) <= 5e-9 * volume + 1e-9
        assert abs(_volume(shape["corners"]) - volume) <= 1e-9 * max(volume, 1.0)
        name = f"{number}.{entry['id']}.stl"
        if name in files:
            assert hashlib.sha256(files[name]).hexdigest() == next(
                each["sha256"] for each in document["files"] if each["file"] == name
            )
            corners = _stl(files[name])
            listed = next(each for each in document["files"] if each["file"] == name)
            motion = np.array(listed["part_to_mesh"]).reshape(4, 4)
            laid = shape["corners"] @ motion[:3, :3].T + motion[:3, 3]
            # Single floats have 24 bits: rounding moves a coordinate by half of the last; doubles' own sums add less.
            assert np.abs(corners - laid).max() <= 1.001 * 2.0**-24 * np.abs(laid).max()
    _check_loads(document)
    return document


def _check_loads(document: dict[str, Any]) -> None:
    """Hold what the regions bear against what the part bears: nine digits are told, so that is how well they agree."""
    part = document.get("predicted", {})
    regions = [region["predicted"] for region in document["regions"]]
    for each in [part, *regions]:
        if "peak_pressure_kPa" in each and each["peak_pressure_kPa"]["value"] > 0.0:
            for end in ("value", "low", "high"):
                assert each["mean_pressure_kPa"][end] <= each["peak_pressure_kPa"][end] * (1.0 + 1e-8)
        if "bottoming_margin_pct" in each:
            assert each["bottoming_margin_pct"]["high"] <= 100.0
    if "peak_pressure_kPa" not in part:
        return
    for end in ("value", "low", "high"):
        highest = max(each["peak_pressure_kPa"][end] for each in regions)
        assert highest <= part["peak_pressure_kPa"][end] * (1.0 + 1e-8)
        least = min(each["bottoming_margin_pct"][end] for each in regions)
        assert part["bottoming_margin_pct"][end] <= least + 1e-6
    mass = sum(each["mass_g"]["value"] for each in regions)
    assert abs(mass - part["mass_g"]["value"]) <= 1e-8 * mass
