"""From a wish to a slope, and from a place to a curve with low and high."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.stages.material.folds.band import fold_band, fold_bands
from padwright.core.stages.material.folds.law import closing_strain, stress_kpa
from padwright.core.stages.material.folds.slopes import slope_for
from padwright.core.stages.material.folds.walls import Walls
from padwright.core.stages.material.material_model import FoldsAsPrinted, MaterialModel

SOLID, POISSON = 13200.0, 0.45


def test_the_slope_found_has_the_modulus_wished() -> None:
    rng = np.random.default_rng(3)
    walls = Walls(rng.uniform(8.0, 25.0, 300), 1.35, 6.0, 0.0, 1, rng.uniform(20.0, 300.0, 300), 0.03)
    wish = rng.uniform(20.0, 1500.0, 300)
    slope, reached = slope_for(wish, 0.12, walls, SOLID, POISSON, 45.0)
    stress = stress_kpa(walls.at_slope(slope), np.array([0.12]), SOLID, POISSON)[:, 0]
    assert reached == pytest.approx(stress / 0.12)
    inside = (slope > 0.0) & (slope < 45.0)
    assert inside.sum() > 100
    assert reached[inside] == pytest.approx(wish[inside], rel=2e-3)
    assert (reached[slope == 45.0] >= wish[slope == 45.0]).all()
    assert (reached[slope == 0.0] <= wish[slope == 0.0]).all()
    assert (slope == 0.0).any() and (slope == 45.0).any()


def test_a_band_holds_its_sources_in_one_order() -> None:
    model = MaterialModel(SOLID, 0.48, covariance=np.diag([0.2, 0.0, 0.0, 0.0]), upward=1.5)
    walls = Walls(20.0, 1.35, 6.0, [10.0, 40.0])
    for number, band in enumerate(fold_bands(walls, model)):
        assert len(band.shared) == 5
        assert band.own_factor == 1.0
        assert band.value.densification == pytest.approx(float(closing_strain(walls)[number]))
        for low, high in band.shared:
            assert low.secant_kpa() < band.value.secant_kpa() < high.secant_kpa()
        assert band.low.secant_kpa() < min(low.secant_kpa() for low, _ in band.shared)
        assert band.high.secant_kpa() > max(high.secant_kpa() for _, high in band.shared)
        low, high = band.shared[0]
        assert low.secant_kpa() / band.value.secant_kpa() == pytest.approx(model.solid.low / SOLID)
        assert high.secant_kpa() / band.value.secant_kpa() == pytest.approx(model.solid.high / SOLID)
    alone = fold_band(walls.at(1), model)
    assert alone.modulus_kpa == fold_bands(walls, model)[1].modulus_kpa


def test_coupons_take_the_place_of_what_is_assumed() -> None:
    """Walls 10 % wider than asked, in a stiffer filament; what was measured is less in doubt."""
    model = MaterialModel(SOLID, 0.48, covariance=np.diag([0.2, 0.0, 0.0, 0.0]))
    walls = Walls(20.0, 1.35, 6.0, 40.0)
    unknowns = np.array([np.log(1.5), np.log(1.1), 0.0, np.log(0.9), 0.0, 0.0])
    found = FoldsAsPrinted(unknowns, np.diag([0.04, 0.02, 0.7, 0.03, 0.4, 0.03]) ** 2, (25.0, 45.0), (0.9, 1.35), 0.3)
    guessed, measured = fold_band(walls, model), fold_band(walls, replace(model, folds=found))
    wider = stress_kpa(Walls(20.0, 1.485, 6.0, 40.0), np.array([0.1]), 1.5 * SOLID, 0.48)
    assert measured.value.secant_kpa() == pytest.approx(0.9 * float(wider[0, 0]) / 0.1, rel=1e-6)
    assert len(measured.shared) == 6
    assert all(low.secant_kpa() < high.secant_kpa() for low, high in measured.shared)
    spread = [np.log(each.modulus_kpa.high / each.modulus_kpa.low) for each in (guessed, measured)]
    assert spread[1] < 0.6 * spread[0]


def test_strain_and_steepest_slope_may_differ_from_place_to_place() -> None:
    walls = Walls([20.0, 20.0, 12.0], 1.35, 6.0, 0.0)
    slope, reached = slope_for(60.0, np.array([0.1, 0.3, 0.2]), walls, SOLID, POISSON, np.array([45.0, 45.0, 12.0]))
    one = [
        slope_for(60.0, strain, walls.at(place), SOLID, POISSON, most)
        for place, (strain, most) in enumerate([(0.1, 45.0), (0.3, 45.0), (0.2, 12.0)])
    ]
    assert slope == pytest.approx([float(each[0][0]) for each in one])
    assert reached == pytest.approx([float(each[1][0]) for each in one])
    assert slope[2] == 12.0
