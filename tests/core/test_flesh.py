"""A body that gives: flesh in series with the pad, from an imprint that is the shape of loaded flesh."""

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.job.cards import load_family
from padwright.core.stages.body.flesh import Flesh, flesh_layer
from padwright.core.stages.load.clay_pressure import EDGE, clay_pressure
from padwright.core.stages.load.contact import check_load
from padwright.core.stages.load.load_case import LoadCase
from support.columns_alone import columns_alone  # noqa: F401
from support.invariants import hold_of_load
from support.patches import avalle, linear, patch, sheet
from support.right_way import ROWS, Seat

STONE_KPA = 1e7
"""A pad that does not give: 20 mm of it under 20 kPa give 4e-5 mm, flesh millimeters."""


def seat(**more):
    on = patch(sheet(180.0, 120.0, 5.0), thickness=lambda x, y: 12.0 + 0.1 * np.abs(x), **more)
    return replace(on, clay_kpa=clay_pressure(on, np.ones(len(on.gaps)), 400e3))


@pytest.mark.parametrize("end", [0, 1])
def test_on_an_unyielding_pad_of_the_imprint_s_shape_the_body_gets_the_clay_s_pressure_back(end):
    on = seat()
    on = replace(on, clay_kpa=on.clay_kpa[[end, end]])
    case = LoadCase(force_n=400.0, tilt="held", flesh=flesh_layer(40.0, 8.0, 7.0))
    result = check_load(case, on, [linear(STONE_KPA)])
    assert np.allclose(result.pressure_kpa, on.clay_kpa[end], rtol=1e-3)
    assert abs(result.body_motion_mm.value) < 1e-3


@pytest.mark.usefixtures("columns_alone")
def test_two_places_by_hand():
    """Flesh of 30 mm and 60 kPa, linear; clay pressures 10 and 30 kPa; pads of 20 mm, 400 and 100 kPa (no ratio).

    Squeezed on the clay by 30 p / 60 = 5 and 15 mm. With the bone d lower than there, d + 5 = p1 (30/60 + 20/400) and
    d + 15 = p2 (30/60 + 20/100); equal areas bear 20 kPa on average.
    """
    on = patch(sheet(40.0, 40.0, 20.0), zone=lambda x, y: (x > 0.0).astype(int))
    is_right = on.zone == 1
    area = np.where(is_right, 1.0 / is_right.sum(), 1.0 / (~is_right).sum()) * 800.0
    clay = np.where(is_right, 30.0, 10.0)
    on = replace(on, area_mm2=area, faces=None, clay_kpa=np.stack([clay, clay]))
    curves = [linear(400.0), linear(100.0)]
    case = LoadCase(force_n=32.0, tilt="held", flesh=flesh_layer(30.0, 60.0))
    result = check_load(case, on, curves)
    first, second = 30.0 / 60.0 + 20.0 / 400.0, 30.0 / 60.0 + 20.0 / 100.0
    down = (40.0 - 5.0 / first - 15.0 / second) / (1.0 / first + 1.0 / second)
    assert result.body_motion_mm.value == pytest.approx(down, rel=1e-5)
    assert result.zones[0].mean_pressure_kpa.value == pytest.approx((down + 5.0) / first, rel=1e-5)
    assert result.zones[1].mean_pressure_kpa.value == pytest.approx((down + 15.0) / second, rel=1e-5)


def test_clay_that_sticks_heaps_up_as_between_rough_plates():
    """A long strip of even clay: p is 2 k (EDGE + x / h), x from the nearer edge (Prandtl 1923, cited, not read)."""
    on = patch(sheet(600.0, 80.0, 4.0, seed=3), thickness=16.0)
    even, heaped = clay_pressure(on, np.ones(len(on.gaps)), 480e3)
    assert np.allclose(even, 10.0, rtol=1e-9)
    assert heaped @ on.area_mm2 == pytest.approx(480e3, rel=1e-12)
    inner = np.abs(on.position[:, 0]) < 200.0
    way = (40.0 - np.abs(on.position[inner, 1])) / 16.0
    shape = heaped[inner] / (EDGE + way)
    assert np.ptp(shape) / shape.mean() < 0.08  # along the sides of triangles, which are up to a tenth longer


def test_clay_lies_between_even_and_heaped_and_both_ends_reach_the_bounds():
    on = seat()
    case = LoadCase(force_n=400.0, tilt="held", flesh=flesh_layer(40.0, 8.0, 7.0))
    free = check_load(case, on, [avalle(3.0)])
    held = [check_load(case, replace(on, clay_kpa=on.clay_kpa[[end, end]]), [avalle(3.0)]) for end in (0, 1)]
    peaks = [each.peak_pressure_kpa.value for each in held]
    assert peaks[1] > 1.15 * peaks[0]
    assert peaks[0] < free.peak_pressure_kpa.value < peaks[1]
    # One source alone: low and high are its ends, found on fewer points.
    assert free.peak_pressure_kpa.low == pytest.approx(peaks[0], rel=0.02)
    assert free.peak_pressure_kpa.high == pytest.approx(peaks[1], rel=0.02)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.change}: {row.number}")
