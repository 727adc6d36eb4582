"""From the scene to a job and its folder, and from a loaded job into the scene."""

from __future__ import annotations

import hashlib
import json
import tomllib
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from ..core.capture.write_ply import write_ply
from ..core.errors import ExportError, InputError
from ..core.families import is_shared_material
from ..core.job_read import job_from_tables
from ..core.job_schema import Job
from ..core.job_write import write_job
from ..core.slugs import slug
from ..core.units import mm_per_unit
from . import attributes, bridge
from .properties import OWN_CARD

SCANS = ("base", "impression")
_OURS = "saved from a scene by Padwright"
_BY_SOURCE = {"load_centres": ("radius_mm",), "imprint_depth": ("from_mm", "to_mm"), "rest": ()}

# Property -> its place in a job. What is 0 in "optional" was not measured and is left out.
_PLAIN = {
    "family": ("part", "family"),
    "part_name": ("part", "name"),
    "number": ("part", "number"),
    "revision": ("part", "revision"),
    "is_mirrored": ("part", "mirror"),
    "base_unit": ("base", "unit"),
    "fit_gap_mm": ("pad", "fit_gap_mm"),
    "least_thickness_mm": ("pad", "least_thickness_mm"),
    "cover_mm": ("pad", "cover_mm"),
    "rim_radius_mm": ("pad", "rim_radius_mm"),
    "blend_steps": ("blend", "steps"),
    "blend_width_mm": ("blend", "width_mm"),
    "contact": ("regions", "contact"),
    "overlap_mm": ("regions", "overlap_mm"),
    "nozzle_mm": ("printer", "nozzle_mm"),
    "share": ("load", "share"),
    "grip_pressure_kpa": ("load", "grip_pressure_kpa"),
    "goal": ("target", "goal"),
    "sinkage_limit_mm": ("target", "sinkage_limit_mm"),
    "writes_stl": ("output", "stl"),
}
_OPTIONAL = {
    "clay_thickness_mm": ("impression", "clay_thickness_mm"),
    "spacing_mm": ("body", "load_centre_spacing_mm"),
    "body_mass_kg": ("load", "body_mass_kg"),
}


def unit_mm(part: Any, scan: str) -> float:
    """Return how many mm one of a scan's own numbers is."""
    return mm_per_unit(getattr(part, f"{scan}_unit"))


def plain(value: Any) -> Any:
    """Return a property's value as it was typed: the shortest number that the modeller's 32 bits stand for."""
    if isinstance(value, float):
        return float(str(np.float32(value)))
    if isinstance(value, (str, bool, int)):
        return value
    return [plain(float(each)) for each in value]


def work_folder() -> Path:
    """Return the folder where the scene's scans lie as files while the modeller runs."""
    folder = Path(bpy.app.tempdir) / "padwright"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def read_scene(context: bpy.types.Context, folder: Path, *, with_zones: bool = True) -> Job:
    """Write the scene's scans and painted zones into a folder and return the job that makes the part from them.

    Parameters
    ----------
    context : Context
    folder : Path
    with_zones : bool
        False leaves paint unread: reading it takes time, and no stage before the zones asks for it.

    Raises
    ------
    InputError
        When something is missing or wrong; the message says what.
    """
    part = context.scene.padwright
    context.view_layer.update()
    for scan in SCANS:
        obj = getattr(part, scan)
        if obj is not None:
            numbers = bridge.scan_numbers(obj, context, unit_mm(part, scan))
            _write_scan(folder / scan_name(part, scan), write_ply(numbers, comment=_OURS))
    tables = scene_tables(part)
    if with_zones:
        tables["zones"] = _zone_tables(context.scene, folder)
    else:  # whatever names zones must go with them
        tables["target"]["relieve"] = []
        tables["target"]["goal"] = "levels"
        tables.get("blend", {}).pop("between", None)
    return job_from_tables(tables, name="The scene's part", folder=folder)


def scan_name(part: Any, scan: str) -> str:
    """Return the name of the file that one of the part's scans is saved as."""
    return f"{slug(part.number)}.{scan}.ply"


