"""What people type by hand that is no TOML: our words, the line, and the line as it should be."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from padwright.core.base.errors import InputError
from padwright.core.job.read import parse_job
from padwright.core.job.toml_lines import parse_toml


def told(line: str) -> str:
    with pytest.raises(InputError) as caught:
        parse_toml(f"# a job\n[base]\n{line}\nlast = 1\n".encode(), "job.toml")
    return str(caught.value)


@pytest.mark.parametrize(
    ("line", "words", "mended"),
    [
        ("name = “Seat”", "straight quotes", {"name": "Seat"}),
        ("name = „Seat“  # mine", "straight quotes", {"name": "Seat"}),
        ("clay_mm = 30,5", "a point, not a comma", {"clay_mm": 30.5}),
        ("clay_mm = 30,5 mm", "unit", {"clay_mm": 30.5}),
        ("clay_mm = 3 cm", "unit", {"clay_mm": 30}),
        ("clay_mm = 12 in", "unit", {"clay_mm": 304.8}),
        ('clay_mm = 12"', "unit", {"clay_mm": 304.8}),
        ("body_mass_kg = 72 kg", "unit", {"body_mass_kg": 72}),
        (r'scan = "C:\Users\me\base.ply"', "written with /", {"scan": "C:/Users/me/base.ply"}),
        (r"scan = “scans\base.ply”", "straight quotes; a path", {"scan": "scans/base.ply"}),
        (r'scan = "scans\\"', "", {}),
        ("scan = base.ply", "text stands in quotes", {"scan": "base.ply"}),
        ('name = "Seat', "closing quote", {"name": "Seat"}),
        ("unit : mm", "= between", {"unit": "mm"}),
        ("gap_mm = .4", "digits on both sides", {"gap_mm": 0.4}),
        ("gap_mm = 4.", "digits on both sides", {"gap_mm": 4.0}),
        ("gap_mm = ,4", "a point, not a comma", {"gap_mm": 0.4}),
        ("force_n = 1,500.5", "between thousands", {"force_n": 1500.5}),
        ("force_n = 1.500,5", "between thousands", {"force_n": 1500.5}),
        ("force_n = 12 500", "between thousands", {"force_n": 12500}),
        ("bed_mm = 220 x 220 x 250", "a list stands in [ ]", {"bed_mm": [220, 220, 250]}),
        ("bed_mm = 220,5; 220; 250", "a list stands in [ ]", {"bed_mm": [220.5, 220, 250]}),
        ("bed_mm = [220 220 250]  # mine", "a list stands in [ ]", {"bed_mm": [220, 220, 250]}),
        ("share_pct = 5-40", "a list stands in [ ]", {"share_pct": [5, 40]}),
        ("share = 60%", "unit", {"share": 0.6}),
        ("share_pct = 60 %", "unit", {"share_pct": 60}),
        ("force_n = 51 kg", "unit", {"force_n": 500.139}),  # 9.80665 N a kg (SI brochure)
        ("gap_mm 0.4", "= between", {"gap_mm": 0.4}),
        ("gap_mm == 0.4", "= between", {"gap_mm": 0.4}),
        ("gap mm = 0.4", "one word", {"gap_mm": 0.4}),
        ("gap_mm = 0.4 // mine", "remark begins with #", {"gap_mm": 0.4}),
        ("; mine", "remark begins with #", {}),
        ("gap_mm = ~0.4", "may be off", {"gap_mm": 0.4}),
        ("length_mm = 224 +/- 0.5", "may be off", {"length_mm": 224}),
        ("[pad", "stands in [ ]", {"pad": {}}),
        ("[[zones]", "stands in [ ]", {"zones": [{}]}),
        ("level = 3,", "without a comma", {"level": 3}),
        ("two = { a = 1, b_mm = 3,5 }", "a point, not a comma", {"two": {"a": 1, "b_mm": 3.5}}),
        ("level = 04", "digits on both sides", {"level": 4}),
        ("stl = True", "small letters", {"stl": True}),
        ("stl = no", "small letters", {"stl": False}),
    ],
)
def test_a_slip_is_told_with_the_line_as_it_should_be(line, words, mended):
    if not mended and not words:  # sound TOML has nothing to mend
        parse_toml(f"{line}\n".encode(), "job.toml")
        return
    text = told(line)
    assert text.startswith("job.toml:3: ") and words in text
    assert tomllib.loads(text.split("Write: ", 1)[1]) == mended


def test_a_number_that_may_be_read_in_two_ways_is_told_with_both():
    assert "Write: force_n = 1.500 (or 1500 without a sign" in told("force_n = 1,500")


def test_a_whole_number_with_a_decimal_comma_leads_to_a_whole_number():
    with pytest.raises(InputError, match=r"Write: schema = 1$"):
        parse_job(b"schema = 1,5\n", "job.toml", None)


@pytest.mark.parametrize(
    ("rows", "line", "mended"),
    [
        ("[0,05, 1, 2],\n[1, 1, 1],", 4, "[0.05, 1, 2],"),
        ("(0, 1, 2),\n[1, 1, 1],", 4, "[0, 1, 2],"),
        ("[0, 1, 2]\n[1, 1, 1],", 4, "[0, 1, 2],"),
        ("[0, 1, 2],  # one\n\n[1 1 1],", 6, "[1, 1, 1],"),
    ],
)
def test_a_row_of_a_longer_list_is_told_as_it_should_be(rows, line, mended):
    text = told(f"points = [\n{rows}\n]")
    assert text.startswith(f"job.toml:{line}: ") and text.endswith(f"Write: {mended}")


def test_one_of_several_tables_in_single_brackets_is_told_where_it_stands():
    for text, line in (("[[zones]]\na = 1\n[zones]\na = 2\n", 3), ("[zones]\na = 1\n[[zones]]\na = 2\n", 1)):
        with pytest.raises(InputError, match=rf"job.toml:{line}: .*Write: \[\[zones\]\]$"):
            parse_toml(text.encode(), "job.toml")


def test_a_list_that_is_not_closed_is_told_where_it_begins():
    assert "begins on line 3 is not closed: its ] is missing" in told("from = [1.0, 2.0, 3.0")


def test_what_stands_twice_is_told_by_name():
    assert ":4: the key last stands twice" in told("last = 2")
    assert "the table [base] stands twice" in told("[base]\na = 1")


def test_what_no_slip_explains_keeps_line_and_column():
    assert re.search(r"job.toml:3, column \d+: this is not valid TOML", told("= = ="))


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (r'scan = "scans\base.ply"', r'a path is written with /.* Write: "scans/base\.ply"'),
        ('[load]\nbody_mass_kg = "74 kg"', r'got "74 kg", a text; write the number alone, without quotes or unit: 74'),
        ('[impression]\nclay_thickness_mm = "2.7 cm"', "without quotes or unit: 27"),
        ('[load]\nshare = "60 %"', r"without quotes or unit: 0\.6"),
        ('[part]\nnumber = "Seat 1"', 'Write: number = "Seat-1"'),
        ('[body]\npress_direction = "-z"', r"Write: press_direction = \[0, 0, -1\]"),
        ('[body]\npress_direction = "down"', 'write: press_direction = "auto"'),
        ('unit = "meters"', 'Did you mean "m"'),
        ('[material]\ncard = "TPU 85A"', 'Did you mean "tpu_85a"'),
        ("[load]\npoint = [0,1, 0,2, 0,3]", "a decimal point is a point, not a comma. Write: point"),
        ("[printer]\nbed_mm = [220,5, 220, 250]", r"got a list of 4. Write: bed_mm = \[220.5, 220, 250\]"),
        (
            "[pad]\nfootprint = [\n[0, 1, 2],\n[1, 0,5, 1],\n[2, 2, 2]\n]",
            r"job.toml:6: pad.footprint\[2\]: .*Write: \[1, 0.5, 1\],",
        ),
    ],
)
def test_values_that_are_toml_but_not_meant_so_are_told_with_what_to_write(line, says):
    with pytest.raises(InputError, match=says):
        parse_job(f"schema = 1\n[base]\n{line}\n".encode(), "job.toml", Path("."))
