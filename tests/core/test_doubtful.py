"""What a job may say and hardly means is asked about, with what to write; obeyed to the letter it is asked no more."""

from __future__ import annotations

import re
import tomllib

import pytest

from padwright.core.base.errors import InputError
from padwright.core.base.notes import Weight, weight_of
from padwright.core.job.read import job_from_tables, key_notes

JOB = """\
schema = 1
[part]
name = "Seat pad"
number = "PAD-1"
family = "seat_pad"
[base]
scan = "base.ply"
[impression]
scan = "impression.ply"
[body]
[pad]
[printer]
[load]
"""


def _job(*lines: str, family: str = "seat_pad"):
    """Return the job with lines put under their tables: "pad.fit_gap_mm = 4"."""
    text = JOB.replace("seat_pad", family)
    for line in lines:
        table, _, rest = line.partition(".")
        text = text.replace(f"[{table}]\n", f"[{table}]\n{rest}\n")
    return job_from_tables(tomllib.loads(text))


def _asked(job) -> list[str]:
    return [note for note in key_notes(job) if weight_of(note) is Weight.ACT]


@pytest.mark.parametrize(
    ("line", "asks"),
    [
        ("pad.fit_gap_mm = 4", "lies 4 mm off its base"),
        ("printer.bed_mm = [22, 22, 25]", "If it is in cm"),
        ("printer.bed_mm = [8.7, 8.7, 9.8]", "If it is in inches"),
        ("load.force_n = 74", "the weight of 7.5 kg; a body of 70 kg loads such a part with some 515 N"),
        ("load.body_mass_kg = 70\nshare = 0.006", "0.6 % of the body's weight"),
        ("impression.pressed_with_n = 55", "the weight of 5.6 kg. If it is in kg"),
    ],
)
def test_a_value_hardly_meant_is_asked_about_until_it_is_written_as_told(line, asks):
    asked = _asked(_job(line))
    assert len(asked) == 1 and asks in asked[0]
    told = re.findall(r"write (\w+\.\w+ = (?:\[[^]]*\]|[\d.]*\d))", asked[0])
    assert told
    for each in told:
        assert _asked(_job(each, *(["load.body_mass_kg = 70"] if "share" in each else []))) == []


@pytest.mark.parametrize(
    "line",
    [
        "pad.fit_gap_mm = 1.2",
        "printer.bed_mm = [100, 100, 100]",
        "load.force_n = 200",
        "load.body_mass_kg = 50",
        "impression.pressed_with_n = 300",
    ],
)
def test_what_may_well_be_meant_is_not_asked_about(line):
    assert _asked(_job(line)) == []


@pytest.mark.parametrize("name", ["Ski helmet pad", "Insole for safety shoes", "Hard hat band"])
def test_a_part_whose_words_name_protective_gear_must_say_that_it_is_not_certified(name):
    with pytest.raises(InputError, match=r"part\.certified_gear: this key is missing") as raised:
        _named(name)
    line = re.search(r"write: (certified_gear = false)$", str(raised.value))[1]
    asked = _asked(_named(name, line))
    assert len(asked) == 1 and "where a standard" in asked[0]
    with pytest.raises(InputError, match="nothing is made here for certified protective gear"):
        _named(name, "certified_gear = true")


def _named(name: str, line: str = ""):
    text = JOB.replace('name = "Seat pad"', f'name = "{name}"\n{line}').replace("seat_pad", "insole")
    return job_from_tables(tomllib.loads(text))


@pytest.mark.parametrize(("nozzle", "filament"), [(1.75, 1.75), (2.85, 2.85), (1.8, 1.75)])
def test_a_nozzle_as_wide_as_the_filament_is_refused(nozzle, filament):
    with pytest.raises(InputError, match=rf"printer\.nozzle_mm: a nozzle is narrower .* got {nozzle:g}"):
        _job(f"printer.nozzle_mm = {nozzle}\nfilament_diameter_mm = {filament}")
    assert _job("printer.nozzle_mm = 1.2").printer.nozzle_mm == 1.2


def test_a_load_case_has_a_share_or_a_force():
    with pytest.raises(InputError, match=r"load\.cases\[1\]\.force_n: give either share or force_n, not both"):
        _job('load.body_mass_kg = 70\n[[load.cases]]\nname = "catch"\nshare = 0.6\nforce_n = 500')


@pytest.mark.parametrize("line", ["load.body_mass_kg = 70", "load.share = 0.3", "load.point = [0, 0, 0]"])
def test_a_weight_on_a_part_gripped_all_around_is_told_to_change_nothing(line):
    key = line.partition(" ")[0]
    assert any(note.startswith(f"{key} changes nothing") for note in key_notes(_job(line, family="grip")))
    seat = _job(line, *([] if "mass" in line else ["load.body_mass_kg = 70"]))
    assert not any("changes nothing" in note for note in key_notes(seat))
    by_weight = _job('load.body_mass_kg = 70\n[[load.cases]]\nname = "hang"\nshare = 0.5', family="grip")
    assert not any("changes nothing" in note for note in key_notes(by_weight))
