"""Keys set in the text of a job: what is set reads back, and nothing else moves."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from padwright.core.base.errors import InputError
from padwright.core.job.edit_text import with_keys

JOB = """# who it is for: M.
schema = 1   # the list of keys

[part]
name = "Pad # 1"       # not a comment inside
number = "PAD-1"
revision = "1" # first print

[[zones]]
name = "sit bones"
level = 4              # firm

# the rest
[[zones]]
name = "rest"
level = 2

[printer]
bed_mm = [
  220, 220,   # width, depth
  250,
]
limits = { low = 1 }
"""


def lines_changed(before: str, after: str) -> list[str]:
    old = before.splitlines()
    return [line for line in after.splitlines() if line not in old]


def test_a_value_is_replaced_in_its_place_and_its_comment_stays():
    made = with_keys(JOB, {("part", "revision"): "2", ("zones", 0, "level"): 3.5})
    assert lines_changed(JOB, made) == ['revision = "2" # first print', "level = 3.5              # firm"]


def test_a_new_key_comes_behind_the_last_of_its_table():
    made = with_keys(JOB, {("zones", 0, "stiffness_times"): 1.2, ("part", "previous"): "out"})
    assert 'revision = "1" # first print\nprevious = "out"\n\n[[zones]]' in made
    assert "level = 4              # firm\nstiffness_times = 1.2\n\n# the rest" in made
    assert tomllib.loads(made)["zones"][0]["stiffness_times"] == 1.2


def test_a_list_over_several_lines_is_replaced_whole():
    made = with_keys(JOB, {("printer", "bed_mm"): [1.0, 2.0, 3.0]})
    assert "bed_mm = [1.0, 2.0, 3.0]\nlimits" in made


def test_an_inline_table_takes_a_key():
    made = with_keys(JOB, {("printer", "limits", "high"): 2})
    assert "limits = { low = 1, high = 2 }" in made


def test_a_table_that_is_not_there_comes_at_the_end():
    assert with_keys(JOB, {("output", "report"): False}).endswith("}\n\n[output]\nreport = false\n")


def test_a_plain_key_comes_before_all_tables():
    assert tomllib.loads(with_keys("[part]\nname='x'\n", {("seed",): 3})) == {"seed": 3, "part": {"name": "x"}}


def test_line_ends_of_windows_stay():
    made = with_keys(JOB.replace("\n", "\r\n"), {("part", "revision"): "2"})
    assert made == with_keys(JOB, {("part", "revision"): "2"}).replace("\n", "\r\n")


def test_an_element_that_is_not_there_is_refused():
    with pytest.raises(InputError, match=r"zones\[3\] is not in this file"):
        with_keys(JOB, {("zones", 2, "level"): 3})


def test_a_path_through_a_value_is_refused():
    with pytest.raises(InputError, match=r"part\.name\.first"):
        with_keys(JOB, {("part", "name", "first"): "x"})


@given(
    st.lists(
        st.tuples(
            st.sampled_from(
                [
                    ("part", "note"),
                    ("zones", 1, "level"),
                    ("printer", "bed_mm"),
                    ("load", "share"),
                    ("seed",),
                    ("a b", "c"),
                ]
            ),
            st.one_of(st.integers(-5, 5), st.text(max_size=8), st.lists(st.floats(-9, 9), max_size=3), st.booleans()),
        ),
        max_size=5,
    )
)
def test_all_that_is_set_reads_back_and_all_else_is_as_it_was(settings):
    values = dict(settings)
    made = with_keys(JOB, values)
    read, was = tomllib.loads(made), tomllib.loads(JOB)
    for path, value in values.items():
        place, old = read, was
        for part in path[:-1]:
            place = place[part]
            old = old.setdefault(part, {}) if isinstance(old, dict) else old[part]
        assert place[path[-1]] == value
        old[path[-1]] = value
    assert read == was
    comments = [line for line in JOB.splitlines() if line.startswith("#")]
    assert [line for line in made.splitlines() if line.startswith("#")] == comments
