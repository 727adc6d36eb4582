"""Which key is meant by one that is not known, over every key there is."""

from __future__ import annotations

import re

import pytest

from padwright.core.base.errors import InputError
from padwright.core.job.guesses import nearest_keys
from padwright.core.job.keys import keys_of, walk_keys
from padwright.core.job.read import parse_job
from padwright.core.job.schema import Job

UNIT = re.compile(r"_(mm3_s|mm_s|g_cm3|per_kg|mm|kg|n|kpa|pct|beads)$")
TABLES = {"": Job, **{".".join(path): key.table for path, key, _ in walk_keys(Job) if key.table}}
KEYS = [(table, name) for table, kind in TABLES.items() for name in keys_of(kind)]
START = b'schema = 1\n[part]\nname = "a"\nnumber = "A"\nfamily = "seat_pad"\n[base]\nscan = "b.ply"\n'


@pytest.mark.parametrize(("table", "name"), [each for each in KEYS if UNIT.search(each[1])])
def test_a_key_without_its_unit_leads_to_it(table, name):
    bare = UNIT.sub("", name)
    same = [other for other in keys_of(TABLES[table]) if UNIT.sub("", other) == bare]
    assert nearest_keys(bare, keys_of(TABLES[table])) == same


@pytest.mark.parametrize(("table", "name"), KEYS)
def test_a_key_but_for_its_dashes_or_capitals_leads_to_it(table, name):
    for slip in (name.replace("_", ""), name.replace("_", "-"), name.upper(), name.title().replace("_", "")):
        assert nearest_keys(slip, keys_of(TABLES[table])) == [name]


@pytest.mark.parametrize(
    ("table", "typed", "key"),
    [
        ("printer", "nozzle_diameter", "nozzle_mm"),
        ("printer", "nozzle_size_mm", "nozzle_mm"),
        ("printer", "filament_mm", "filament_diameter_mm"),
        ("printer", "layer_height", "layer_thickness_mm"),
        ("printer", "line_width_mm", "bead_width_mm"),
        ("printer", "bed_size", "bed_mm"),
        ("load", "weight_kg", "body_mass_kg"),
        ("pad", "gap", "fit_gap_mm"),
        ("pad", "minimum_thickness", "least_thickness_mm"),
        ("zones", "firmness", "level"),
    ],
)
def test_words_in_common_count_before_letters(table, typed, key):
    assert nearest_keys(typed, keys_of(TABLES[table])) == [key]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[printer]\nnozzle_diameter = 0.6", "did you mean printer.nozzle_mm?"),
        ("[printer]\nnozzle_mm = 0.4\nnozzle_diameter = 0.6", "nozzle_mm, given beside it, is the one that is read."),
        ("[printer]\nbed_cm = 22", "did you mean printer.bed_mm? Write: bed_mm = 220"),
        ("[load]\nforce_kg = 50", "did you mean load.force_n? Write: force_n = 490.332"),
        ("[pad]\nclay_thickness_mm = 30", "no such key here; did you mean impression.clay_thickness_mm?"),
        (
            '[[zones]]\nname = "a"\nlevel = 2\nsource = "imprint_depth"\nfrom = 3',
            "did you mean zones[1].from_mm?",
        ),
    ],
)
def test_a_wrong_key_is_told_with_the_right_one(text, told):
    with pytest.raises(InputError) as error:
        parse_job(START + text.encode(), "job.toml", None)
    assert told in str(error.value)


ZONES = (
    'schema = 1\n[part]\nname = "A"\nnumber = "A-1"\nfamily = "seat_pad"\n[base]\nscan = "a.ply"\nunit = "mm"\n'
    '[impression]\nscan = "b.ply"\nunit = "mm"\n[[zones]]\nname = "z"\nlevel = 2\n'
)


@pytest.mark.parametrize(
    ("zone", "meant", "others"),
    [
        ('source = "imprint_depth"\nfrom = 3\n', "zones[1].from_mm?", ("from_kpa", "from_pct", "from_dark_pct")),
        ('source = "pressure_grid"\nfrom = 3\n', "zones[1].from_kpa or zones[1].from_pct?", ("from_mm", "from_dark")),
        ('source = "pressed_foil"\nfrom = 3\n', "zones[1].from_dark_pct?", ("from_mm", "from_kpa")),
        ('source = "load_centers"\nradius = 3\n', "zones[1].radius_mm?", ()),
    ],
)
def test_a_wrong_key_of_a_zone_is_told_with_keys_that_its_own_source_takes(zone, meant, others) -> None:
    with pytest.raises(InputError) as raised:
        parse_job((ZONES + zone).encode(), "job.toml", None)
    (line,) = (each for each in raised.value.message.splitlines() if "there is no such key" in each)
    assert line.endswith(f"did you mean {meant}")
    assert not any(f"zones[1].{each}" in line for each in others)


def test_a_key_that_no_key_of_its_source_is_like_is_told_with_those_it_takes() -> None:
    with pytest.raises(InputError) as raised:
        parse_job((ZONES + 'source = "rest"\nhow_deep = 3\n').encode(), "job.toml", None)
    (line,) = (each for each in raised.value.message.splitlines() if "no such key" in each)
    assert "known are name, level, stiffness_times, source." in line
    with pytest.raises(InputError) as raised:  # a source that is not known takes any
        parse_job((ZONES + 'source = "nothing"\nradius = 3\n').encode(), "job.toml", None)
    assert "did you mean zones[1].radius_mm?" in raised.value.message
