"""A load that is none for the part's kind is said to be left aside."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from padwright.core.stages.load.job_loads import empty_cases, left_aside


@pytest.mark.parametrize(
    ("press", "force", "squeeze", "said"),
    [
        (None, 100.0, None, "100 N was not used: no one force acts"),
        (None, 100.0, 150.0, "checked under 150 N of squeeze"),
        (None, None, 150.0, None),
        (np.array([0.0, 0.0, -1.0]), None, 150.0, "squeeze of 150 N was not used"),
        (np.array([0.0, 0.0, -1.0]), 100.0, None, None),
    ],
)
def test_a_load_of_the_other_kind_is_told(press, force, squeeze, said):
    load = SimpleNamespace(force_n=force, squeeze_n=squeeze, grip_pressure_kpa=40.0)
    notes = left_aside(SimpleNamespace(pad=SimpleNamespace(press_direction=press), job=SimpleNamespace(load=load)))
    assert len(notes) == (said is not None)
    assert said is None or said in notes[0]


def test_a_load_of_nothing_is_told():
    cases = [SimpleNamespace(name=name, force_n=force, share=None) for name, force in (("catch", 0.0), ("rest", 300.0))]
    load = SimpleNamespace(force_n=0.0, body_mass_kg=None, share=0.6, cases=cases)
    first, second = empty_cases(SimpleNamespace(job=SimpleNamespace(load=load)))
    assert "load of 0 N (load.force_n) was left out" in first
    assert 'load case "catch" was left out' in second
