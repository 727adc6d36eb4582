"""Which load centers are used: by number, by what the person says of each, and it stays so."""

from __future__ import annotations

import json
import re
from functools import partial
from types import SimpleNamespace

import numpy as np
import pytest
from tests.support.cases import make_case

from padwright.core.stages.alignment.placed_scans import PlacedScans, body_points, typed_point
from padwright.core.stages.reading.center_choice import BEYOND, OFF, CenterMark, choose_centers
from padwright.core.stages.reading.impression import read_impression
from padwright.core.stages.reading.load_centers import FoundLoadCenter

DOWN = np.array([0.0, 0.0, -1.0])
PLACES = [(-50.0, 0.0, 10.0), (0.0, -60.0, 14.0), (50.0, 0.0, 11.0), (40.0, -70.0, 15.0)]


def center(place) -> FoundLoadCenter:
    return FoundLoadCenter(np.array(place), 8.0, 9.0, 3.0, 1.0, 0.2, np.eye(3))


FOUND = [center(place) for place in PLACES]


def numbers(centers) -> list[int]:
    return [each.number for each in centers]


def test_the_strongest_are_used_and_the_rest_is_told():
    choice = choose_centers(FOUND, (), (2, 2), DOWN)
    assert numbers(choice.used) == [1, 2] and numbers(choice.others) == [3, 4]
    assert {each.unused_because for each in choice.others} == {BEYOND}
    assert "4 load centers were found and such a part has 2" in choice.notes[0]
    assert "number 3, 8.0 mm deep, at (50, 0, 11) mm" in choice.notes[0]
    assert numbers(choose_centers(FOUND, (), None, DOWN).used) == [1, 2, 3, 4]


def test_what_the_note_says_to_write_means_that_load_center():
    """Typed as the note has it, a base scan in meters, 2 % too large, on a datum of its own."""
    to_part = np.array([[0.0, -1.0, 0.0, 40.0], [1.0, 0.0, 0.0, -7.0], [0.0, 0.0, 1.0, 3.0], [0.0, 0.0, 0.0, 1.0]])
    base = SimpleNamespace(mm_per_number=980.0, mesh=SimpleNamespace(bounds=np.array([[-1e3] * 3, [1e3] * 3])))
    scans = PlacedScans(base, None, to_part)
    (note, *_) = choose_centers(FOUND, (), (2, 2), DOWN, partial(typed_point, scans)).notes
    for number in (3, 4):
        (words,) = re.findall(rf"number {number}, 8.0 mm deep, near = (\[.*?\])", note)
        mark = CenterMark(body_points(scans, [tuple(json.loads(words))], "base")[0])
        assert np.abs(mark.near - PLACES[number - 1]).max() < 0.01  # five digits of 70 mm
        assert numbers(choose_centers(FOUND, (mark,), (2, 2), DOWN).used) == [1, 2, number]


def test_what_the_person_says_of_each_holds():
    thigh = CenterMark(np.array([3.0, -55.0, -20.0]), use=False)
    bone = CenterMark(np.array([48.0, 3.0, 0.0]), name="right")
    choice = choose_centers(FOUND, (thigh, bone), (2, 2), DOWN)
    assert [(each.number, each.name) for each in choice.used] == [(1, ""), (3, "right")]
    assert [(each.number, each.unused_because) for each in choice.others] == [(2, OFF), (4, BEYOND)]


def test_switching_one_off_brings_no_other_in_and_the_lack_is_told():
    choice = choose_centers(FOUND, (CenterMark(np.array(PLACES[1]), use=False),), (2, 2), DOWN)
    assert numbers(choice.used) == [1]
    assert any("has 2 load centers; 1 is used" in note for note in choice.notes)


def test_marks_that_mean_none_are_told_with_the_distance():
    far = CenterMark(np.array([0.0, 40.0, 0.0]), name="tail")
    twice = CenterMark(np.array([-48.0, 0.0, 0.0]))
    nearer = CenterMark(np.array([-50.0, 1.0, 0.0]))
    choice = choose_centers(FOUND, (far, twice, nearer), None, DOWN)
    assert 'within 15 mm of "tail" of [[impression.load_centers]]; the nearest is 64 mm away' in choice.notes[0]
    assert "mean the same load center; (-48, 0, 0) mm is the farther" in choice.notes[1]


def test_a_mark_holds_through_other_noise_and_other_order():
    mark = None
    for seed in range(3):
        case = make_case("seat", seed=seed, debris=False, turntable=False, pose="none")
        reading = read_impression(
            case.base_mm,
            case.impression_aligned,
            press_direction=DOWN,
            center_marks=() if mark is None else (mark,),
            expected_centers=(2, 2),
            compare_sides=False,
        )
        if mark is None:
            assert len(reading.load_centers) == 2 and reading.spacing_mm is not None
            mark = CenterMark(next(c.position_mm for c in reading.load_centers if c.position_mm[0] > 0), use=False)
        else:
            (used,), (other,) = reading.load_centers, reading.other_load_centers
            assert used.position_mm[0] < 0 < other.position_mm[0] and other.unused_because == OFF
            assert reading.spacing_mm is None


@pytest.mark.parametrize("press", [DOWN, None])
def test_depth_matters_only_where_there_is_no_one_direction(press):
    mark = CenterMark(np.array([-50.0, 0.0, -10.0]), use=False)
    assert numbers(choose_centers(FOUND[:1], (mark,), None, press).used) == ([] if press is not None else [1])
