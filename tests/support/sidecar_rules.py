"""Rules of the settings document that a JSON Schema cannot hold."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

FLOW_SLACK = 1e-9
"""Relative; floats only, the settings themselves are rounded down to stay under the flow."""

VOLUME_SLACK = 1e-6
"""Relative; the regions of one part must add up to it this closely."""


def rule_faults(document: Mapping[str, Any]) -> list[str]:
    """Return the broken rules of a document that the schema has already passed; empty when there is none."""
    regions = document["regions"]
    faults = [
        *_references(document, {region["id"] for region in regions}),
        *_estimates(document, ""),
        *_boxes(document),
        *_frame(document["coordinate_frame"]),
        *_meshes(document["files"]),
        *_levels(document),
        *(fault for region in regions for fault in _settings(region)),
        *_stops(document["cautions"]),
    ]
    layers = {region["settings"]["layer_thickness_mm"] for region in regions}
    if len(layers) > 1:
        faults.append(f"regions share their layers but have thicknesses {sorted(layers)} mm")
    overlaps = any(contact["joint"] == "overlap" for contact in document.get("contacts", ()))
    whole = None if overlaps else document["part"].get("volume_cm3")
    total = sum(region["volume_cm3"] for region in regions)
    if whole is not None and abs(total - whole) > VOLUME_SLACK * whole:
        faults.append(f"the regions add up to {total:.6f} cm3, the part has {whole:.6f} cm3")
    return faults


def _references(document: Mapping[str, Any], ids: set[str]) -> Iterator[str]:
    regions = document["regions"]
    for name, values in (
        ("region id", [region["id"] for region in regions]),
        ("object_uuid", [region["geometry"]["object_uuid"] for region in regions]),
        ("material id", [material["id"] for material in document["materials"]]),
        ("file", [each["file"] for each in document["files"]]),
    ):
        for value in sorted({value for value in values if values.count(value) > 1}):
            yield f"{name} {value} is there twice"
    materials = {material["id"] for material in document["materials"]}
    for region in regions:
        if region["settings"]["material_id"] not in materials:
            yield f"region {region['id']}: material {region['settings']['material_id']} is not there"
        missing = set(region["settings"]) ^ set(region["settings_basis"])
        missing = {name for name in missing if not name.startswith("x_")}
        if missing:
            yield f"region {region['id']}: settings and their basis differ in {sorted(missing)}"
    used = [(f"file {each['file']}", each["region_id"]) for each in document["files"] if "region_id" in each]
    used += [("contact", each) for contact in document.get("contacts", ()) for each in contact["between"]]
    used += [(caution["code"], each) for caution in document["cautions"] for each in caution.get("region_ids", ())]
    for place, each in used:
        if each not in ids:
            yield f"{place}: region {each} is not there"
    for each in document["files"]:
        if (each["holds"] == "one_region") != ("region_id" in each):
            yield f"file {each['file']}: one region needs its region_id, all regions none"


def _estimates(value: Any, place: str) -> Iterator[str]:
    """Find every {value, low, high} in the document."""
    if isinstance(value, dict):
        if {"value", "low", "high"} <= value.keys() and not value["low"] <= value["value"] <= value["high"]:
            yield f"{place}: {value['value']} is not between {value['low']} and {value['high']}"
        for name, item in value.items():
            yield from _estimates(item, f"{place}/{name}" if place else name)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _estimates(item, f"{place}/{index}")


def _boxes(document: Mapping[str, Any]) -> Iterator[str]:
    owners = [("part", document["coordinate_frame"])] + [(region["id"], region) for region in document["regions"]]
    for name, owner in owners:
        box = owner.get("bounding_box_mm")
        if box and not all(low < high for low, high in zip(box["min"], box["max"], strict=True)):
            yield f"{name}: its bounding box has no extent"


def _frame(frame: Mapping[str, Any]) -> Iterator[str]:
    press = frame["press_direction"]
    if press is not None and abs(np.linalg.norm(press) - 1.0) > 1e-6:
        yield f"press_direction has length {np.linalg.norm(press):.6f}, not 1"
    if not _is_rigid(frame["to_bed"]):
        yield "to_bed is not a turn and a shift"


def _is_rigid(values: list[float]) -> bool:
    matrix = np.asarray(values).reshape(4, 4)
    turn = matrix[:3, :3]
    is_turn = np.abs(turn @ turn.T - np.eye(3)).max() <= 1e-6 and np.linalg.det(turn) > 0
    return bool(is_turn and np.array_equal(matrix[3], [0, 0, 0, 1]))


def _meshes(files: list[Mapping[str, Any]]) -> Iterator[str]:
    """Find files that do not say how their own numbers follow from the part frame."""
    for each in files:
        motion = each.get("part_to_mesh")
        if (each.get("mesh_frame") == "bed") != (motion is not None):
            yield f"file {each['file']}: on the bed it needs part_to_mesh, in the part frame none"
        elif motion is not None and not _is_rigid(motion):
            yield f"file {each['file']}: part_to_mesh is not a turn and a shift"
    if len({tuple(each["part_to_mesh"]) for each in files if "part_to_mesh" in each}) > 1:
        yield "the files' part_to_mesh differ, so their regions do not fit each other"


def _levels(document: Mapping[str, Any]) -> Iterator[str]:
    scale = document["firmness_scale"]
    levels = [each["level"] for each in scale]
    if any(after <= before for before, after in itertools.pairwise(levels)):
        yield "firmness levels are not in rising order"
    moduli = [each["target_modulus_kPa"] for each in scale if "target_modulus_kPa" in each]
    if any(after <= before for before, after in itertools.pairwise(moduli)):
        yield "target_modulus_kPa does not rise with the level"
    for region in document["regions"]:
        if not min(levels) <= region["firmness_level"] <= max(levels):
            yield f"region {region['id']}: level {region['firmness_level']} is not on the firmness scale"


def _settings(region: Mapping[str, Any]) -> Iterator[str]:
    settings, name = region["settings"], f"region {region['id']}"
    bead, layer = settings["bead_width_mm"], settings["layer_thickness_mm"]
    flow = settings["max_speed_mm_s"] * bead * layer
    limit = settings.get("max_volume_flow_mm3_s")
    if limit is not None and flow > limit * (1.0 + FLOW_SLACK):
        yield f"{name}: speed x width x thickness is {flow:.2f} mm3/s, above {limit:g}"
    for structure, share in (("none", 0), ("solid", 100)):
        if (settings["fill_structure"] == structure) != (settings["solid_share_pct"] == share):
            found = f"{settings['fill_structure']} at {settings['solid_share_pct']:g} %"
            yield f"{name}: {found} ({structure} is {share} %)"
    thinnest = region.get("min_thickness_mm")
    if thinnest is not None and thinnest < 2.0 * settings["contour_count"] * bead:
        yield f"{name}: {thinnest:g} mm thick, its contours alone need {2.0 * settings['contour_count'] * bead:g} mm"


def _stops(cautions: list[Mapping[str, Any]]) -> Iterator[str]:
    for caution in cautions:
        if caution["severity"] == "stop" and "answered_by" not in caution:
            yield f"{caution['code']} stops the export until the person answers it"
