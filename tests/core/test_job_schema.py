"""The JSON Schema of a job: what the reader takes is valid, and what is wrong with a single key is not."""

from __future__ import annotations

import copy
import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings

from padwright.cli import main as cli
from padwright.core.base.errors import InputError
from padwright.core.base.resources import shared_path
from padwright.core.job.json_schema import job_schema, unit_of
from padwright.core.job.keys import expected, walk_keys
from padwright.core.job.read import job_from_tables
from padwright.core.job.renames import JOB
from padwright.core.job.schema import FAMILIES, RETIRED, Job
from padwright.core.job.write import new_job
from support.any_job import jobs

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = job_schema()
VALIDATOR = jsonschema.Draft7Validator(SCHEMA)
EVERY = """
schema = 1
seed = 3
[part]
name = "Pad"
number = "P-1"
family = "seat_pad"
revision = "b"
mirror = true
certified_gear = false
[base]
scan = "b.ply"
unit = "mm"
pick_error_mm = 0.2
[[base.check_lengths]]
name = "one"
measured_mm = 100.0
plus_minus_mm = 0.3
from = [0, 0, 0]
to = [100, 0, 0.5]
[impression]
scan = "i.ply"
unit = "mm"
scale = "as base"
clay_thickness_mm = 28
contact_depth_mm = 2
load_center_count = [1, 3]
average_sides = false
[[impression.load_centers]]
near = [1, 2, 3]
name = "left"
within_mm = 12
[[alignment.pairs]]
base = [0, 0, 0]
impression = [0, 0, 1]
[[alignment.pairs]]
base = [9, 0, 0]
impression = [9, 0, 1]
[[alignment.pairs]]
base = [0, 9, 0]
impression = [0, 9, 1]
[datum]
plane = [[0, 0, 0], [1, 0, 0], [0, 1, 0]]
line = [[0, 0, 0], [1, 0, 0]]
point = [0, 0, 0]
[body]
press_direction = [0, 0, -1]
[pad]
fit_gap_mm = 0.4
[[pad.reliefs]]
kind = "channel"
points = [[0, 0, 0], [1, 0, 0]]
width_mm = 3
depth_mm = 2
[[zones]]
name = "bones"
level = 4
source = "load_centers"
radius_mm = 20
load_centers = ["left"]
[[zones]]
name = "marked"
level = 1
source = "color_marks"
color = "#ff0000"
color_tolerance = 0.2
[[zones]]
name = "grid"
level = 2
source = "pressure_grid"
file = "grid.csv"
places = [{ cell = [0, 0], point = [0, 0, 0] }, { cell = [3, 7], point = [1, 1, 0] }]
from_kpa = 5
[[zones]]
name = "rest"
level = 2
source = "rest"
[[blend.between]]
zones = ["bones", "rest"]
steps = 2
[regions]
contact = "touching"
[material]
card = "tpu_85a"
density_g_cm3 = 1.1
[printer]
nozzle_mm = 0.4
bed_mm = [220, 220, 250]
[limits]
solid_share_pct = [8, 30]
fill_structures = ["gyroid"]
contour_counts = [0, 2]
[load]
body_mass_kg = 75
[[load.cases]]
name = "forward"
share = 0.5
point = [0, 0, 0]
[target]
goal = "relieve"
relieve = ["bones"]
[output]
stl = false
"""

# Refused by rules that no schema of keys has: nothing is made for certified gear; a zone asks for the name.
RULES = [(("part", "certified_gear"), True), (("impression", "load_centers", 0, "name"), "")]


def tables() -> dict[str, Any]:
    return tomllib.loads(EVERY)


def faults(job: dict[str, Any]) -> list[str]:
    return [f"{list(fault.absolute_path)}: {fault.message}" for fault in VALIDATOR.iter_errors(job)]


