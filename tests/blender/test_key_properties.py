"""What a field takes is what the key of the job takes: both come from the key."""

from __future__ import annotations

from dataclasses import MISSING

import numpy as np
import pytest

ROWS = {
    "lengths": ("base.check_lengths", {}),
    "zones": ("zones", {"color_tolerance": "tolerance"}),
    "reliefs": ("pad.reliefs", {}),
    "centers": ("impression.load_centers", {"use": "is_used"}),
}
OF_THE_WINDOW = {"press", "press_vector", "material", "source", "scan"}  # more choices than the key, or another shape


def fields(part, inside):
    """Give (property of the modeller, key, default, can be unknown) of all that is named after a key of the job."""
    keys, job, places = inside("core.job.keys"), inside("core.job.schema").Job, inside("blender.job_places")
    by_place = {path: (key, default) for path, key, default in keys.walk_keys(job)}
    found = []
    for name, path in places.PLACES.items():
        found.append((part.bl_rna.properties[name], *by_place[path], name in places.OPTIONAL))
    for rows, (place, called) in ROWS.items():
        kind = part.bl_rna.properties[rows].fixed_type
        for path, (key, default) in by_place.items():
            if path[:-1] == tuple(place.split(".")) and called.get(path[-1], path[-1]) in kind.properties:
                found.append((kind.properties[called.get(path[-1], path[-1])], key, default, path[-1] == "measured_mm"))
    return [each for each in found if each[0].identifier not in OF_THE_WINDOW]


def test_a_field_has_the_limits_and_the_default_of_its_key(part, inside) -> None:
    least = inside("blender.key_properties").LEAST
    seen = fields(part, inside)
    assert len(seen) >= 40
    for prop, key, default, can_be_unknown in seen:
        if prop.type in ("FLOAT", "INT") and not prop.is_array:
            low = 0 if can_be_unknown else (key.low + least * key.above if key.low is not None else None)
            for limit, found in ((low, prop.hard_min), (key.high, prop.hard_max)):
                assert limit is None or found == np.float32(limit), prop.identifier
        if prop.type == "ENUM":
            assert tuple(each.identifier for each in prop.enum_items) == key.choices, prop.identifier
        if default is not MISSING and default is not None and not key.card and not prop.type == "POINTER":
            now = prop.default_array if getattr(prop, "is_array", False) else prop.default
            assert now == pytest.approx(default), prop.identifier


def test_a_field_says_what_its_key_says(part, inside) -> None:
    for prop, key, _, _ in fields(part, inside):
        if key.kind in ("number", "integer", "choice", "flag") and prop.identifier != "is_used":
            assert key.about.lower() in prop.description.lower(), prop.identifier
        if prop.identifier.endswith(("_mm", "_kg", "_kpa")):
            assert prop.name.endswith((" (mm)", " (kg)", " (kPa)")), prop.identifier


def test_a_zone_may_come_from_each_source_of_a_job_that_a_panel_can_say(part, inside) -> None:
    sources = {each.identifier for each in part.bl_rna.properties["zones"].fixed_type.properties["source"].enum_items}
    of_files = {"weights", "pressure_grid"}  # as a loaded job says
    assert sources - {"paint", "kept"} == set(inside("core.job.schema").SOURCES) - of_files
