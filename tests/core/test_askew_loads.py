"""Loads that push askew: what presses, what friction must hold, what is refused, and all loads side by side."""

from __future__ import annotations

import re
from types import SimpleNamespace

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.job.cards import load_family
from padwright.core.job.load_tables import Case
from padwright.core.job.read import key_notes, parse_job
from padwright.core.stages.load.contact import check_load
from padwright.core.stages.load.job_loads import keyed_cases
from padwright.core.stages.load.load_case import LoadCase
from padwright.core.stages.load.load_words import cases_table, load_rows
from support.columns_alone import columns_alone  # noqa: F401
from support.patches import linear, patch, sheet

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
press_direction = [0, 0, -2]
[load]
body_mass_kg = 70
[[load.cases]]
name = "push-off"
force_n = 400
"""


def job(more: str):
    return parse_job((JOB + more).encode(), "job.toml", None)


def refusal(more: str) -> str:
    with pytest.raises(InputError) as caught:
        job(more)
    return caught.value.message


def part(*cases: Case, to_part=None, press=(0.0, 0.0, -1.0)) -> SimpleNamespace:
    load = SimpleNamespace(
        share=0.0, posture="seated", body_mass_kg=None, force_n=None, point=None, cases=cases, squeeze_n=None
    )
    return SimpleNamespace(
        family=load_family("seat_pad"),
        job=SimpleNamespace(load=load, body=SimpleNamespace(rigid=True)),
        pad=SimpleNamespace(press_direction=None if press is None else np.array(press)),
        scans=SimpleNamespace(to_part=np.eye(4) if to_part is None else to_part),
    )


def one(direction, **more) -> LoadCase:
    ((_, case),) = keyed_cases(part(Case(name="push-off", force_n=400.0, direction=direction), **more))
    return case


@pytest.mark.parametrize("degrees", [0.0, 10.0, 30.0, 44.9])
def test_the_part_along_the_press_direction_presses_and_friction_holds_the_other(degrees):
    angle = np.radians(degrees)
    case = one((3.0 * np.sin(angle), 0.0, -3.0 * np.cos(angle)))
    assert case.force_n == pytest.approx(400.0 * np.cos(angle))
    assert case.sideways_n == pytest.approx(400.0 * np.sin(angle), abs=1e-9)
    assert case.needed_friction == pytest.approx(np.tan(angle), abs=1e-9)


def test_a_direction_is_one_in_the_axes_of_the_base_file():
    turn = np.eye(4)
    turn[:3, :3] = [[0, 0, -1], [0, 1, 0], [1, 0, 0]]  # the file's x is the part's z
    case = one((-1.0, 0.0, -0.5), to_part=turn)
    assert case.needed_friction == pytest.approx(0.5)
    straight = one(None)
    assert straight.force_n == 400.0 and straight.sideways_n == 0.0 and straight.weight == 1.0


def test_a_part_that_turned_out_to_be_pressed_another_way_names_key_and_angle():
    with pytest.raises(InputError, match=r"lies 60 degrees off the press direction; 45 are the most") as caught:
        one((np.sin(np.radians(60.0)), 0.0, -np.cos(np.radians(60.0))))
    assert caught.value.key == ("load", "cases", 0, "direction")


def test_check_refuses_a_direction_with_line_key_and_number():
    line = JOB.count("\n") + 1
    told = refusal("direction = [1.0, 0.0, -0.5]\n")
    assert f"job.toml:{line}: load.cases[1].direction: it lies 63 degrees off the press direction; 45 are" in told
    assert "Turn all three signs around" in refusal("direction = [0.1, 0.0, 0.9]\n")
    assert "direction without length" in refusal("direction = [0, 0, 0]\n")
    assert 'expected a direction [x, y, z]; got "down"' in refusal('direction = "down"\n')
    assert "Write: direction = [0, 0, -1]" in refusal('direction = "-z"\n')
    gripped = JOB.replace("[0, 0, -2]", '"inward"') + "direction = [0, 0, -1]\n"
    with pytest.raises(InputError, match="gripped all around is pressed from all sides; leave it out"):
        parse_job(gripped.encode(), "job.toml", None)
    assert job("direction = [0, 0.5, -0.6]\n").load.cases[0].direction == (0.0, 0.5, -0.6)


def test_check_refuses_caps_weights_and_words_that_mean_nothing():
    assert 'target.caps[1].zone: there is no zone "nose"' in refusal(
        '[[target.caps]]\nzone = "nose"\nmost_pressure_kpa = 9\n'
    )
    twice = '[[target.caps]]\nzone = "rest"\nmost_pressure_kpa = 9\n' * 2
    assert '"rest" has a most pressure already' in refusal(twice)
    for more, key in (
        ('[[target.caps]]\nzone = "rest"\nmost_pressure_kpa = 0\n', "target.caps[1].most_pressure_kpa"),
        ("weight = 0\n", "load.cases[1].weight"),
        ('[target]\nloads = "all"\n', "target.loads"),
        ("[target]\npeak_for_mass_pct = -1\n", "target.peak_for_mass_pct"),
        ("[target]\npeak_for_time_pct = 101\n", "target.peak_for_time_pct"),
    ):
        line = (JOB + more).rstrip("\n").count("\n") + 1
        assert f"job.toml:{line}: {key}: expected" in refusal(more)


def test_whoever_caps_a_zone_is_tuned_for_that_and_no_evenness():
    assert job('[[target.caps]]\nzone = "rest"\nmost_pressure_kpa = 9\n').target.goal == "relieve"


def test_loads_to_serve_where_there_is_one_change_nothing():
    alone = JOB[: JOB.index("[[load.cases]]")] + '[target]\nloads = "mean"\n'
    (note,) = key_notes(parse_job(alone.encode(), "job.toml", None))
    assert "target.loads changes nothing: there is one load" in note
    assert key_notes(job('[target]\nloads = "mean"\n')) == ()


@pytest.mark.usefixtures("columns_alone")
def test_loads_stand_side_by_side_and_sideways_only_where_there_is_some():
    on = patch(sheet(100, 100, 5.0), thickness=10.0)
    straight, askew = LoadCase(force_n=100.0, posture="sitting"), LoadCase(force_n=200.0, posture="leaning on the left")
    loads = [(case, check_load(case, on, [linear(200.0)])) for case in (straight, askew)]
    assert cases_table([*loads, (LoadCase(force_n=1.0, posture="p" * 60), loads[0][1])]) == ()  # lines are told instead
    head, first, second = cases_table(loads)
    assert "sideways" not in head and re.search(r"sitting +100 +0\.50 +10", first) and "200" in second
    assert len({len(line) for line in (head, first, second)}) == 1 and len(head) <= 110
    pushing = LoadCase(force_n=100.0, posture="push-off", sideways_n=50.0)
    *_, last = cases_table([*loads, (pushing, loads[0][1])])
    assert last.endswith("50 (0.50)")
    rows = {row.name: row.now for row in load_rows(loads[0][1], pushing)}
    assert rows["Sideways"] == "50 N" and rows["Needs Friction"] == "0.50"
    assert "Sideways" not in {row.name for row in load_rows(loads[0][1], straight)}