def is_read(job: dict[str, Any]) -> bool:
    try:
        job_from_tables(job)
    except InputError:
        return False
    return True


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Return the path of every key of a job that holds no tables."""
    tables_in = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, inner in tables_in:
        here = (*path, name)
        if isinstance(inner, dict) or (isinstance(inner, list) and inner and isinstance(inner[0], dict)):
            yield from leaves(inner, here)
        elif isinstance(value, dict):
            yield here


def changed(path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    job = tables()
    at: Any = job
    for part in path[:-1]:
        at = at[part]
    at[path[-1]] = value
    return job


def test_it_is_a_schema_of_its_draft() -> None:
    jsonschema.Draft7Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == jsonschema.Draft7Validator.META_SCHEMA["$schema"]
    assert json.loads(json.dumps(SCHEMA, allow_nan=False)) == SCHEMA


def test_the_jobs_of_the_repository_are_valid() -> None:
    paths = sorted(ROOT.glob("shared/**/job*.toml"))
    assert paths
    found = [(path, faults(tomllib.loads(path.read_text("utf-8")))) for path in paths]
    assert found == [(path, []) for path in paths]
    assert is_read(tables()) and faults(tables()) == []


@pytest.mark.parametrize("family", FAMILIES)
def test_a_job_to_start_from_is_valid(family: str) -> None:
    assert faults(tomllib.loads(new_job(family))) == []


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(jobs())
def test_whatever_the_reader_takes_is_valid(job: dict[str, Any]) -> None:
    job_from_tables(job)
    assert faults(job) == []


@pytest.mark.parametrize("path", list(leaves(tomllib.loads(EVERY))), ids=str)
def test_a_value_of_another_kind_is_not_valid(path: tuple[Any, ...]) -> None:
    """Neither a table, nor the wrong one of a flag and a text, nor a number far off, nor a list with a table in it."""
    for wrong in ({"a": 1}, [{"a": 1}], True, "", -3e12, 3e12, [], [[]]):
        job = changed(path, wrong)
        assert is_read(job) or faults(job) or (path, wrong) in RULES, (path, wrong)


@pytest.mark.parametrize("path", list(leaves(tomllib.loads(EVERY))), ids=str)
def test_an_unknown_key_beside_is_not_valid(path: tuple[Any, ...]) -> None:
    job = changed((*path[:-1], f"{path[-1]}_x"), 1)
    assert not is_read(job) and any("were unexpected" in fault or "was unexpected" in fault for fault in faults(job))


def test_limits_are_those_of_the_keys() -> None:
    """Each number with a limit: the limit itself as the reader has it, and one step beyond is wrong."""
    seen = 0
    for path, described, _ in walk_keys(Job):
        limits = [(described.low, -1e-6), (described.high, 1e-6)]
        for limit, step in limits if described.kind == "number" else ():
            if limit is None:
                continue
            schema: Any = SCHEMA
            for name in path:
                schema = schema.get("items", schema)["properties"][name]
            is_valid = [jsonschema.Draft7Validator(schema).is_valid(value) for value in (limit, limit + step)]
            assert is_valid == [not (described.above and step < 0), False], path
            seen += 1
    assert seen > 60


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("part", "family"), "chair"),
        (("part", "number"), "a b"),
        (("part", "number"), "P-1."),
        (("part", "name"), "  "),
        (("part", "revision"), "x" * 41),
        (("base", "check_lengths", 0, "plus_minus_mm"), 0),
        (("zones", 1, "color"), "reddish"),
        (("zones", 3, "radius_mm"), 20),  # not with this source
        (("alignment", "pairs"), [{"base": [0, 0, 0], "impression": [0, 0, 1]}]),
        (("pad", "least_thickness_mm"), 0.1),
        (("limits", "fill_structures"), ["none"]),
    ],
)
def test_what_is_wrong_with_a_key_is_not_valid(path: tuple[Any, ...], value: Any) -> None:
    job = changed(path, value)
    assert not is_read(job) and faults(job)


@pytest.mark.parametrize(
    "path",
    [("schema",), ("part",), ("part", "name"), ("base", "scan"), ("zones", 0, "level"), ("zones", 1, "color")],
)
def test_a_key_that_must_be_there_is_asked_for(path: tuple[Any, ...]) -> None:
    job = tables()
    at: Any = job
    for part in path[:-1]:
        at = at[part]
    del at[path[-1]]
    assert not is_read(job) and faults(job)


def test_what_has_a_default_may_be_left_out() -> None:
    least = {name: tables()[name] for name in ("schema", "part", "base", "impression")}
    assert is_read(least) and faults(least) == []
    none = {**least, "alignment": {"pairs": []}, "zones": []}
    assert is_read(none) and faults(none) == []


@pytest.mark.parametrize("once", JOB.keys, ids=str)
def test_an_old_name_is_valid_and_marked_and_not_beside_the_new_one(once: tuple[str, ...]) -> None:
    now, renamed = JOB.keys[once], tables()
    both = copy.deepcopy(renamed)
    for job, is_both in ((renamed, False), (both, True)):
        owners = job.setdefault(once[0], {})
        for owner in owners if isinstance(owners, list) else [owners]:
            if now in owner or once == ("body", "load_centre_spacing_mm"):
                owner[once[-1]] = owner.get(now, 100) if is_both else owner.pop(now, 100)
            if is_both and once[0] == "body":
                owner[now] = 100
    assert is_read(renamed) and faults(renamed) == []
    assert not is_read(both) and faults(both)
    schema: Any = SCHEMA
    for name in once:
        schema = schema.get("items", schema)["properties"][name]
    assert schema["deprecated"] and now in schema["description"]


def test_old_values_and_keys_of_the_past_are_valid() -> None:
    for path, values in JOB.values.items():
        assert path == ("zones", "source")
        for old in values:
            job = tables()
            for zone in job["zones"]:
                zone["source"] = {now: was for was, now in values.items()}.get(zone["source"], zone["source"])
            assert old in {zone["source"] for zone in job["zones"]}
            assert is_read(job) and faults(job) == []
    past = {**tables(), "coupons": {"material": "x"}}
    past["output"] = {**past["output"], "layout": "spread"}
    assert set(RETIRED) == {("coupons",), ("output", "layout")} and is_read(past) and faults(past) == []


def test_descriptions_tell_meaning_unit_and_where_a_default_comes_from() -> None:
    pad = SCHEMA["properties"]["pad"]["properties"]
    assert pad["fit_gap_mm"]["description"].endswith(", mm. Default: from the part family card.")
    assert SCHEMA["properties"]["output"]["properties"]["stl"]["default"] is True
    names = {str(path[-1]) for path, _, _ in walk_keys(Job)}
    assert {unit_of(name) for name in names} == {"", "mm", "mm/s", "mm3/s", "g/cm3", "kPa", "kg", "N", "%"}
    assert unit_of("price_per_kg") == "" and unit_of("max_speed_mm_s") == "mm/s"


def test_the_command_writes_it_once_or_prints_it(tmp_path: Path, capsys) -> None:
    path = tmp_path / "job.schema.json"
    assert cli.main(["schema", "--out", str(path)]) == 0
    assert "#:schema job.schema.json" in capsys.readouterr().out
    assert json.loads(path.read_text("utf-8")) == SCHEMA
    assert cli.main(["schema", "--out", str(path)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert cli.main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out) == SCHEMA


def test_a_job_that_names_its_schema_reads_the_same(tmp_path: Path) -> None:
    text = new_job("seat_pad")
    assert tomllib.loads(f"#:schema job.schema.json\n{text}") == tomllib.loads(text)


def test_the_schema_beside_the_families_is_made_from_the_keys_of_now() -> None:
    path = shared_path("schemas", "job.schema.json")  # the modeller makes its fields from it
    beside, made = json.loads(path.read_text("utf-8")), job_schema()
    for each in (beside, made):  # families and zones' sources have lists of their own, which no field takes from here
        del each["properties"]["part"]["properties"]["family"]["enum"]
        zone = each["properties"]["zones"]["items"]
        zone.pop("allOf"), zone["properties"].pop("source")
    assert beside == json.loads(json.dumps(made)), f"delete {path}, then: python -m padwright schema --out {path}"


def test_no_limit_is_told_with_an_exponent() -> None:
    said = {".".join(map(str, path)): expected(described) for path, described, _ in walk_keys(Job)}
    assert said["seed"] == "a whole number from 0 to 2147483648"
    assert {name: told for name, told in said.items() if re.search(r"\de[+-]", told)} == {}