def _write_scan(path: Path, data: bytes) -> None:
    """Write a scan; a file of that name that did not come from here is left alone."""
    if path.exists():
        with path.open("rb") as file:
            if _OURS.encode() not in file.read(200):
                raise ExportError(f'"{path}" is there and was not saved by Padwright.', hint="Choose another folder.")
    path.write_bytes(data)


def scene_tables(part: Any) -> dict[str, Any]:
    """Return the part's properties as a job's tables, without its zones."""
    if part.base is None:
        raise InputError("There is no base scan.", hint="Import one, or choose an object as the base scan.")
    tables: dict[str, Any] = json.loads(part.kept) if part.kept else {}
    tables["schema"] = 1
    _table(tables, ("base",))["scan"] = scan_name(part, "base")
    if part.impression is None:
        tables.pop("impression", None)
    else:
        tables.setdefault("impression", {}).update(scan=scan_name(part, "impression"), unit=part.impression_unit)
    for name, path in {**_PLAIN, **_OPTIONAL}.items():
        if path[0] == "impression" and part.impression is None:
            continue
        value = plain(getattr(part, name))
        table = _table(tables, path[:-1])
        table.pop(path[-1], None)
        if name in _PLAIN or value > 0:
            table[path[-1]] = value
    _table(tables, ("body",))["press_direction"] = plain(part.press_vector) if part.press == "given" else part.press
    if part.material != OWN_CARD:
        _table(tables, ("material",))["card"] = part.material
    for scan in SCANS[: 1 if part.impression is None else 2]:
        tables[scan]["check_lengths"] = [_length_table(each) for each in part.lengths if each.scan == scan]
    if part.impression is not None:
        tables["impression"].pop("scale", None)
        if not tables["impression"]["check_lengths"]:
            tables["impression"]["scale"] = part.impression_scale
    tables["target"]["relieve"] = [zone.name for zone in part.zones if zone.is_relieved]
    pairs = [pair for pair in part.pairs if pair.has_base and pair.has_impression]
    if pairs:
        points = [{"base": plain(pair.base), "impression": plain(pair.impression)} for pair in pairs]
        tables["alignment"] = {"pairs": points}
    return tables


def _table(tables: dict[str, Any], path: tuple[str, ...]) -> dict[str, Any]:
    for name in path:
        tables = tables.setdefault(name, {})
    return tables


def _length_table(length: Any) -> dict[str, Any]:
    return {
        "name": length.name,
        "measured_mm": plain(length.measured_mm),
        "plus_minus_mm": plain(length.plus_minus_mm),
        "from": plain(length.start),
        "to": plain(length.end),
    }


def _zone_tables(scene: bpy.types.Scene, folder: Path) -> list[dict[str, Any]]:
    """Return the zones as tables; what is painted goes into a file each, in the part frame, mm."""
    part = scene.padwright
    shares = painted(part)
    tables = []
    for number, zone in enumerate(part.zones, 1):
        table = {"name": zone.name, "level": plain(zone.level)}
        if zone.name in shares:
            place = bridge.read_mesh(part.pad).vertices * bridge.mm_per_scene_unit(scene)
            file = f"{slug(part.number)}.zone-{number}.npz"
            np.savez(folder / file, positions=place, weights=shares[zone.name])
            tables.append({**table, "source": "weights", "file": file})
        elif zone.source == "paint":
            raise InputError(f'Zone "{zone.name}" is to be painted and is not.', hint="Paint it, or take it from data.")
        elif zone.source == "kept":
            tables.append({**json.loads(zone.kept), **table})
        else:
            keys = {key: plain(getattr(zone, key)) for key in _BY_SOURCE[zone.source]}
            tables.append({**table, "source": zone.source, **keys})
    return tables


def painted(part: Any) -> dict[str, np.ndarray]:
    """Return the zones whose vertex group the artist has painted, with the share of every pad vertex, (n,)."""
    if part.pad is None:
        return {}
    shares = attributes.read_groups(part.pad, [zone.name for zone in part.zones])
    return {
        zone.name: shares[zone.name]
        for zone in part.zones
        if zone.name in shares and fingerprint(shares[zone.name]) != zone.written and shares[zone.name].any()
    }


def fingerprint(share: np.ndarray) -> str:
    """Return a short text that changes when a brush has touched a vertex group."""
    steps = np.round(share * 1000.0).astype(np.int32)
    return hashlib.sha256(steps.tobytes()).hexdigest()[:16]


