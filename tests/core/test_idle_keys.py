"""A key that was given and changes nothing is told with its reason; so is one that leads out of what is known."""

from __future__ import annotations

import copy
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from tests.support.flat_pads import flat_tables, rectangle

from padwright.core.base.notes import Weight, weight_of
from padwright.core.base.progress import drain
from padwright.core.job.idle_keys import idle_notes
from padwright.core.job.read import job_from_tables, key_notes
from padwright.core.run.odd_keys import odd_key_notes
from padwright.core.run.pipeline import run_job

_DEMO = Path(__file__).parents[2] / "shared" / "demo"
_OUTLINE = [[-0.1, -0.2, 0.0], [-0.2, -0.2, 0.0], [-0.2, -0.1, -0.1]]


def _demo(**given: Any) -> dict[str, Any]:
    """Return the demo's tables with keys set by their places, "a.b"; None takes a key out."""
    tables = copy.deepcopy(tomllib.loads((_DEMO / "job.toml").read_text("utf-8")))
    for place, value in given.items():
        *path, name = place.split(".")
        table = tables
        for step in path:
            table = table.setdefault(step, {})
        if value is None:
            del table[name]
        else:
            table[name] = value
    return tables


@pytest.mark.parametrize(
    ("key", "value", "cause"),
    [
        ("blend.width_mm", 7.0, {"blend.steps": 0}),
        ("pad.envelope_unit", "cm", {}),
        ("pad.footprint_on", "impression", {}),
        ("pad.footprint_from", "contact", {"pad.footprint": _OUTLINE}),
        ("pad.contact_margin_mm", 7.0, {"pad.footprint_from": "clay"}),
        ("regions.overlap_mm", 0.5, {}),
        ("limits.bead_widths_mm", [0.5], {"printer.bead_width_mm": 0.45}),
        ("target.relief_share", 0.5, {"target.goal": "even"}),
        ("target.sinkage_limit_mm", 3.0, {"target.goal": "levels"}),
        ("load.share", 0.5, {"load.body_mass_kg": None, "load.force_n": 300.0}),
        ("load.grip_pressure_kpa", 30.0, {}),
        ("fill.wall_beads", 3, {}),
        ("fill.direction", [1.0, 0.0, 0.0], {"fill.kind": "folds", "fill.layout": "rings"}),
        ("limits.solid_share_pct", [5, 30], {"fill.kind": "folds"}),
        ("regions.contact", "overlapping", {"fill.kind": "folds"}),
    ],
)
def test_a_key_that_changes_nothing_is_told_with_its_reason(key, value, cause):
    told = idle_notes(job_from_tables(_demo(**{key: value}, **cause)))
    assert [note.split(" ")[0] for note in told] == [key]
    assert weight_of(told[0]) is Weight.CHANGED
    assert told[0] in key_notes(job_from_tables(_demo(**{key: value}, **cause)))


@pytest.mark.parametrize(
    "given",
    [
        {"blend.width_mm": 7.0, "blend.steps": 2},
        {"blend.width_mm": 7.0, "blend.steps": 0, "blend.between": [{"zones": ["sit bones", "rest"], "steps": 2}]},
        {"pad.contact_margin_mm": 7.0, "pad.footprint_from": "contact"},
        {"regions.overlap_mm": 0.5, "regions.contact": "overlapping"},
        {"limits.bead_widths_mm": [0.5]},
        {"target.relief_share": 0.5, "target.relieve": ["tail relief"]},
        {"target.sinkage_limit_mm": 3.0},
        {"load.share": 0.5},
        {},
    ],
)
def test_a_key_that_works_is_not_told(given):
    assert idle_notes(job_from_tables(_demo(**given))) == ()


def test_what_a_run_finds_to_be_idle_odd_or_unknown_is_shown():
    tables = _demo(
        **{
            "impression.load_center_count": [1, 2],
            "limits.solid_share_pct": [55.0, 60.0],
            "limits.contour_counts": [1, 1],
            "printer.max_speed_mm_s": 0.5,
        }
    )
    result = drain(run_job(job_from_tables(tables), _DEMO))
    shown = " ".join(" ".join(result.summary).split())
    assert "Before you print: printer.max_speed_mm_s = 0.5 is 60 times slower than the 30 mm/s of the card" in shown
    assert "impression.load_center_count changes nothing: 2 load centers were found" in shown
    full = " ".join(" ".join(result.told_in_full).split())  # something to look at: in a screen where there is room
    assert "gets 55 % of gyroid; the stiffness law was checked from 10 to 30 %" in full
    outlines = tuple(zone for zone in result.part.job.zones if zone.source != "load_centers")
    told = odd_key_notes(replace(result.part, job=replace(result.part.job, zones=outlines)))
    assert 'impression.load_center_count changes nothing: no zone has the source "load_centers".' in told


def test_a_blend_between_zones_of_one_level_is_told(tmp_path):
    size, at = (72.0, 40.0, 12.0), (0.0, 0.0, 0.0)
    zones = [
        {"name": "middle", "level": 2, **rectangle(at, 30.0, 30.0)},
        {"name": "rest", "level": 2, "source": "rest"},
    ]
    tables = flat_tables(tmp_path, size, at, zones=zones, blend={"steps": 2, "width_mm": 5.0})
    shown = " ".join(" ".join(drain(run_job(job_from_tables(tables), tmp_path)).summary).split())
    assert "blend.width_mm changes nothing: no two zones of different levels meet on this pad." in shown


def test_keys_of_the_body_and_of_the_clay_that_no_load_presses_are_told(tmp_path):
    size, at = (72.0, 40.0, 12.0), (0.0, 0.0, 0.0)
    tables = flat_tables(tmp_path, size, at, zones=[{"name": "rest", "level": 2, "source": "rest"}])
    tables |= {"body": tables.get("body", {}) | {"flesh_thickness_mm": 20.0}}
    tables.pop("load", None)
    shown = " ".join(" ".join(drain(run_job(job_from_tables(tables), tmp_path)).summary).split())
    assert "body.flesh_thickness_mm changes nothing: without a load no body is pressed on the pad." in shown
    tables["load"] = {"force_n": 100.0}
    shown = " ".join(" ".join(drain(run_job(job_from_tables(tables), tmp_path)).summary).split())
    assert "body.flesh_thickness_mm changes nothing" not in shown
