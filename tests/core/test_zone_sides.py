"""What a zone's neighbors leave of a layer's stiffness: limits, borders, and shares by finite elements."""

import numpy as np
import pytest
from scipy.special import iv, kv

from padwright.core.stages.load.contact import check_load
from padwright.core.stages.load.load_case import LoadCase
from padwright.core.stages.load.tuning_search import smaller_patch
from padwright.core.stages.load.zone_sides import layer_ratios, sided_ratio, zone_borders
from padwright.core.stages.material.curves import StressCurve, constrained_ratio, layered_ratio
from support.elastic import Layer, Stack, Zone, edges, steps
from support.patches import linear, patch, sheet


def walled(kpa, share, poisson=0.37):
    return StressCurve(np.array([0.0, 0.98]), np.array([0.0, 0.98 * kpa]), 0.9, poisson, share)


def spots(radius):
    return lambda x, y: (np.hypot(x, y) > radius).astype(int)


@pytest.mark.parametrize("curve", [walled(2300.0, 0.0), walled(3000.0, 0.4), walled(400.0, 0.0, 0.0)])
@pytest.mark.parametrize("beside", [100.0, 10_000.0])
def test_a_wide_zone_keeps_what_a_layer_adds_whatever_lies_beside(curve, beside):
    wide = layered_ratio(curve)
    errors = [
        max(abs(end - wide) for end in (found.low, found.value, found.high))
        for found in (sided_ratio(curve, [(walled(beside, 0.0), 1.0)], width) for width in (10.0, 100.0, 1e7))
    ]
    # The band along the border that spreads is as wide as the pad is thick, so its part falls with the width.
    assert errors[1] <= 0.11 * errors[0] and errors[2] < 1e-6


def test_a_zone_like_its_neighbors_stands_as_in_one_layer():
    same = walled(700.0, 0.0)
    for width in (0.01, 1.0, 50.0):
        found = sided_ratio(same, [(same, 0.3), (same, 0.7)], width)
        assert found.low == pytest.approx(float(constrained_ratio(0.37)), rel=1e-9)
        assert found.high == pytest.approx(found.low, rel=1e-9)


@pytest.mark.parametrize("share", [0.0, 0.6])
def test_a_post_among_nothing_is_a_free_block_and_its_ring_a_free_ring(share):
    """Fill and contour each show Young's modulus when both may widen; only their unlike ratios hold each other."""
    post = sided_ratio(walled(2000.0, share), [(walled(1e-6, 0.0), 1.0)], 1e-3)
    assert post.value == pytest.approx(1.0, abs=1e-5 if share == 0.0 else 0.01)


def test_a_narrow_zone_between_is_lames_cylinder_in_its_surroundings():
    """Two elastic cylinders, one in the other, squeezed alike, free to slide above and below (Lame 1852)."""
    inner, outer, nu = 2300.0, 500.0, 0.37
    first, shear = (np.array([inner, outer]) / (1 + nu) * k for k in (nu / (1 - 2 * nu), 0.5))
    widens = (first[0] - first[1]) / (2 * (first[0] + shear[0] + shear[1]))
    by_hand = (first[0] + 2 * shear[0] - 2 * first[0] * widens) / inner
    found = sided_ratio(walled(inner, 0.0, nu), [(walled(outer, 0.0, nu), 1.0)], 1e-4)
    assert found.value == pytest.approx(by_hand, rel=1e-6)


@pytest.mark.parametrize("radius", [10.0, 20.0, 28.0])
@pytest.mark.parametrize("times", [0.2, 2.0, 4.6, 30.0])
def test_shares_are_those_of_finite_elements_whatever_the_size_and_the_step(radius, times):
    """A round zone in the middle of a round pad under a plate, 20 mm thick, its sides held.

    Radius and step both miss by at most 4 %; M/E alone by up to 60 %, and 20 % at a step of two.
    """
    reach, soft, nu = 113.0, 500.0, 0.37
    half = steps(10.0, 0.5, 1.3)
    across = edges(steps(radius, 0.7, 1.2)[::-1], steps(reach - radius, 0.7, 1.2))
    layer = Layer((Zone(radius, times * soft, nu), Zone(np.inf, soft, nu)), half + half[::-1])
    stack = Stack([layer], across, is_round=True, is_wide=True)
    moved = stack.plate(0.1, is_held=False)
    elements = stack.force_through(moved, 0, outer_mm=radius) / stack.force_through(moved, 0)
    border = np.array([[0.0, 2 * np.pi * radius], [2 * np.pi * radius, 0.0]])
    area = np.pi * np.array([radius**2, reach**2 - radius**2])
    curves = [walled(times * soft, 0.0, nu), walled(soft, 0.0, nu)]
    ratios = [
        sided_ratio(curves[n], [(curves[1 - n], 1.0)], 2 * area[n] / border[n, 1 - n] / 20.0).value for n in (0, 1)
    ]
    force = area * ratios * np.array([times * soft, soft])
    assert force[0] / force.sum() == pytest.approx(elements, rel=0.04)


