"""A run's summary keeps to one screen, cuts no name and names all that is typed in."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.support.flat_pads import flat_tables

from padwright.core.base.progress import drain
from padwright.core.job.cards import load_family
from padwright.core.job.documents import job_from_tables
from padwright.core.job.schema import FAMILIES
from padwright.core.run import summary
from padwright.core.run.pipeline import RunResult, run_job
from padwright.core.run.summary import files_line


def _run(tmp_path: Path, family: str, **more: object) -> RunResult:
    part: dict[str, object] = {"name": "Flat pad", "number": "FLAT-1", "family": family}
    if load_family(family).asks_certified_gear:
        part["certified_gear"] = False
    tables = flat_tables(tmp_path, (150.0, 110.0, 20.0), (0.0, 0.0, 0.0), part=part, **more)
    return drain(run_job(job_from_tables(tables), tmp_path))


@pytest.mark.parametrize("family", FAMILIES)
def test_a_summary_is_at_most_thirty_lines_and_tells_every_setting(tmp_path, family):
    result = _run(tmp_path, family)
    lines = [*result.summary, files_line(Path("out"), list(result.files))]
    assert len(lines) <= 30 and max(map(len, lines)) <= 110
    shown = " ".join(" ".join(lines).split())
    firmness, regions = result.part.firmness, result.part.regions
    assert firmness is not None and regions is not None
    for region in regions.regions:
        assert region.name in shown
        settings = firmness.chosen[region.zone].settings
        assert settings.in_words() in shown
        for typed in (settings.bead_width_mm, settings.layer_thickness_mm):
            assert f"{typed:g}" in settings.in_words()
        assert f"closed {settings.body_side_layer_count} + {settings.base_side_layer_count}" in settings.in_words()


def test_in_full_every_note_is_told_and_the_heaviest_come_first(tmp_path):
    result = _run(tmp_path, "insole")
    full = " ".join(" ".join(result.told_in_full).split())
    for note in (*result.part.notes, *result.part.base.notes, *result.part.firmness.notes):
        assert " ".join(note.split()) in full
    short = [line for line in result.summary if line.startswith("Note: ")]
    assert short == [line for line in result.told_in_full if line.startswith("Note: ")][: len(short)]


@pytest.mark.parametrize("room", [-3, 0, 2, 4])
def test_what_changed_the_part_is_told_however_short_the_room(monkeypatch, room):
    changed = [f"Change {index} was made. {'Why it was made. ' * 20}" for index in range(3)]
    weighed = [*((note, "on what changed") for note in changed), ("Known.", "background")]
    monkeypatch.setattr(summary, "_weighed", lambda part: weighed)
    lines = summary._notes(None, room)
    assert lines[:3] == [f"Note: Change {index} was made." for index in range(3)]
    assert "Note: Known." not in lines and len(lines) == 4
    assert "1 background" in lines[-1]
