"""Air in the voids between folded walls: pressure at a sit-down, openings that keep it low, and air shut in."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp
from scipy.optimize import minimize

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import Float
from padwright.core.stages.folds.breathing import (
    AIR_KG_M3,
    ATMOSPHERE_KPA,
    OUTSIDE,
    Airways,
    hardest_moment,
    held_water_mm,
    least_areas,
    sealed_curve,
    sealed_stress_kpa,
    void_pressures,
)
from padwright.core.stages.material.curves import StressCurve

RINGS = 12


def chain(count: int) -> Float:
    """Return links of voids one within the other; void 0 is the outermost."""
    return np.array([[OUTSIDE, 0], *([place, place + 1] for place in range(count - 1))])


def by_hand(squeezed_mm3: Float, area_mm2: Float) -> Float:
    """Return a chain's pressures, kPa, in m and Pa: the drops add up from the outside in."""
    rate = np.cumsum(squeezed_mm3[::-1])[::-1] * 1e-9 / 0.3 * np.pi / 2.0
    drop = 0.5 * 1.204 * (rate / (0.6 * area_mm2 * 1e-6)) ** 2
    return np.cumsum(drop) / 1000.0


def test_a_chain_of_rings_adds_up_its_drops() -> None:
    squeezed = np.linspace(20e3, 3.3e3, RINGS)  # 140 cm3 in all, more in the long outer rings
    area = np.full(RINGS, 20.0)
    found = void_pressures(Airways(squeezed, chain(RINGS), area))
    assert_allclose(found, by_hand(squeezed, area), rtol=1e-6)
    # An even press of the same, as an engineer would reckon on paper, costs 4 kPa at 20 mm2; the fastest moment 2.5
    # times that.
    even = np.full(RINGS, 140e3 / RINGS)
    innermost = void_pressures(Airways(even, chain(RINGS), area))[-1] / (np.pi / 2.0) ** 2
    assert innermost == pytest.approx(4.0, rel=0.05)


def test_springy_air_over_time_stays_below_and_near_the_quick_sum() -> None:
    """The whole sit-down as a differential equation: isothermal air, its mass in each void, half a cosine in time."""
    squeezed, volume = np.array([60e3, 30e3, 10e3]) * 1e-9, np.array([300e3, 150e3, 50e3]) * 1e-9
    area, seconds, strain = np.array([40.0, 25.0, 12.0]) * 1e-6, 0.3, 0.2
    atmosphere = 101325.0

    def left(moment: float) -> Float:
        return volume - squeezed * 0.5 * (1.0 - np.cos(np.pi * moment / seconds))

    def change(moment: float, mass: Float) -> Float:
        pressure = mass / left(moment) * atmosphere / AIR_KG_M3
        drop = pressure - np.concatenate([[atmosphere], pressure[:-1]])
        holes = area * (1.0 - strain * 0.5 * (1.0 - np.cos(np.pi * moment / seconds)))
        out = 0.6 * holes * np.sign(drop) * np.sqrt(2.0 * AIR_KG_M3 * np.abs(drop))
        return np.concatenate([out[1:], [0.0]]) - out

    found = solve_ivp(change, (0.0, seconds), AIR_KG_M3 * volume, method="LSODA", rtol=1e-9, atol=1e-15, max_step=5e-4)
    over = [found.y[:, place] / left(moment) * 101.325 / AIR_KG_M3 - 101.325 for place, moment in enumerate(found.t)]
    quick = void_pressures(Airways(squeezed * 1e9, chain(3), area * 1e6), strain)
    # At 1 to 2 kPa air stores some percent of what is squeezed, and its density is that much higher in the holes.
    assert_allclose(np.max(over, axis=0), quick, rtol=0.06)