def test_borders_are_as_long_as_they_are_and_each_has_two_sides():
    on = patch(sheet(200, 200, 2.0), zone=spots(40.0))
    found = zone_borders(on, 3)
    # How much a border between points wriggles depends on the mesh: a tenth moves a factor by 1 or 2 %.
    assert found[0, 1] == pytest.approx(2 * np.pi * 40.0, rel=0.1)
    assert found[0, 1] == pytest.approx(found[1, 0]) and found.diagonal().max() == 0.0 and found[2].max() == 0.0
    straight = patch(sheet(200, 120, 2.0), zone=lambda x, y: np.digitize(x, [-30.0, 30.0]))
    between = zone_borders(straight, 3)
    # Along a line of points it wriggles most.
    assert between[[0, 1], [1, 2]] == pytest.approx(120.0, rel=0.2)
    assert between[0, 2] == 0.0


def test_the_few_points_of_a_search_keep_the_borders():
    on = patch(sheet(200, 200, 3.0), zone=spots(25.0))
    curves = [walled(2300.0, 0.0), walled(500.0, 0.0)]
    few = smaller_patch(on, 2)
    assert len(few.position) < len(on.position)
    for one, other in zip(layer_ratios(on, curves), layer_ratios(few, curves), strict=True):
        # The sample's mean thickness is the patch's: even here.
        assert one.value == pytest.approx(other.value, rel=1e-9)


def test_a_firm_spot_bears_less_than_a_wide_firm_half_and_its_bounds_are_told():
    curves = [walled(2300.0, 0.0), walled(500.0, 0.0)]
    spot = patch(sheet(200, 200, 4.0), zone=spots(15.0))
    told = check_load(LoadCase(force_n=100.0, tilt="held"), spot, curves).zones
    area = float(spot.area_mm2[spot.zone == 0].sum())
    plain = area * 2300.0 / (area * 2300.0 + (40_000.0 - area) * 500.0)
    assert told[0].share.low < told[0].share.value < told[0].share.high < 0.85 * plain
    # Without a neighbor nothing changes and nothing is unsure.
    wide = patch(sheet(200, 200, 4.0), thickness=10.0)
    alone = check_load(LoadCase(force_n=100.0, tilt="held"), wide, [linear(500.0, poisson=0.37)])
    assert alone.sinkage_mm.low == alone.sinkage_mm.high
    assert alone.sinkage_mm.value == pytest.approx(100e3 / 40e3 / 500.0 / float(constrained_ratio(0.37)) * 10.0)


@pytest.mark.parametrize(("share", "width"), [(0.0, 0.4), (0.3, 1.4), (0.6, 3.0)])
def test_the_rule_by_the_page(share, width):
    """docs/models/contact.md, zones beside each other: moduli, Bessel functions and ring put in by hand."""
    inner, outer, nu = 3000.0, 500.0, 0.37
    found = sided_ratio(walled(inner, share, nu), [(walled(outer, 0.0, nu), 1.0)], width)
    fill = np.array([(1 - share) * inner, outer])
    shear, lame = fill / 2.74, fill * 0.37 / (1.37 * 0.26)
    wide = lame + 2 * shear
    plate = share * inner / (1 - 0.48**2)
    ends = []
    for c in (3.0, 12.0):
        z = width * np.sqrt(c * shear[0] / wide[0])
        within = z * iv(0, z) / iv(1, z) - 1
        beyond = -z * kv(0, z) / kv(1, z) - 1
        ring = plate / 2
        pull = lame[0] - lame[1] + ring * 0.48
        moved = pull / (wide[0] * within + lame[0] - wide[1] * beyond - lame[1] + ring)
        ends.append((wide[0] - 2 * lame[0] * moved + plate * (1 - 0.48 * moved)) / inner)
    assert (found.low, found.high) == pytest.approx((min(ends), max(ends)), rel=1e-9)
    assert found.value == pytest.approx(np.sqrt(ends[0] * ends[1]), rel=1e-9)
