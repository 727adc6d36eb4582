"""How fills carry on past the strain at which they give way: effective width by formula and by plates of our own."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.stages.material.curves import LEVEL_STRAIN
from padwright.core.stages.material.fill import RegionGeometry, fill_curve, region_curve
from padwright.core.stages.material.giving_way import (
    BENDS,
    CARRIES_BY_EDGES,
    bends,
    buckled_wall,
    flat_wall,
    levels_off,
    wavy_wall,
)
from padwright.core.stages.material.lattices import LATTICES
from padwright.core.stages.material.material_model import NINETY, OWN_SPREAD, OWN_UNFITTED, MaterialModel
from padwright.core.stages.material.region_settings import RegionSettings
from support.plate_strip import carried, pressed

RATIOS = np.concatenate([[1e-9], np.linspace(0.001, 5.0, 5000), np.geomspace(5.0, 1000.0, 500)])


@pytest.mark.parametrize("ratio", [0.6, 1.0, 2.0, 10.0])
def test_winters_formula(ratio):
    """b_e/b = sqrt(s_cr/s) (1 - 0.22 sqrt(s_cr/s)) at the edges' stress s; times s / s_cr: what is carried."""
    width = np.sqrt(1 / ratio) * (1 - 0.22 * np.sqrt(1 / ratio))
    assert width < 1.0 and float(wavy_wall(np.array(ratio))) == pytest.approx(width * ratio, rel=1e-12)


@pytest.mark.parametrize("ratio", [1.0, 3.0, 20.0])
def test_koiters_formula(ratio):
    width = 1.2 * ratio**-0.4 - 0.65 * ratio**-0.8 + 0.45 * ratio**-1.2
    assert float(flat_wall(np.array(ratio))) == pytest.approx(width * ratio, rel=1e-12)


@pytest.mark.parametrize("way", [bends, levels_off, wavy_wall, flat_wall, buckled_wall])
def test_every_way_begins_straight_and_never_falls(way):
    carries = way(RATIOS)
    # A jump of 2e-4 upward is where Winter's 0.22 makes line and curve meet; none may lie over the straight line.
    assert (np.diff(carries) >= 0).all() and (carries <= RATIOS * (1 + 1e-12)).all()
    assert carries[0] / RATIOS[0] == pytest.approx(1.0, rel=1e-6)
    assert np.diff(carries).max() < 3.0  # steps of the coarse end; no jump


def test_walls_go_on_carrying_where_a_flat_plateau_would_not():
    assert (
        buckled_wall(np.array([2.0, 5.0, 20.0])) > 1.3 * levels_off(np.array([2.0, 5.0, 20.0])) * [0.99, 1, 1]
    ).all()
    low, middle, high = (way(RATIOS) for way in (CARRIES_BY_EDGES.low, CARRIES_BY_EDGES.middle, CARRIES_BY_EDGES.high))
    assert (low <= middle).all() and (middle <= high).all()


@pytest.mark.parametrize(("edges", "stiffness"), [("straight", 0.5), ("free", 0.408)])
def test_stiffness_just_past_buckling(edges, stiffness):
    """A square simply supported plate has 0.5 E with straight edges and 0.408 E with edges free to pull in.

    0.5 follows by hand: (s_x - s_cr) = E pi^2 q^2 / 8 b^2 of the deflection q, which shortens the plate by as much
    again. 0.408 is the number of textbooks; the plates of `support.plate_strip` give both.
    """
    (_, low), (_, high) = (pressed(ratio, 1.0, edges) for ratio in (1.001, 1.011))
    assert (high - low) / 0.01 == pytest.approx(stiffness, abs=0.001)


def test_the_flat_wall_leaves_buckling_with_half_its_stiffness():
    assert float(flat_wall(np.array(1.001)) - 1.0) / 0.001 == pytest.approx(0.5, abs=0.002)


@pytest.mark.parametrize("ratio", [2.0, 4.0, 10.0])
def test_effective_width_against_plates_of_our_own(ratio):
    at = np.array(ratio)
    straight, free = carried(ratio, "straight"), carried(ratio, "free")
    # Koiter's formula lies 1.6 to 3.4 % over the plates, which eleven deflections instead of seven move by 0.1 %. Both
    # edges lie within the band. The middle is within 2 % of free edges from 4 times the buckling strain on; at twice
    # it, walls that are not flat are taken 4 % under flat ones.
    assert float(flat_wall(at)) == pytest.approx(straight, rel=0.04)
    assert float(wavy_wall(at)) < free < straight < float(flat_wall(at))
    assert float(buckled_wall(at)) == pytest.approx(free, rel=0.025 if ratio >= 4.0 else 0.05)


@pytest.mark.parametrize("structure", ["honeycomb", "square_grid"])
@pytest.mark.parametrize("density", [0.05, 0.15, 0.3])
def test_a_fill_of_walls_carries_by_its_edges_up_to_where_cells_shut(structure, density):
    curve = fill_curve(structure, density, 1000.0, 0.48)
    give = LATTICES[structure].gives_at(density, 0.48)
    assert curve.small_strain_kpa == pytest.approx(1000.0 * density, rel=1e-5)
    strain = np.array([0.02, 0.10, 0.2])
    first = 1000.0 * density * give * buckled_wall(strain / give)
    more = curve.stress(strain) / first - 1.0
    # The rise of cells that shut: both terms alike there; at 20 % strain of a fill of 30 % it is 5 %. Straight pieces
    # between the points lie up to 0.5 % under a curve bent so.
    assert (more > -0.006).all() and (more < 0.06).all()
    shut = np.array(curve.densification)
    when_shut = 2.0 * 1000.0 * density * give * float(buckled_wall(shut / give))
    assert float(curve.stress(shut)) == pytest.approx(when_shut, rel=0.01)


def test_how_edges_are_held_widens_the_band_of_walls_alone():
    model, block = MaterialModel(13_240.0, 0.48), RegionGeometry(30.0, 1e4, 400.0)
    plain = float(np.exp(NINETY * np.hypot(OWN_SPREAD, OWN_UNFITTED)))
    for structure in ("gyroid", "square_grid"):
        printed = RegionSettings(
            "tpu_85a", nozzle_diameter_mm=0.4, bead_width_mm=0.45, layer_thickness_mm=0.2, fill_structure=structure,
            solid_share_pct=15.0, contour_count=0, body_side_layer_count=0, base_side_layer_count=0,
            max_speed_mm_s=30.0,
        )  # fmt: skip
        own = region_curve(printed, model, block).own_factor
        if structure == "gyroid":
            assert BENDS.spread_at(3.0) == 0.0 and own == pytest.approx(plain)
            continue
        # At 10 % strain a grid of 15 % is at 4.16 times its buckling strain: Winter 1.82, Koiter 2.30.
        edges = 0.5 * np.log(2.30 / 1.82)
        assert np.log(own) == pytest.approx(np.hypot(np.log(plain), edges), rel=0.01)
        at = LEVEL_STRAIN / LATTICES[structure].gives_at(0.15, 0.48)
        assert CARRIES_BY_EDGES.spread_at(at) == pytest.approx(edges, rel=0.02)


def test_a_wall_that_wrinkles_carries_on_at_the_stress_at_which_it_did():
    assert levels_off(np.array([0.0, 0.5, 0.95, 1.0, 3.0])).tolist() == [0.0, 0.5, 0.95, 1.0, 1.0]