def test_a_net_with_a_way_round_keeps_what_flows() -> None:
    rng = np.random.default_rng(5)
    count = 40
    links = [[OUTSIDE, 0], [OUTSIDE, 1], [OUTSIDE, 7]] + [[here, (here + 1) % count] for here in range(count)]
    links += [list(rng.choice(count, 2, replace=False)) for _ in range(30)]
    net = Airways(rng.uniform(0.0, 4e3, count), np.array(links), rng.uniform(0.0, 30.0, len(links)) + 1.0)
    pressure = np.append(void_pressures(net), 0.0)
    drop = pressure[net.links[:, 0]] - pressure[net.links[:, 1]]
    flow = 0.6 * net.area_mm2 * np.sign(drop) * np.sqrt(2e3 * np.abs(drop) / 1.204) * 1e3
    out = np.zeros(count + 1)
    np.add.at(out, net.links[:, 0], flow)
    np.add.at(out, net.links[:, 1], -flow)
    pushed = net.squeezed_mm3 / 0.3 * np.pi / 2.0
    # The search ends at a millionth of the whole flow.
    assert_allclose(out[:-1], pushed, atol=2e-6 * pushed.sum())
    assert (pressure[:-1] > 0.0).all()


def test_nets_of_very_uneven_openings_settle() -> None:
    """Holes from 1 to 3000 mm2 and voids from nothing to 30 cm3, with loops: what a mesh may come up with."""
    for seed in range(30):
        rng = np.random.default_rng(seed)
        count = int(rng.integers(1, 200))
        links = [[OUTSIDE, 0]] + [[here, rng.integers(0, here)] for here in range(1, count)]
        links += [pair for pair in rng.integers(0, count, (count, 2)).tolist() if pair[0] != pair[1]]
        squeezed = 10 ** rng.uniform(0.0, 4.5, count) * (rng.random(count) < 0.8)
        net = Airways(squeezed, np.array(links), 10 ** rng.uniform(0.0, 3.5, len(links)))
        assert (void_pressures(net) >= -1e-6 * void_pressures(net).max()).all()


def test_two_equal_ways_out_share_the_flow() -> None:
    one = void_pressures(Airways(np.array([50e3]), np.array([[OUTSIDE, 0]]), np.array([60.0])))
    two = void_pressures(Airways(np.array([50e3]), np.array([[OUTSIDE, 0], [0, OUTSIDE]]), np.array([30.0, 30.0])))
    assert_allclose(one, two, rtol=1e-9)


def test_the_least_openings_keep_the_pressure_and_taper() -> None:
    squeezed = np.full(RINGS, 140e3 / RINGS)
    area = least_areas(squeezed, chain(RINGS))
    pressure = void_pressures(Airways(squeezed, chain(RINGS), area))
    assert pressure[-1] == pytest.approx(1.0, rel=1e-6)
    assert (np.diff(pressure) > 0.0).all()
    assert (np.diff(area) < 0.0).all()
    # By hand: 733 cm3/s leave at the fastest, drops go as 1, (11/12)^(2/3) and so on, the first is 1/7.7 of 1 kPa:
    # 14.6 m/s times 0.6.
    assert area[0] == pytest.approx(83.0, rel=0.01)


def test_no_other_openings_of_a_tree_have_a_smaller_sum() -> None:
    """A gallery that four channels open into, one of them with another behind it, against a blind search."""
    links = np.array([[OUTSIDE, 0], [0, 1], [0, 2], [3, 0], [3, 4]])
    squeezed = np.array([9e3, 4e3, 1e3, 6e3, 8e3])
    ours = least_areas(squeezed, links)
    assert void_pressures(Airways(squeezed, links, ours)).max() == pytest.approx(1.0, rel=1e-6)

    def pressure(area: Float) -> Float:
        return void_pressures(Airways(squeezed, links, area))

    found = minimize(
        lambda area: area.sum(), 1.3 * ours, method="SLSQP", bounds=[(0.2, 500.0)] * 5,
        constraints={"type": "ineq", "fun": lambda area: 1.0 - pressure(area)}, options={"maxiter": 300},
    )  # fmt: skip
    assert found.success
    assert ours.sum() == pytest.approx(found.fun, rel=1e-4)


