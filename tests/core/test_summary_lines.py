"""A run's summary keeps to one screen, cuts no name and names all that is typed in."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from tests.support.flat_pads import flat_tables, rectangle

from padwright.core.base.notes import Weight, on_change, sentences, to_act_on, to_look_at, weight_of
from padwright.core.base.progress import drain
from padwright.core.job.cards import load_family
from padwright.core.job.read import job_from_tables
from padwright.core.job.schema import FAMILIES
from padwright.core.run.packing import Packed, pack_files
from padwright.core.run.parts import MadePart
from padwright.core.run.pipeline import RunResult, run_job
from padwright.core.run.summary import files_lines, run_summary
from padwright.core.run.summary_notes import notes_of
from padwright.core.run.summary_room import Paragraph, fitted
from padwright.core.stages.load.tuning import ServedLoad, Tuning
from padwright.core.stages.load.tuning_pads import AS_IS, TriedPad
from padwright.core.stages.load.tuning_press import Borne
from padwright.core.stages.scans.captured import CapturedScans

_OUT = Path("a/folder/of/some/depth/for/the/files")


@pytest.fixture(scope="module")
def run_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], RunResult]:
    """Return what makes a flat pad of a family, each once."""
    return cache(lambda family: _run(tmp_path_factory.mktemp(family), family))


def _run(folder: Path, family: str) -> RunResult:
    part: dict[str, object] = {"name": "Flat pad", "number": "FLAT-1", "family": family}
    if load_family(family).asks_certified_gear:
        part["certified_gear"] = False
    tables = flat_tables(folder, (150.0, 110.0, 20.0), (0.0, 0.0, 0.0), part=part, output={})
    return drain(run_job(job_from_tables(tables), folder))


def _joined(lines: Iterable[str]) -> str:
    return " ".join(" ".join(lines).split())


def _assert_typed_in(part: MadePart, shown: str) -> None:
    """Hold that all that is typed in of every region, and its name, stands in the text."""
    firmness, regions = part.firmness, part.regions
    assert firmness is not None and regions is not None
    pieces = [piece for each in firmness.chosen.values() for piece in each.settings.pieces()]
    for text in [*pieces, *(region.name for region in regions.regions)]:
        assert text in shown


@pytest.mark.parametrize("family", FAMILIES)
def test_a_summary_is_at_most_thirty_lines_and_tells_every_setting(run_of, family):
    result = run_of(family)
    lines = [*result.summary, *files_lines(_OUT, list(result.files))]
    assert len(lines) <= 30 and max(map(len, lines)) <= 110
    _assert_typed_in(result.part, _joined(lines))
    firmness = result.part.firmness
    assert firmness is not None
    for settings in (each.settings for each in firmness.chosen.values()):
        for typed in (settings.bead_width_mm, settings.layer_thickness_mm):
            assert f"{typed:g}" in settings.in_words()
        assert f"closed {settings.body_side_layer_count} + {settings.base_side_layer_count}" in settings.in_words()


def _long(word: str, length: int = 80) -> str:
    """Return a name as long as a zone's may be."""
    return f"{word} of the part that is called by a name as long as the job takes for a zone of it"[:length].strip()


def _crowded(tmp_path: Path, zones: int, length: int) -> tuple[MadePart, Packed, list[str]]:
    """Return a pad in strips, each with a long name and settings of its own, tuned, under six loads, much to note.

    The run is a real one under one load; tuning, five loads more and the notes are made of its results.
    """
    width = 72.0 / zones
    tables: dict[str, Any] = {
        "part": {"name": _long("The seat", length), "number": "SEAT-OF-A-LONG-NUMBER-0001", "family": "seat_pad"},
        "zones": [
            {
                "name": _long(f"Strip {'abcdefgh'[n]}", length),
                "level": 1 + n % 4,
                **rectangle(((n + 0.5) * width - 36.0, 0.0, 0.0), width, 40.0),
            }
            for n in range(zones)
        ],
        "blend": {"steps": 0},
        "load": {"force_n": 30.0},
        "output": {"report": False},
    }
    flat = flat_tables(tmp_path, (72.0, 30.0, 12.0), (0.0, 0.0, 0.0), **tables)
    part = drain(run_job(job_from_tables(flat), tmp_path)).part
    firmness = part.firmness
    assert firmness is not None and len(part.regions.regions) == zones
    chosen = {
        number: replace(each, settings=replace(each.settings, solid_share_pct=10.0 + number, contour_count=number))
        for number, each in firmness.chosen.items()
    }
    ((case, result),) = firmness.loads
    loads = [(case, result)] + [(replace(case, posture=_long(f"load {n}", 60)), result) for n in range(5)]
    names = [region.name for region in part.regions.regions]
    pad = TriedPad(AS_IS, (), (Borne.of(result),), 100.0, 10.0, is_within=False, cost=1.0)
    tuning = Tuning(
        (), (ServedLoad(case, None, result),), False,
        unmet=(to_act_on(f"{names[0]} carries 40 % of the load; asked was 20 %. What would help: less. And more."),),
        unsure=("The limit of 3 mm holds for the material expected.",),
        binding=(f"greatest modulus ratio 4 between {names[0]} and {names[1]}",),
        traded=tuple(f"{name}: 100 to 200 kPa" for name in names),
        tried=(pad,),
        taken=pad,
        asked=1,
        notes=(),
    )  # fmt: skip
    caution = replace(part.family.cautions[0], code="SEVENTH", brief=f"{'Mind this as well. ' * 5}")
    part = part.having("load", replace(firmness, chosen=chosen, loads=tuple(loads), tuning=tuning), ())
    family = replace(part.family, cautions=(*part.family.cautions, caution))
    part = part.having("scans", replace(part.of(CapturedScans), family=family), ())
    part = _noted(part, acting=1)
    files, packed = drain(pack_files(part))
    assert len({settings.in_words() for settings in packed.settings.values()}) == zones
    return part, packed, [*files, f"{part.job.part.number}.run.json"]


