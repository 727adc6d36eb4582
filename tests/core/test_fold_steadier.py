"""A pad that would slide off its walls gets others where the job leaves them open; else it is told what holds it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from tests.support.cases import make_case
from tests.support.remembered import memory_of
from tests.support.writers import write_job

from padwright.core.base.errors import SolveError
from padwright.core.base.notes import Weight, weight_of
from padwright.core.base.progress import drain
from padwright.core.job.read import read_job
from padwright.core.job.schema import Job
from padwright.core.run.memory import StageMemory
from padwright.core.stages.folds.layout import FoldLayout
from padwright.core.stages.folds.sway import LEAST_MARGIN
from padwright.core.stages.load.evidence import firmness_evidence
from padwright.core.stages.load.firmness import Firmness

pytestmark = pytest.mark.slow

EXTRA = """
[fill]
kind = "folds"
[load]
body_mass_kg = 72
share = 0.6
"""
USUAL_DEG = 15.0
HEAVY_KG, TOO_HEAVY_KG, NARROW = 86.0, 130.0, 2  # of a job of 72 kg, which stands at 2.4 times its load


@pytest.fixture(scope="module")
def ground(tmp_path_factory) -> tuple[StageMemory, Job, Path]:
    folder = tmp_path_factory.mktemp("steady")
    return memory_of("seat"), read_job(write_job(make_case("seat", triangles=20_000), folder, extra=EXTRA)), folder


def made(ground: tuple[StageMemory, Job, Path], kg: float, **fill: object) -> tuple[Firmness, FoldLayout]:
    memory, job, folder = ground
    heavier = replace(job, load=replace(job.load, body_mass_kg=kg), fill=replace(job.fill, **fill))
    part = drain(memory.reach(heavier, folder, "load"))
    return part.of(Firmness), part.of(FoldLayout)


def swung_notes(firmness: Firmness) -> list[str]:
    return [note for note in firmness.notes if "slide off them" in note]


def test_a_light_body_leaves_the_walls_as_they_were_chosen(ground):
    firmness, laid = made(ground, 60.0)
    assert firmness.folded is not None and firmness.folded.layout is laid
    assert not swung_notes(firmness)


def test_under_a_heavier_body_rows_swing_more_by_themselves(ground):
    firmness, laid = made(ground, HEAVY_KG)
    walls = firmness.folded
    assert walls is not None and laid.wishes.wave_deg == USUAL_DEG < walls.layout.wishes.wave_deg
    assert walls.stands[0].sway.margin.value >= LEAST_MARGIN
    (note,) = swung_notes(firmness)
    assert weight_of(note) is Weight.LOOK
    assert f"swing by {walls.layout.wishes.wave_deg:.0f} degrees" in note
    assert firmness_evidence(firmness, "seat_pad")["walls"]["wave_deg"] == walls.layout.wishes.wave_deg


def test_what_a_refusal_names_does_hold(ground):
    with pytest.raises(SolveError) as caught:
        made(ground, TOO_HEAVY_KG, wall_beads=NARROW)
    hint = r"with walls of (\d) beads it bears ([\d.]+) times the load\. Set fill\.wall_beads = (\d)"
    named = re.search(hint, str(caught.value))
    assert named is not None and named[1] == named[3] and float(named[2]) >= LEAST_MARGIN
    firmness, _ = made(ground, TOO_HEAVY_KG, wall_beads=int(named[3]))
    assert firmness.folded is not None
    # 1000 points for all, and strains of the narrower walls.
    assert firmness.folded.stands[0].sway.margin.value == pytest.approx(float(named[2]), rel=0.1)
