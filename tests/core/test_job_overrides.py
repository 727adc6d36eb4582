"""Keys set on the command line: the same checks as in the file, told as what they are, and kept in the evidence."""

from __future__ import annotations

import re

import pytest

from padwright.core.base.errors import InputError
from padwright.core.job.overrides import read_setting
from padwright.core.job.read import key_notes, parse_job

JOB = b"""\
schema = 1
[part]
name = "Seat pad"
number = "PAD-1"
family = "seat_pad"
[base]
scan = "base.ply"
[[base.check_lengths]]
name = "front"
measured_mm = 100
from = [0, 0, 0]
to = [100, 0, 0]
[impression]
scan = "impression.ply"
[pad]
fit_gap_mm = 0.3
"""


def job_with(*texts: str):
    return parse_job(JOB, "job.toml", None, [read_setting(text) for text in texts])


def test_values_are_those_of_toml_and_bare_words_are_text():
    job = job_with("pad.fit_gap_mm=0.5", "material.card=tpu_95a", "part.mirror=true", "printer.bed_mm=[200, 210, 220]")
    assert (job.pad.fit_gap_mm, job.material.card, job.part.mirror) == (0.5, "tpu_95a", True)
    assert job.printer.bed_mm == (200, 210, 220)
    assert parse_job(JOB, "job.toml", None).pad.fit_gap_mm == 0.3


@pytest.mark.parametrize("text", ["base.check_lengths[1].measured_mm=101", "base.check_lengths.1.measured_mm=101"])
def test_lists_count_from_1_with_brackets_or_dots(text):
    assert job_with(text).base.check_lengths[0].measured_mm == 101


def test_a_number_past_the_end_adds_one_and_no_more():
    added = [f"base.check_lengths[2].{each}" for each in ("measured_mm=50", "from=[0, 0, 0]", "to=[0, 50, 0]")]
    assert [each.measured_mm for each in job_with(*added).base.check_lengths] == [100, 50]
    with pytest.raises(InputError, match=r"base.check_lengths has 1 in this job; 3 leaves a gap"):
        job_with("base.check_lengths[3].measured_mm=50")


def test_zones_of_the_family_can_be_set_one_by_one():
    before = parse_job(JOB, "job.toml", None).zones
    after = job_with("zones[1].level=3").zones
    assert before[0].level != 3.0 and after[0].level == 3.0 and after[1:] == before[1:]


def test_an_old_name_is_taken():
    assert job_with("body.load_centre_spacing_mm=118").body.load_center_spacing_mm == 118


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("pad.fit_gap_mm=50", "--set: pad.fit_gap_mm: expected a number from 0 to 20; got 50."),
        ("pad.rim_radius=1", "--set: pad.rim_radius: there is no such key; did you mean pad.rim_radius_mm?"),
        ("zones[1].level=9", "--set: zones[1].level: expected a number from 1 to 4; got 9."),
        ("base.check_lengths.measured_mm=1", "base.check_lengths is no table that has keys. Say which by its number"),
        ("pad.fit_gap_mm[1]=1", "pad.fit_gap_mm is no list"),
        ("pad.fit_gap_mm", "has no value"),
        ("=1", "names no key"),
        ("zones[0].level=1", "lists count from 1"),
    ],
)
def test_what_is_wrong_is_told_as_set(text, says):
    with pytest.raises(InputError) as raised:
        job_with(text)
    assert says in str(raised.value) and "job.toml" not in str(raised.value)


def test_it_is_said_what_was_set():
    job = job_with("pad.fit_gap_mm=0.5", "material.card=tpu_95a")
    assert job.set_outside == ("pad.fit_gap_mm = 0.5", 'material.card = "tpu_95a"')
    assert "pad.fit_gap_mm = 0.5" in key_notes(job)[0]


@pytest.mark.parametrize(
    ("text", "then"),
    [
        ("zones.{0}.level=3", r'"{0}" is (zones\[1\])\.'),
        ("zones.4.level=3", r'zones has 3 in this job \((zones\[1\]) "{0}", .*a new one lacks name, source\.'),
        ("zones.nobody.level=3", r'Say which by its number, from 1: (zones\[1\]) "{0}", zones\[2\]'),
    ],
)
def test_one_of_a_list_is_told_by_its_name(text, then):
    zones = '[[zones]]\nname = "rear left"\nlevel = 2\nsource = "load_centers"\n'
    zones += '[[zones]]\nname = "mid"\nlevel = 1\nsource = "load_centers"\n'
    zones += '[[zones]]\nname = "rest"\nlevel = 1\nsource = "rest"\n'
    job = JOB + zones.encode()
    with pytest.raises(InputError) as raised:
        parse_job(job, "job.toml", None, [read_setting(text.format("rear left"))])
    found = re.search(then.format("rear left"), str(raised.value))
    assert found, str(raised.value)
    assert parse_job(job, "job.toml", None, [read_setting(f"{found[1]}.level=3")]).zones[0].level == 3


def test_two_keys_in_one_setting_are_told_as_two():
    with pytest.raises(InputError) as raised:
        job_with("pad.fit_gap_mm=0.5, pad.least_thickness_mm=5")
    told = re.findall(r"--set (\S+=\S+)", raised.value.hint)
    job = job_with(*told)
    assert (job.pad.fit_gap_mm, job.pad.least_thickness_mm) == (0.5, 5)
    assert job_with("part.note=soft, level=1").part.note == "soft, level=1"


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        ("printer.bed_mm=300x310x320", "bed_mm", (300, 310, 320)),
        ("part.mirror=yes", "mirror", True),
        ("material=tpu_90a", "card", "tpu_90a"),
        ("target=relieve", "goal", "relieve"),
    ],
)
def test_a_value_written_another_way_is_told_as_it_is_written(text, key, value):
    with pytest.raises(InputError) as raised:
        job_with(text)
    line = re.search(rf"(?:Write: |Did you mean )(?:\w+\.)?({key} = .*?)\??$", str(raised.value))[1]
    table = text.partition("=")[0].partition(".")[0]
    assert getattr(getattr(job_with(f"{table}.{line}"), table), key) == value


def test_a_table_given_a_value_that_no_key_takes_is_told_its_keys():
    with pytest.raises(InputError, match=r"--set: pad: expected a table .* Its keys are fit_gap_mm, "):
        job_with("pad=thin")
