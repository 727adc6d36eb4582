"""What a field takes is what the key of the job takes: both come from the key. Saved scenes keep what they hold."""

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
# What scenes saved so far hold: a choice may be added with a number of its own, none may get another.
SAVED = {
    "family": {"seat_pad": 0, "insole": 1, "grip": 2, "liner_pad": 3, "nose_pad": 4},
    "base_unit": {"mm": 0, "cm": 1, "m": 2, "in": 3},
    "impression_unit": {"mm": 0, "cm": 1, "m": 2, "in": 3},
    "impression_scale": {"as base": 0, "as file": 1},
    "press": {"auto": 0, "inward": 1, "given": 2},
    "datum": {"none": 0, "points": 1, "symmetric": 2},
    "contact": {"touching": 0, "overlapping": 1},
    "material": {
        **{"tpe_80a": 0, "tpu_45d": 1, "tpu_54d": 2, "tpu_60a": 3, "tpu_64d": 4, "tpu_70a": 5, "tpu_80a": 6},
        **{"tpu_85a": 7, "tpu_90a": 8, "tpu_95a": 9, "own": 10},
    },
    "fill_kind": {"settings": 0, "folds": 1},
    "fill_layout": {"rows": 0, "rings": 1},
    "rows_run": {"across": 0, "given": 1},
    "voids": {"open": 0, "sealed": 1},
    "mat_unit": {
        **{"file": 0, "kPa": 1, "Pa": 2, "hPa": 3, "mbar": 4, "bar": 5, "N/cm2": 6, "N/mm2": 7, "mmHg": 8, "psi": 9},
        **{"g/cm2": 10, "kg/cm2": 11, "raw": 12},
    },
    "mat_frames": {"mean": 0, "maximum": 1, "one": 2},
    "mat_seen": {"found": 0, "body": 1, "below": 2},
    "mat_laid": {"auto": 0, "places": 1, "load_centers": 2, "outline": 3},
    "mat_places_on": {"base": 0, "impression": 1},
    "mat_measured_on": {"base": 0, "clay": 1, "pad": 2},
    "goal": {"levels": 0, "even": 1, "relieve": 2},
    "scan": {"base": 0, "impression": 1},
    "source": {
        **{"load_centers": 0, "imprint_depth": 1, "paint": 2, "outline": 3, "color_marks": 4, "rest": 5, "kept": 6},
        "pressure_grid": 7,
        "pressed_foil": 8,
    },
    "kind": {"opening": 0, "channel": 1},
}
OF_THE_WINDOW = {  # more choices than the key, or another shape
    *("press", "press_vector", "rows_run", "run_vector", "material", "source", "scan"),
    *("mat_file", "mat_unit", "mat_pitch_mm", "mat_dpi", "mat_sheet_mm", "mat_seen", "mat_pose"),
}


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
    assert least <= 0.001  # the limits of a micrometer's measurement are a few thousandths of a mm
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


def test_a_unit_stands_in_the_title_alone(part, inside) -> None:
    for prop, *_ in fields(part, inside):
        if prop.name.endswith((" (mm)", " (kg)", " (kPa)")):
            unit = prop.name.rpartition("(")[2].removesuffix(")")
            assert f", {unit}" not in prop.description, prop.description


def test_a_field_set_back_to_its_default_has_what_the_card_of_the_first_family_says(part, inside) -> None:
    first = part.bl_rna.properties["family"].default
    card = inside("core.job.cards").load_family(first)
    checked = 0
    for prop, key, _, _ in fields(part, inside):
        path = inside("blender.job_places").PLACES.get(prop.identifier)
        if key.card and path in card.defaults:
            assert prop.default == pytest.approx(card.defaults[path].value), prop.identifier
            checked += 1
    assert checked >= 9
    assert part.bl_rna.properties["material"].default == card.defaults["material", "card"].value


def test_saved_scenes_find_every_choice_again_by_its_number(part) -> None:
    seen = {}
    kinds = [part.bl_rna, *(part.bl_rna.properties[rows].fixed_type for rows in ("lengths", "zones", "reliefs"))]
    for kind in kinds:
        for prop in kind.properties:
            if prop.type == "ENUM":
                seen[prop.identifier] = {each.identifier: each.value for each in prop.enum_items}
    assert seen == SAVED


def test_a_zone_may_come_from_each_source_of_a_job_that_a_panel_can_say(part, inside) -> None:
    sources = {each.identifier for each in part.bl_rna.properties["zones"].fixed_type.properties["source"].enum_items}
    of_files = {"weights"}  # as a loaded job says
    assert sources - {"paint", "kept"} == set(inside("core.job.schema").SOURCES) - of_files
