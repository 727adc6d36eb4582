"""jsonschema, the reference checker, agrees with ours: on good documents and on thousands of random edits."""

from __future__ import annotations

import copy
import json
import random

import jsonschema

from padwright.core.base.resources import shared_path
from padwright.core.stages.packing.check_schema import SchemaChecker
from padwright.core.stages.packing.sidecar import write_sidecar
from support.packing import sidecar_parts

SCHEMA = json.loads(shared_path("schemas", "settings.schema.json").read_text("utf-8"))
REFERENCE = jsonschema.Draft202012Validator(SCHEMA)
OURS = SchemaChecker(SCHEMA)
GOOD = json.loads(write_sidecar(sidecar_parts()))
ODD = [
    None, True, False, 0, 1, -1, 1.0, 1.5, 1e9, -0.5, 100, "", "a", "A-1", "heel", "x_fan", "../a", "a" * 300,
    "#123456", "2026-01-31T12:34:56Z", "0" * 64, [], {}, [1, 2, 3], [1, 1.0], [True, 1], ["heel", "heel"],
    {"value": 1}, {"value": 1, "low": 0, "high": 2, "basis": "model"}, "gyroid", "solid", 2**31,
]  # fmt: skip


def places(value, path=()):
    yield path
    for key, item in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        yield from places(item, (*path, key))


def edited(chance: random.Random):
    """Return a copy of the good document with one to three things put in, taken out, doubled or renamed."""
    document = copy.deepcopy(GOOD)
    for _ in range(chance.randint(1, 3)):
        path = chance.choice([path for path in places(document) if path])
        place = document
        for step in path[:-1]:
            place = place[step]
        last = path[-1]
        kind = chance.choice(["set", "set", "drop", "double", "rename"])
        if kind == "set":
            place[last] = copy.deepcopy(chance.choice(ODD))
        elif kind == "drop":
            del place[last]
        elif isinstance(place, list):
            place.append(copy.deepcopy(place[last]))
        elif kind == "rename":
            place[chance.choice(["x_", "X", ""]) + last] = place.pop(last)
        else:
            place[chance.choice(list(place))] = copy.deepcopy(place[last])
    return document


def test_the_schema_is_a_valid_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_the_reference_accepts_what_we_write():
    REFERENCE.validate(GOOD)


def test_both_checkers_agree_on_random_edits():
    chance = random.Random(20260131)
    verdicts = []
    for _ in range(2500):
        document = edited(chance)
        ours = not OURS.faults(document)
        assert ours == REFERENCE.is_valid(document), (ours, OURS.faults(document))
        verdicts.append(ours)
    # Enough of both kinds, else agreement says little.
    assert 100 < sum(verdicts) < 2400


def test_both_checkers_agree_on_small_schemas_about_numbers_and_equality():
    schemas = [
        {"type": "integer"}, {"type": "number"}, {"type": ["null", "boolean"]}, {"const": 1}, {"const": True},
        {"enum": [0, "a", [1, 2], {"a": 1}]}, {"uniqueItems": True}, {"minItems": 2, "maxItems": 3},
        {"minimum": 1, "maximum": 100}, {"exclusiveMinimum": 0}, {"minLength": 1, "maxLength": 5}, {"pattern": "^a"},
        {"anyOf": [{"type": "string"}, {"minimum": 5}]}, {"items": {"type": "integer"}}, {"required": ["value"]},
        {"additionalProperties": {"type": "integer"}}, {"properties": {"value": False}}, True, False,
        {"patternProperties": {"^v": {"minimum": 2}}, "additionalProperties": False},
    ]  # fmt: skip
    for schema in schemas:
        root = {"properties": {"it": schema}, "required": ["it"]}
        reference, ours = jsonschema.Draft202012Validator(root), SchemaChecker(root)
        for value in ODD:
            assert (not ours.faults({"it": value})) == reference.is_valid({"it": value}), (schema, value)
