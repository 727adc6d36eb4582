"""A soft zone that the filament and nozzle make firmer than the firm one beside it is told before printing."""

from __future__ import annotations

import pytest
from tests.support.flat_pads import flat_tables, rectangle

from padwright.core.base.progress import drain
from padwright.core.job.read import job_from_tables
from padwright.core.run.memory import StageMemory
from padwright.core.run.stages import STAGES


@pytest.mark.parametrize(("card", "nozzle", "is_told"), [("tpu_95a", 0.8, True), ("tpu_60a", 0.4, False)])
def test_a_relief_firmer_than_what_is_around_it_is_told(tmp_path, card, nozzle, is_told):
    """A narrow relief at a rim that is not rounded: its contours bear with it, and of them it has many."""
    size, at = (90.0, 60.0, 14.0), (0.0, 0.0, 0.0)
    zones = [
        {"name": "relief", "level": 1, **rectangle((41.0, 0.0, 0.0), 10.0, 30.0)},
        {"name": "rest", "level": 2, "source": "rest"},
    ]
    tables = flat_tables(
        tmp_path, size, at, zones=zones, material={"card": card}, printer={"nozzle_mm": nozzle},
        pad={"envelope": "envelope.stl", "rim_radius_mm": 0.0},
    )  # fmt: skip
    part = drain(StageMemory().reach(job_from_tables(tables), tmp_path, STAGES[-1].name))
    relief, rest = (part.firmness.chosen[number].reached_kpa for number in (0, 1))
    told = [note for note in part.firmness.notes if note.startswith('"relief" (level 1) comes out firmer than "rest"')]
    assert (relief > 1.1 * rest) == bool(told) == is_told
    if told:
        assert f"{relief:.0f} against {rest:.0f} kPa" in told[0]