def test_numbers_go_the_right_way(row):
    before, after = row.values()
    assert row.goes(before, after), f"{before:.4g} to {after:.4g}"


def test_what_holds_of_every_load_check_holds_with_flesh():
    for seat_ in (Seat(), Seat(groove_mm=6.0), Seat(stress=(0.3, 1.0)), Seat(off_mm=20.0)):
        on, result = seat_.pressed()
        hold_of_load(result, on)
        squeezed = result.flesh_squeezed_mm
        assert squeezed.low < squeezed.value < squeezed.high


def test_without_flesh_the_clay_s_pressure_changes_nothing():
    on = seat()
    case = LoadCase(force_n=400.0, tilt="held")
    with_clay, without = (check_load(case, each, [avalle(3.0)]) for each in (on, replace(on, clay_kpa=None)))
    assert np.array_equal(with_clay.pressure_kpa, without.pressure_kpa)
    assert with_clay.flesh_squeezed_mm is None


def test_impossible_flesh_and_clay_are_refused():
    with pytest.raises(InputError, match="flesh layer of -1 mm"):
        flesh_layer(-1.0, 8.0)
    with pytest.raises(InputError, match="do not hold the flesh's own value"):
        Flesh(10.0, linear(5.0), stress_factors=(1.2, 2.0))
    on = seat()
    with pytest.raises(InputError, match="no value below 0"):
        replace(on, clay_kpa=-on.clay_kpa)


@pytest.mark.parametrize(
    ("family", "pressure_kpa", "squeezed"),
    [
        ("seat_pad", 37.0, 0.55),  # half to six tenths on seats (doi 10.1682/JRRD.2009.07.0105, abstract)
        ("insole", 139.0, 0.38),  # a standing heel keeps .62 (PubMed 16513397, abstract; Cavanagh 1987, not read)
        ("grip", 43.0, 0.42),  # 5 N on 120 mm2: 2 to 3 of 6 mm of a fingertip (Serina 1997, cited, not read)
    ],
)
def test_a_family_s_flesh_holds_between_its_ends_what_people_s_was_seen_to_give(family, pressure_kpa, squeezed):
    card = load_family(family).flesh
    layers = (flesh_layer(1.0, modulus, card.stiffening) for modulus in card.modulus_kpa)
    soft, value, stiff = (float(each.squeezed_mm(np.array([pressure_kpa]))[0]) for each in layers)
    assert soft > squeezed > stiff and soft > value > stiff


@pytest.mark.parametrize("stiffening", [0.0, 7.0])
def test_flesh_squeezed_past_its_curve_gives_the_clay_s_pressure_back_too(stiffening):
    """Soft flesh under much: what it was squeezed by on the clay is what its curve says, to the last slope."""
    flesh = flesh_layer(15.0, 12.0, stiffening)
    top = float(flesh.curve.stress_kpa[-1])
    pressure = top * np.array([0.3, 1.0, 1.5, 3.0])
    assert np.allclose(flesh.curve.stress(flesh.squeezed_mm(pressure) / 15.0), pressure, rtol=1e-9)
    on = seat()
    clay = on.clay_kpa[1] * 3.0 * top / on.clay_kpa[1].max()
    on = replace(on, clay_kpa=np.stack([clay, clay]))
    case = LoadCase(force_n=float(clay @ on.area_mm2) / 1e3, tilt="held", flesh=flesh)
    result = check_load(case, on, [linear(STONE_KPA)])
    assert np.allclose(result.pressure_kpa, clay, rtol=1e-2)  # the pad gives 20 mm of 1e4 kPa a kPa


def holed(radius):
    """A sheet of 120 mm with a round hole in its middle, of 16 mm of clay."""
    mesh = sheet(120.0, 120.0, 3.0, seed=5)
    near = np.hypot(*mesh.vertices[:, :2].T) <= radius
    return near, patch(mesh.submesh(~near[mesh.faces].any(axis=1)), thickness=16.0), patch(mesh, thickness=16.0)


@pytest.mark.parametrize("is_cut", [True, False], ids=["not read", "not touched"])
def test_clay_does_not_flow_into_a_hole_narrower_than_it_is_thick(is_cut):
    near, cut, whole = holed(2.0)
    full = clay_pressure(whole, np.ones(len(near)), 1e5)[1]
    on, touch = (cut, np.ones(len(cut.gaps))) if is_cut else (whole, (~near).astype(float))
    found = clay_pressure(on, touch, 1e5)[1]
    assert found.max() == pytest.approx(full.max(), rel=0.03)
    # Through a wide one it does: at its edge it bears as little as at the outer edge.
    near, cut, whole = holed(20.0)
    on, touch = (cut, np.ones(len(cut.gaps))) if is_cut else (whole, (~near).astype(float))
    found = clay_pressure(on, touch, 1e5)[1]
    away = np.hypot(*on.position[:, :2].T)
    rim, outer = found[(away > 23.5) & (away < 26.5)].mean(), found[on.edge]
    assert rim < 1.25 * outer[outer > 0.0].min() and found.max() < 0.9 * full.max()
