"""Loads that a pad cannot carry: refused with the reason, the place and what would hold."""

import re

import numpy as np
import pytest

from padwright.core.base.errors import SolveError
from padwright.core.stages.load.contact import check_load
from padwright.core.stages.load.load_case import LoadCase, patch_of
from support.columns_alone import columns_alone  # noqa: F401
from support.patches import DOWN, avalle, patch, sheet


def test_a_load_beside_the_patch_tips_over_and_is_refused():
    on = patch(sheet(100, 60, 5.0))
    with pytest.raises(SolveError, match=r"outside the contact patch, 20 mm from its nearest point"):
        check_load(LoadCase(force_n=100.0, point_mm=(70.0, 0.0, 0.0)), on, [avalle(2.0)])
    check_load(LoadCase(force_n=100.0, point_mm=(70.0, 0.0, 0.0), tilt="held"), on, [avalle(2.0)])
    check_load(LoadCase(force_n=100.0), on, [avalle(2.0)])  # as the hint says: without a point


@pytest.mark.usefixtures("columns_alone")
def test_a_load_that_bottoms_out_everywhere_is_refused_with_what_the_pad_bears():
    on = patch(sheet(100, 60, 5.0))
    most = float(avalle(1.0).stress(0.8)) * 6000.0 / 1000.0
    with pytest.raises(SolveError, match="bottoms out everywhere") as refused:
        check_load(LoadCase(force_n=1.05 * most), on, [avalle(1.0)])
    # Halved five times between 80 and 100 % of the load, and told without the newtons' fractions.
    assert 0.97 * most < obeyed(refused.value.hint)[0] <= most
    assert check_load(LoadCase(force_n=0.95 * most), on, [avalle(1.0)]).bottoming_margin.value > 0


def obeyed(hint):
    """Return the newtons and the factor that a refusal names."""
    found = re.search(r"holds up to (\d+) N, and this load with all zones ([\d.]+) times as firm", hint)
    assert found, hint
    return float(found[1]), float(found[2])


@pytest.mark.parametrize("thin", [0.5, 2.0, 6.0])
def test_who_obeys_the_hints_of_a_refusal_gets_an_answer(thin):
    on = patch(
        sheet(100, 60, 5.0),
        thickness=lambda x, y: np.where(np.hypot(x - 20, y) < 14, thin, 20.0),
        zone=lambda x, y: (np.hypot(x - 20, y) < 14).astype(int),
    )
    curves, names = [avalle(2.0), avalle(1.0)], ["rest", "bones"]
    with pytest.raises(SolveError) as refused:
        check_load(LoadCase(force_n=900.0), on, curves, zone_names=names)
    newtons, firmer = obeyed(refused.value.hint)
    assert newtons > 5.0 and firmer > 1.0
    assert check_load(LoadCase(force_n=newtons), on, curves).sinkage_mm.value > 0.0
    assert check_load(LoadCase(force_n=900.0), on, [curve.scaled(firmer) for curve in curves]).sinkage_mm.value > 0.0
    with pytest.raises(SolveError):  # and it is not said too low
        check_load(LoadCase(force_n=1.25 * newtons + 2.0), on, curves)


def test_a_thin_place_pressed_to_nothing_is_refused_with_its_place():
    on = patch(sheet(100, 60, 5.0), thickness=lambda x, y: np.where(np.hypot(x - 20, y) < 4, 0.5, 20.0))
    with pytest.raises(
        SolveError, match=r"pressed to nothing at \(\d+\.\d, .*in \"zone 1\", where it is 0\.5 mm thick \(over \d+ mm2"
    ):
        check_load(LoadCase(force_n=400.0, tilt="held"), on, [avalle(5.0)])


def test_one_point_of_a_rim_pressed_to_nothing_is_told_and_can_be_left_out():
    mesh = sheet(200, 100, 4.0)
    thickness = np.full(len(mesh.vertices), 20.0)
    rim = int(np.argmin(np.linalg.norm(mesh.vertices - [100.0, 50.0, 0.0], axis=1)))
    thickness[rim] = 0.2
    every, none = np.ones(len(thickness), dtype=bool), np.zeros(len(thickness), dtype=int)
    case = LoadCase(force_n=300.0)
    whole, _ = patch_of(mesh, every, thickness, none, DOWN)
    result = check_load(case, whole, [avalle(2.0)])
    assert result.bottoming_margin.value < 0 and result.margin_index == rim and result.least_pad_left_mm.value == 0.0
    assert any("pressed to nothing, as at a rim" in note for note in result.notes)
    inner, index = patch_of(mesh, thickness > 4.0, thickness, none, DOWN)
    assert rim not in index and len(index) >= len(every) - 2
    assert check_load(case, inner, [avalle(2.0)]).bottoming_margin.value > 0.8
