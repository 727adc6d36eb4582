"""What a family's card says for people's health reaches the person: all of it, once each, in a line each."""

from __future__ import annotations

import json

import pytest
from tests.support.flat_pads import flat_tables

from padwright.core.base.progress import drain
from padwright.core.job.cards import load_family
from padwright.core.job.read import job_from_tables
from padwright.core.job.schema import FAMILIES
from padwright.core.run.pipeline import run_job
from padwright.core.run.summary_room import WIDTH


@pytest.mark.parametrize("selected", [None, ["rest"]], ids=["whole", "selection"])
@pytest.mark.parametrize("family", FAMILIES)
def test_a_run_shows_all_cautions_once_each_in_a_line(tmp_path, family, selected):
    part = {"name": "Flat pad", "number": "FLAT-1", "family": family}
    if load_family(family).asks_certified_gear:
        part["certified_gear"] = False
    tables = flat_tables(tmp_path, (150.0, 110.0, 20.0), (0.0, 0.0, 0.0), part=part)
    result = drain(run_job(job_from_tables(tables), tmp_path, selected))
    cautions = load_family(family).cautions
    assert {each.code for each in cautions} >= {"SKIN_CONTACT", "HYGIENE", "NUMBNESS", "LICENSED_HELP", "LOAD_PATH"}
    lines = [line for line in result.summary if line.startswith("Caution: ")]
    assert lines == [f"Caution: {each.brief}" for each in cautions]
    assert max(map(len, lines)) <= WIDTH
    told = result.evidence["cautions"]
    assert [(each["brief"], each["text"], each["source"]) for each in told] == [
        (each.brief, each.text, each.source) for each in cautions
    ]
    sidecar = json.loads(next(data for name, data in result.files.items() if name.endswith(".settings.json")))
    assert [each["text"] for each in sidecar["cautions"]] == [each.text for each in cautions]


def test_the_insole_says_that_it_changes_how_one_walks():
    brief = {each.code: each.brief for each in load_family("insole").cautions}
    assert "how you walk" in brief["GAIT_CHANGE"] and "open skin" in brief["HYGIENE"]


@pytest.mark.parametrize(("voids", "said"), [("open", "rinse"), ("sealed", "cannot be rinsed")])
@pytest.mark.parametrize("family", FAMILIES)
def test_folded_walls_say_how_their_channels_are_kept_clean(family, voids, said):
    card = load_family(family)
    folded = card.with_fill("folds", voids)
    pairs = list(zip(card.cautions, folded.cautions, strict=True))
    (plain, found), *more = [pair for pair in pairs if pair[0] != pair[1]]
    assert not more and found.code == "HYGIENE"
    assert said in found.text and found.text.startswith(plain.text)
    assert "open skin" in found.brief and len(f"Caution: {found.brief}") <= WIDTH
    assert card.with_fill("settings") == card
