"""Folded walls that move aside as a whole: the law's stresses against our own chains of links."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.stages.material.folds.law import shear_kpa, snake_kpa, stress_kpa, sway_kpa
from padwright.core.stages.material.folds.softening import Softening
from padwright.core.stages.material.folds.walls import Walls
from support.folded_rod import FoldedRod

SOLID, POISSON, PITCH, HEIGHT, WIDTH = 13200.0, 0.3, 10.0, 200.0, 0.5
"""Walls so slender that only bending counts, as in the rods; far apart, so that they do not touch."""
EVER_ELASTIC = Softening(1e6)


def rod_kpa(folds: int, slope_deg: float, strains: list[float], *, is_held: bool) -> np.ndarray:
    thick = WIDTH * np.cos(np.radians(slope_deg))
    unit = SOLID / (1.0 - POISSON**2) * thick**3 / 12.0 / HEIGHT**2 / PITCH
    rod = FoldedRod(folds, slope_deg, is_held=is_held)
    return unit * np.array([rod.press(strain)[0] for strain in strains])


@pytest.mark.parametrize(("slope_deg", "folds"), [(45.0, 1), (15.0, 1), (45.0, 2)])
def test_skins_that_cannot_slide_keep_walls_of_one_fold_in_shape(slope_deg: float, folds: int) -> None:
    """Also two folds at 45 degrees. 4 %: the rods' links (1 %), the table, and the kinks that rods have not."""
    strains = [0.02, 0.05, 0.1, 0.2, 0.3, 0.4]
    walls = Walls(HEIGHT, WIDTH, PITCH, slope_deg, folds)
    law = stress_kpa(walls, np.array(strains), SOLID, POISSON, EVER_ELASTIC)[0]
    assert law == pytest.approx(rod_kpa(folds, slope_deg, strains, is_held=True), rel=0.04)


@pytest.mark.parametrize("slope_deg", [15.0, 30.0, 35.0])
def test_two_folds_move_aside_halfway_up(slope_deg: float) -> None:
    """6 %: a smooth way into the other shape, where the law takes the lesser of two."""
    strains = [0.05, 0.1, 0.2, 0.3, 0.4]
    law = stress_kpa(Walls(HEIGHT, WIDTH, PITCH, slope_deg, 2), np.array(strains), SOLID, POISSON, EVER_ELASTIC)[0]
    assert law == pytest.approx(rod_kpa(2, slope_deg, strains, is_held=True), rel=0.06)
    half = Walls(HEIGHT / 2, WIDTH, PITCH, slope_deg)
    stays = stress_kpa(half, np.array(strains), SOLID, POISSON, EVER_ELASTIC)[0]
    assert stays[-1] > 1.35 * law[-1]


@pytest.mark.parametrize(("slope_deg", "folds"), [(45.0, 2), (30.0, 2), (30.0, 3), (15.0, 1)])
def test_skins_free_to_slide_bear_no_more_than_the_sway_stress(slope_deg: float, folds: int) -> None:
    strains = [0.1, 0.2, 0.3, 0.45]
    found = rod_kpa(folds, slope_deg, strains, is_held=False)
    walls = Walls(HEIGHT, WIDTH, PITCH, slope_deg, folds)
    assert sway_kpa(walls, np.array(strains), SOLID, POISSON)[0] == pytest.approx(found, rel=0.05)


def test_walls_that_wave_in_plan_do_not_snake() -> None:
    """Their plates stand against moving aside, and that is far stiffer than their bending."""
    straight, waved = Walls(HEIGHT, WIDTH, PITCH, 15.0, 2), Walls(HEIGHT, WIDTH, PITCH, 15.0, 2, waver=0.05)
    assert shear_kpa(waved, SOLID, POISSON)[0] > 20.0 * shear_kpa(straight, SOLID, POISSON)[0]
    strain = np.array([0.3])
    snakes = float(snake_kpa(straight, strain, SOLID, POISSON)[0, 0])
    assert float(stress_kpa(straight, strain, SOLID, POISSON)[0, 0]) == pytest.approx(snakes)
    assert float(stress_kpa(waved, strain, SOLID, POISSON)[0, 0]) > 2.0 * snakes
