"""The schema of the settings document, by jsonschema, the reference checker."""

from __future__ import annotations

import json

import jsonschema

from padwright.core.base.resources import shared_path
from padwright.core.stages.packing.ids import NAMESPACE_URI
from padwright.core.stages.packing.sidecar import write_sidecar
from support.packing import sidecar_parts

SCHEMA = json.loads(shared_path("schemas", "settings.schema.json").read_text("utf-8"))


def test_the_schema_is_a_valid_schema_under_our_name():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$id"] == NAMESPACE_URI


def test_it_accepts_what_we_write():
    jsonschema.Draft202012Validator(SCHEMA).validate(json.loads(write_sidecar(sidecar_parts())))
