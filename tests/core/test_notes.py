"""Notes carry a weight from where they are made to the summary: what must be acted on is told first, and always."""

from __future__ import annotations

import copy
import json
import pickle

import pytest
from tests.support.flat_pads import flat_tables

from padwright.core.base.notes import (
    Note,
    Weight,
    as_heavy,
    heaviest_first,
    on_change,
    sentences,
    to_act_on,
    to_look_at,
    weight_of,
)
from padwright.core.base.progress import drain
from padwright.core.job.read import job_from_tables
from padwright.core.run.pipeline import run_job


def test_a_note_is_its_text_and_keeps_its_weight():
    note = to_act_on("Measure again.")
    assert note == "Measure again." and json.dumps([note]) == '["Measure again."]'
    for again in (copy.deepcopy(note), pickle.loads(pickle.dumps(note)), as_heavy(f"heel: {note}", note)):
        assert isinstance(again, Note) and weight_of(again) is Weight.ACT
    assert weight_of("plain") is Weight.BACKGROUND


def test_the_heaviest_come_first_once_each_and_by_name_where_they_have_one():
    notes = ["known", to_look_at("cells"), on_change("moved"), to_act_on("act"), on_change("known"), "heel: cells"]
    assert heaviest_first(notes) == ["act", "moved", "known", "heel: cells"]
    assert weight_of(heaviest_first(notes)[2]) is Weight.CHANGED


def test_sentences_end_before_a_capital_letter_alone():
    assert sentences("Off by 3.5 mm, e.g. here. Is it? Yes.") == ["Off by 3.5 mm, e.g. here.", "Is it?", "Yes."]


# The one end is as far above the plate as a mark's may be without being refused.
_BESIDE = {"measured_mm": 100.0, "plus_minus_mm": 0.1, "from": [-50.0, 0.0, 4.0], "to": [50.0, 0.0, 0.0]}


@pytest.mark.parametrize(
    ("tables", "said"),
    [
        ({"printer": {"bed_mm": [60.0, 60.0, 60.0]}}, "does not fit the bed of 60 x 60 x 60 mm"),
        ({"base": {"scan": "base.stl", "unit": "mm", "check_lengths": [_BESIDE]}}, "lies 4 mm away from the base scan"),
        (
            {
                "load": {"body_mass_kg": 8.0},
                "target": {"goal": "even", "sinkage_limit_mm": 0.01},
            },
            "more than the limit of 0.01 mm",
        ),
    ],
    ids=["bed", "length", "target"],
)
def test_what_must_be_acted_on_is_told_before_the_print_in_summary_and_evidence(tmp_path, tables, said):
    flat = flat_tables(tmp_path, (80.0, 60.0, 12.0), (0.0, 0.0, 0.0), **tables)
    result = drain(run_job(job_from_tables(flat), tmp_path))
    shown = " ".join(" ".join(result.summary).split())
    told = [note for note in result.evidence["before_printing"] if said in note]
    assert len(told) == 1
    assert f"Before you print: {sentences(told[0])[0]}" in shown
    assert shown.count(said) == 1
