"""From a loaded job, or a family's card, into the scene."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from ..core.job.files import with_whole_paths
from ..core.job.material_cards import is_shared_material
from ..core.job.schema import Job
from ..core.job.write import job_tables
from .body import body_in_job
from .bridge import SCANS
from .job_places import OPTIONAL, PLAIN
from .mats import mat_in_job
from .pad import drawn_in_job
from .properties import OWN_CARD
from .reading import centers
from .scans import datum
from .scene import BY_SOURCE, MARK_FIELDS


def load_into_scene(part: Any, job: Job, folder: Path) -> None:
    """Set the part's properties from a job; what no panel shows is kept for saving, its files by their full names."""
    tables = job_tables(job)
    for name, path in {**PLAIN, **OPTIONAL}.items():
        value = _found(tables, path)
        if value is not None:
            setattr(part, name, value)
        elif name in OPTIONAL:
            setattr(part, name, 0)
    if job.impression is not None:
        part.impression_unit = job.impression.unit or "mm"
        part.impression_scale = job.impression.scale or "as base"
    press = job.body.press_direction
    part.press = press if isinstance(press, str) else "given"
    if not isinstance(press, str):
        part.press_vector = press
    part.rows_run = "across" if job.fill.direction is None else "given"
    if job.fill.direction is not None:
        part.run_vector = job.fill.direction
    part.material = job.material.card if is_shared_material(job.material.card) else OWN_CARD
    with_whole_paths(tables, folder)
    mat_in_job.load(part, tables)
    _load_lists(part, job, tables, folder)
    body_in_job.load(part, job, tables)
    datum.load(part, job)
    for gone in ("zones", "alignment", "datum"):
        tables.pop(gone, None)
    for gone in drawn_in_job.PAD_KEYS:
        tables.get("pad", {}).pop(gone, None)
    part.kept = json.dumps(tables)
    part.is_started = True


def _found(tables: dict[str, Any], path: tuple[str, ...]) -> Any:
    value: Any = tables
    for name in path:
        value = value.get(name) if isinstance(value, dict) else None
    return value


def _load_lists(part: Any, job: Job, tables: dict[str, Any], folder: Path) -> None:
    part.lengths.clear()
    is_body = body_in_job.scan_of(job) is not None
    for scan in SCANS:
        owner = "body" if is_body and scan == "impression" else scan
        for given in getattr(getattr(job, owner), "check_lengths", ()):
            length = part.lengths.add()
            length.name, length.scan = given.name, scan
            length.measured_mm, length.plus_minus_mm = given.measured_mm, given.plus_minus_mm
            length.start, length.end = given.from_point, given.to_point
    centers.load(part, job)
    part.pairs.clear()
    for given in job.alignment.pairs:
        pair = part.pairs.add()
        pair.base, pair.impression = given.base, given.impression
        pair.has_base = pair.has_impression = True
    part.zones.clear()
    relieved = set(job.target.relieve)
    for table in tables.get("zones", ()):
        zone = part.zones.add()
        load_zone(zone, table, folder)
        zone.is_relieved = zone.name in relieved


def load_zone(zone: Any, table: dict[str, Any], folder: Path | None = None) -> None:
    """Set a zone from its table in a job or card."""
    zone.name, zone.level = table["name"], table["level"]
    zone.stiffness_times = table.get("stiffness_times", 1.0)
    source = table["source"]
    ends = table.get("from_mm") is not None and table.get("to_mm") is not None
    if source == "outline":  # the points become a curve when the scans are there
        zone.source = source
        zone.kept = json.dumps({key: table[key] for key in ("points", "points_on") if key in table})
        return
    if source == "color_marks":
        from ..core.base.color_names import named_color

        zone.source = source
        zone.color = [each / 255.0 for each in named_color(table["color"])]
        zone.color_name = "" if table["color"].startswith("#") else table["color"]
        for key, name in (("color_tolerance", "tolerance"), *((each, each) for each in MARK_FIELDS)):
            if table.get(key) is not None:
                setattr(zone, name, table[key])
        return
    of_own = ("file", "from_pct", "to_pct")  # no panel shows them
    if source == "pressure_grid" and all(table.get(key) is None for key in of_own):
        zone.source = source
        zone.from_kpa, zone.to_kpa = (table.get(key) or 0.0 for key in ("from_kpa", "to_kpa"))
        return
    if source == "pressed_foil" and all(table.get(key) is None for key in ("light", "dark")):
        zone.source = source
        zone.from_dark_pct = table.get("from_dark_pct") or 0.0
        zone.to_dark_pct = 100.0 if table.get("to_dark_pct") is None else table["to_dark_pct"]
        return
    is_named = bool(table.get("load_centers"))  # only some, by their names
    if source not in BY_SOURCE or source == "pressed_foil" or is_named or (source == "imprint_depth" and not ends):
        zone.source = "kept"
        kept = {key: value for key, value in table.items() if key not in ("name", "level", "stiffness_times")}
        if kept.get("file") and folder is not None:
            kept["file"] = str((folder / kept["file"]).resolve())
        zone.kept = json.dumps(kept)
        return
    zone.source = source
    for key in BY_SOURCE[source]:
        if table.get(key) is not None:
            setattr(zone, key, table[key])


def take_family(part: Any, family: Any, *, is_no_certified_gear: bool) -> None:
    """Set every property that the family's card has a default for, and its zones; forget a loaded job."""
    part.family = family.id
    part.kept = json.dumps({"part": {"certified_gear": False}}) if is_no_certified_gear else ""
    for name, path in {**PLAIN, **OPTIONAL}.items():
        if path in family.defaults:
            setattr(part, name, family.defaults[path].value)
    press = family.defaults[("body", "press_direction")].value
    part.press = press if isinstance(press, str) else "given"
    part.material = family.defaults[("material", "card")].value
    mat_in_job.load(part, {})
    part.rows_run = "across"
    part.zones.clear()
    radius = family.defaults[("zones", "radius_mm")].value
    for table in family.zones:
        load_zone(part.zones.add(), {"radius_mm": radius, **table})