def _noted(part: MadePart, acting: int) -> MadePart:
    """Return a part with many notes more, some of which must be acted on."""
    told = [to_act_on(f"Length {n} is wrong by 3 mm. Measure it again. {'So it is. ' * 20}") for n in range(acting)]
    told += [on_change(f"Place {n} was thickened. {'So it is. ' * 20}") for n in range(6)]
    told += [to_look_at(f"Look at place {n}. {'So it is. ' * 9}") for n in range(9)]
    return replace(part, said=(*part.said, *told))


@pytest.mark.parametrize(("zones", "length"), [(6, 80), (8, 80), (6, 40)])
def test_even_a_crowded_summary_keeps_to_its_lines(tmp_path, zones, length):
    """As long names as a job takes, settings all different, tuning, six loads, seven cautions, notes by the dozen."""
    part, packed, files = _crowded(tmp_path, zones, length)
    assert len(part.family.cautions) == 7 and len(notes_of(part)) > 20
    lines = [*run_summary(part, packed), *files_lines(_OUT, files)]
    begins = [number for number, line in enumerate(lines) if line.startswith("Before you print")]
    rest = next(number for number, line in enumerate(lines) if line.startswith("(With -v"))
    assert len(begins) == 4  # what must be acted on is told past the limit too, where there is more than usual of it
    assert len(lines) <= 30 + max(0, zones - 6) + (rest - begins[-1])
    assert max(map(len, lines)) <= 110
    shown = _joined(lines)
    _assert_typed_in(part, shown)
    assert part.job.part.name in shown
    for acting in (note for note in notes_of(part) if weight_of(note) is Weight.ACT):
        assert f"Before you print: {sentences(acting)[0]}" in shown
    assert "carries 40 % of the load; asked was 20 %." in shown
    assert "(With -v: " in shown and " to look at, " in shown
    assert all(f"Caution: {caution.brief}".strip() in shown for caution in part.family.cautions)
    full = _joined(run_summary(part, packed, in_full=True))
    assert all(" ".join(note.split()) in full for note in notes_of(part))
    for case, _ in part.firmness.loads[1:]:
        assert f'"{case.posture}", 30 N: gives ' in full


def test_in_full_every_note_is_told_and_the_heaviest_come_first(run_of):
    result = run_of("insole")
    full = _joined(result.told_in_full)
    for note in (*result.part.notes, *result.part.base.notes, *result.part.firmness.notes):
        assert " ".join(note.split()) in full
    short = [line for line in result.summary if line.startswith("Note: ")]
    assert short == [line for line in result.told_in_full if line.startswith("Note: ")][: len(short)]


def test_what_must_be_acted_on_is_told_however_many_there_are_and_first(run_of):
    result = run_of("insole")
    part = _noted(result.part, acting=40)
    assert sum(weight_of(note) is Weight.ACT for note in notes_of(part)) >= 40
    _, packed = drain(pack_files(part))
    lines = list(run_summary(part, packed))
    told = [line for line in lines if line.startswith(("Before you print: ", "Note: "))]
    for number in range(40):
        assert f"Before you print: Length {number} is wrong by 3 mm. (-v: more)" in told
    assert not any(line.startswith("Note: ") for line in told)  # the room is gone
    assert any(line.startswith("(With -v: ") and " on changes, " in line for line in lines)


def test_what_comes_first_grows_first_and_never_past_the_room():
    paragraphs = [Paragraph((("a",), ("a", "b"), ("a", "b", "c")), order=order) for order in (3, 1, 2)]
    taken = {room: fitted(paragraphs, room) for room in range(10)}
    assert taken[2] == [0, 0, 0]  # no shorter than the shortest
    assert taken[4] == [0, 1, 0] and taken[6] == [0, 2, 1] and taken[9] == [2, 2, 2]
    for room, versions in itertools.islice(taken.items(), 3, None):
        assert sum(version + 1 for version in versions) <= room
    assert fitted(paragraphs, None) == [2, 2, 2]