def load_into_scene(part: Any, job: Job, folder: Path) -> None:
    """Set the part's properties from a job; what no panel shows is kept for saving, its files by their full names."""
    tables = tomllib.loads(write_job(job, full=True))
    for name, path in {**_PLAIN, **_OPTIONAL}.items():
        value = _found(tables, path)
        if value is not None:
            setattr(part, name, value)
        elif name in _OPTIONAL:
            setattr(part, name, 0.0)
    if job.impression is not None:
        part.impression_unit = job.impression.unit or "mm"
        part.impression_scale = job.impression.scale or "as base"
    press = job.body.press_direction
    part.press = press if isinstance(press, str) else "given"
    if not isinstance(press, str):
        part.press_vector = press
    part.material = job.material.card if is_shared_material(job.material.card) else OWN_CARD
    _load_lists(part, job, tables, folder)
    for path in (("pad", "envelope"), ("material", "card"), ("material", "calibration")):
        value = _found(tables, path)
        if value is not None and not (path[-1] == "card" and is_shared_material(value)):
            _table(tables, path[:-1])[path[-1]] = str((folder / value).resolve())
    for gone in ("zones", "alignment"):
        tables.pop(gone, None)
    part.kept = json.dumps(tables)
    part.is_started = True


def _found(tables: dict[str, Any], path: tuple[str, ...]) -> Any:
    value: Any = tables
    for name in path:
        value = value.get(name) if isinstance(value, dict) else None
    return value


def _load_lists(part: Any, job: Job, tables: dict[str, Any], folder: Path) -> None:
    part.lengths.clear()
    for scan in SCANS:
        for given in getattr(getattr(job, scan), "check_lengths", ()):
            length = part.lengths.add()
            length.name, length.scan = given.name, scan
            length.measured_mm, length.plus_minus_mm = given.measured_mm, given.plus_minus_mm
            length.start, length.end = given.from_point, given.to_point
    part.pairs.clear()
    for given in job.alignment.pairs:
        pair = part.pairs.add()
        pair.base, pair.impression = given.base, given.impression
        pair.has_base = pair.has_impression = True
    part.zones.clear()
    relieved = set(job.target.relieve)
    for table in tables.get("zones") or [dict(each) for each in _card_zones(job)]:
        zone = part.zones.add()
        load_zone(zone, table, folder)
        zone.is_relieved = zone.name in relieved


def _card_zones(job: Job) -> tuple[dict[str, Any], ...]:
    """Return the zones of a job that were left to the card, in TOML form."""
    return tuple(
        {key: value for key, value in vars(zone).items() if value is not None and value != ()} for zone in job.zones
    )


def load_zone(zone: Any, table: dict[str, Any], folder: Path | None = None) -> None:
    """Set a zone from its table in a job or card."""
    zone.name, zone.level = table["name"], table["level"]
    source = table["source"]
    ends = table.get("from_mm") is not None and table.get("to_mm") is not None
    if source not in _BY_SOURCE or (source == "imprint_depth" and not ends):
        zone.source = "kept"
        kept = {key: value for key, value in table.items() if key not in ("name", "level")}
        if kept.get("file") and folder is not None:
            kept["file"] = str((folder / kept["file"]).resolve())
        zone.kept = json.dumps(kept)
        return
    zone.source = source
    for key in _BY_SOURCE[source]:
        if table.get(key) is not None:
            setattr(zone, key, table[key])


def take_family(part: Any, family: Any, *, is_no_certified_gear: bool) -> None:
    """Set every property that the family's card has a default for, and its zones; forget a loaded job."""
    part.family = family.id
    part.kept = json.dumps({"part": {"certified_gear": False}}) if is_no_certified_gear else ""
    for name, path in {**_PLAIN, **_OPTIONAL}.items():
        if path in family.defaults:
            setattr(part, name, family.defaults[path].value)
    press = family.defaults[("body", "press_direction")].value
    part.press = press if isinstance(press, str) else "given"
    part.material = family.defaults[("material", "card")].value
    part.zones.clear()
    radius = family.defaults[("zones", "radius_mm")].value
    for table in family.zones:
        load_zone(part.zones.add(), {"radius_mm": radius, **table})
