"""Jobs with very many points typed into them: read in seconds, or refused before they are read."""

from __future__ import annotations

import time

import pytest

from padwright.core.base.errors import InputError
from padwright.core.job.read import parse_job
from padwright.core.job.renames import JOB, renewed
from padwright.core.job.toml_lines import parse_toml

HEAD = """\
schema = 1
[part]
name = "Pad"
number = "P-1"
family = "seat_pad"
[base]
scan = "b.ply"
[impression]
scan = "i.ply"
[body]
press_direction = [0, 0, -1]
[pad]
"""


def job(points: int, tail: str = "") -> bytes:
    rows = ", ".join(f"[{index % 1000}, {index // 1000}, 1]" for index in range(points))
    return f"{HEAD}fit_gap_mm = 0.5\nfootprint = [{rows}]\n{tail}".encode()


def test_a_million_corners_are_refused_at_once_with_place_and_number():
    data = job(1_000_000, '[[zones]]\nname = "rest"\nlevel = 2\nsource = "rest"\n')
    began = time.process_time()
    with pytest.raises(InputError) as caught:
        parse_job(data, "job.toml", None)
    assert time.process_time() - began < 1.0  # 0.1 s; to read them takes half a minute
    assert caught.value.message.startswith(
        "job.toml:14: footprint: this list holds about 1,000,000 of the job's 1,000,"
    )
    assert "300,000 are the most" in caught.value.message and "Leave out corners" in caught.value.hint


def test_rows_of_numbers_are_not_looked_up_under_old_names():
    tables, lines = parse_toml(job(50_000), "job.toml")
    began = time.process_time()
    now = renewed(tables, lines, JOB)
    assert time.process_time() - began < 0.5  # 0.1 s; row by row 1.5 s
    assert now.tables["pad"]["footprint"] == tables["pad"]["footprint"] and now.lines == lines


def test_many_rows_without_a_list_under_a_key_are_told_by_the_file():
    with pytest.raises(InputError, match=r"job.toml:1: its lists hold 300,001 rows"):
        parse_job(b"[" * 300_001, "job.toml", None)