def test_openings_that_get_lower_with_the_core_are_made_wider() -> None:
    assert hardest_moment(0.0) == pytest.approx(np.pi / 2.0)
    # By the formula written out anew: the most of sin(x) pi/2 / (1 - e sin^2(x/2)).
    fine = np.linspace(0.0, np.pi, 100001)
    worst = (np.pi / 2.0 * np.sin(fine) / (1.0 - 0.4 * np.sin(fine / 2.0) ** 2)).max()
    assert hardest_moment(0.4) == pytest.approx(worst, rel=1e-5)
    given = np.array([1e4]), np.array([[0, OUTSIDE]])
    assert_allclose(least_areas(*given, strain=0.4) / least_areas(*given), worst / (np.pi / 2.0), rtol=1e-5)


def test_a_void_without_a_way_out_is_named() -> None:
    squeezed, links = np.ones(3), np.array([[OUTSIDE, 0], [1, 2]])
    with pytest.raises(InputError, match=r"no way out of void 1 \(2 of 3"):
        void_pressures(Airways(squeezed, links, np.ones(2)))
    with pytest.raises(InputError, match="no way out of void 1"):
        least_areas(squeezed, links)
    with pytest.raises(InputError, match="no way out of void 0"):
        void_pressures(Airways(np.ones(1), np.array([[OUTSIDE, 0]]), np.zeros(1)))


@pytest.mark.parametrize(
    ("squeezed", "links", "area", "said"),
    [
        ([-1.0], [[OUTSIDE, 0]], [1.0], "-1 mm3"),
        ([1.0], [[OUTSIDE, 4]], [1.0], "void 4; there are 1"),
        ([1.0], [[0, 0]], [1.0], "itself"),
        ([1.0], [[OUTSIDE, 0]], [1.0, 2.0], "got 2"),
        ([1.0], [[OUTSIDE, 0]], [np.nan], "none negative"),
    ],
)
def test_what_is_no_net_is_refused(squeezed: list[float], links: list[list[int]], area: list[float], said: str) -> None:
    with pytest.raises(InputError, match=said):
        void_pressures(Airways(np.array(squeezed), np.array(links), np.array(area)))


def test_nothing_squeezed_is_no_pressure() -> None:
    assert_allclose(void_pressures(Airways(np.zeros(2), chain(2), np.ones(2))), 0.0)
    assert_allclose(least_areas(np.zeros(2), chain(2)), 0.0)


def test_sealed_air_does_the_work_of_boyle() -> None:
    """Its stress over strain holds the work of pressing a gas isothermally, less what the outside's air does."""
    void, strain = 0.75, np.linspace(0.0, 0.5, 2001)
    stress = sealed_stress_kpa(strain, void)
    work = np.sum(0.5 * (stress[1:] + stress[:-1]) * np.diff(strain))
    volume = void - 0.5
    boyle = ATMOSPHERE_KPA * (void * np.log(void / volume) - (void - volume))
    assert work == pytest.approx(boyle, rel=1e-5)
    assert sealed_stress_kpa(np.array(0.2), void) == pytest.approx(36.8, abs=0.1)
    assert np.isinf(sealed_stress_kpa(np.array([0.75, 0.8]), void)).all()
    for wrong in (0.0, 1.0):
        with pytest.raises(InputError, match="%"):
            sealed_stress_kpa(strain, wrong)
    with pytest.raises(InputError, match=r"-0\.1"):
        sealed_stress_kpa(np.array([-0.1]), void)


def test_a_sealed_curve_carries_walls_and_air() -> None:
    walls = StressCurve(np.array([0.0, 0.1, 0.5, 0.9]), np.array([0.0, 8.0, 14.0, 200.0]), 0.5, 0.0)
    sealed = sealed_curve(walls, 0.7)
    at = np.array([0.05, 0.1, 0.3, 0.55])
    assert_allclose(sealed.stress(at), walls.stress(at) + sealed_stress_kpa(at, 0.7), rtol=1e-3)
    assert sealed.densification == 0.5
    assert sealed.strain[-1] == pytest.approx(0.63)
    assert all(low <= high for low, high in itertools.pairwise(sealed.stress_kpa))


def test_a_hole_that_drains() -> None:
    # A round hole of 3 mm holds up 4 * 0.0728 / (998.2 * 9.80665 * 0.003) m of water: 9.9 mm.
    assert held_water_mm(3.0) == pytest.approx(9.915, rel=1e-3)
    with pytest.raises(InputError, match="0 mm"):
        held_water_mm(0.0)
