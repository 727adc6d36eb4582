"""The law of folded walls beside an earlier reckoning of the same walls, and what a wrong build would show."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.stages.material.folds.law import modulus_kpa, stress_kpa
from padwright.core.stages.material.folds.softening import Softening
from padwright.core.stages.material.folds.walls import Walls

SOLID, POISSON = 13200.0, 0.45
EVER_ELASTIC = Softening(1e6)

# Height, width, pitch, slope; modulus at small strain and stress at 5, 10, 25 and 40 %, kPa: a chain of links clamped
# at its ends, shortening and shearing added, ends that neither give nor stiffen, told in whole kPa.
EARLIER = [
    ((20.0, 0.9, 6.0, 45.0), (5, 0, 0, 1, 1)),
    ((20.0, 0.9, 6.0, 30.0), (33, 1, 2, 4, 5)),
    ((20.0, 0.9, 6.0, 20.0), (110, 3, 5, 8, 10)),
    ((20.0, 0.9, 6.0, 10.0), (476, 8, 11, 14, 16)),
    ((20.0, 1.35, 6.0, 45.0), (17, 1, 1, 3, 4)),
    ((20.0, 1.35, 6.0, 30.0), (106, 4, 7, 13, 18)),
    ((20.0, 1.35, 6.0, 20.0), (342, 11, 18, 27, 34)),
    ((20.0, 1.35, 6.0, 10.0), (1263, 27, 35, 46, 53)),
    ((20.0, 1.8, 8.0, 30.0), (180, 7, 13, 24, 31)),
    ((20.0, 1.8, 8.0, 10.0), (1727, 46, 61, 80, 93)),
    ((10.0, 0.9, 6.0, 45.0), (19, 1, 2, 4, 5)),
    ((10.0, 0.9, 6.0, 20.0), (364, 13, 20, 32, 39)),
    ((10.0, 1.35, 6.0, 30.0), (352, 15, 27, 51, 68)),
    ((10.0, 1.35, 6.0, 10.0), (2344, 83, 126, 174, 203)),
]


@pytest.mark.parametrize(("walls", "earlier"), EARLIER)
def test_an_earlier_reckoning(walls: tuple[float, ...], earlier: tuple[float, ...]) -> None:
    """Modulus within 9 %: feet give at steep walls, kinks stiffen leaning ones.

    Stresses within half a kPa and 10 %, under steep thick walls (a sixth of what is left) 17 %, since their feet give.
    """
    place = Walls(*walls)
    assert float(modulus_kpa(place, SOLID, POISSON)[0]) == pytest.approx(earlier[0], rel=0.09)
    stress = stress_kpa(place, np.array([0.05, 0.1, 0.25, 0.4]), SOLID, POISSON, EVER_ELASTIC)[0]
    off = 0.17 if walls[3] <= 10.0 else 0.10
    assert stress == pytest.approx(np.array(earlier[1:], dtype=float), rel=off, abs=0.55)


def test_a_solid_that_softens_takes_a_seventh_off_at_most_where_walls_bend_little() -> None:
    """And up to a third where outer fibers are strained by 0.3."""
    strain = np.array([0.25])
    for walls, most in (((20.0, 1.35, 6.0, 30.0), 0.07), ((10.0, 1.35, 6.0, 10.0), 0.20)):
        softer, ever = (stress_kpa(Walls(*walls), strain, SOLID, POISSON, law) for law in (Softening(), EVER_ELASTIC))
        assert 0.5 * most < 1.0 - float(softer[0, 0] / ever[0, 0]) < most


# Rings of a core of 20 mm in bands of radius: how much stiffer than straight; true thickness (mm) and slope.
BANDS = ((6.0, 30.0), (30.0, 54.0), (60.0, 84.0), (120.0, 144.0))
RINGS = [
    ((20.0, 0.9, 45.0, 2), (1.8, 1.13, 1.03, 1.0)),
    ((20.0, 0.9, 45.0, 1), (9.6, 3.6, 2.0, 1.2)),
    ((20.0, 1.35, 45.0, 1), (4.8, 2.1, 1.3, 1.0)),
    ((20.0, 1.35, 20.0, 1), (3.0, 1.7, 1.2, 1.0)),
    ((20.0, 1.35, 10.0, 1), (1.5, 1.2, 1.0, 0.9)),
    ((10.0, 0.9, 45.0, 1), (1.8, 1.15, 1.03, 1.0)),
]


@pytest.mark.parametrize(("wall", "earlier"), RINGS)
def test_rings_stiffen_with_their_radius(wall: tuple[float, float, float, int], earlier: tuple[float, ...]) -> None:
    """A fifth; in the innermost band, where a mean over it says little, 36 %. Ours are the higher: in that reckoning
    skins were free to follow."""
    height, thick, slope, folds = wall
    straight = Walls(height, thick / np.cos(np.radians(slope)), 6.0, slope, folds)
    for number, (band, factor) in enumerate(zip(BANDS, earlier, strict=True)):
        radius = np.linspace(*band, 25)
        rings = modulus_kpa(straight.changed(radius_mm=radius), SOLID, POISSON)
        mean = float((rings * radius).sum() / radius.sum()) / float(modulus_kpa(straight, SOLID, POISSON)[0])
        assert mean == pytest.approx(factor, rel=0.2 if number else 0.36)


@pytest.mark.parametrize(("height_mm", "factor"), [(20.0, 1.5), (10.0, 2.65), (7.0, 4.5)])
def test_gables_take_from_the_free_height(height_mm: float, factor: float) -> None:
    """A gable of 45 degrees over half the gap on one side, 2.55 mm, is as much as half of that at both ends: 16 %."""
    bridges = Walls(height_mm, 0.9, 6.0, 45.0)
    free = height_mm - (6.0 - 0.9) / 2.0
    gable = modulus_kpa(bridges.changed(height_mm=free), SOLID, POISSON) * height_mm / free
    assert float(gable[0] / modulus_kpa(bridges, SOLID, POISSON)[0]) == pytest.approx(factor, rel=0.16)


def test_each_place_may_have_a_solid_of_its_own() -> None:
    """Filaments sold as 85A have 8 to 45 MPa: stress goes with it."""
    walls = Walls([20.0, 20.0], 1.35, 6.0, 30.0, radius_mm=[50.0, 50.0], waver=0.05)
    strain = np.array([0.05, 0.2])
    soft, stiff = stress_kpa(walls, strain, np.array([8000.0, 45000.0]), POISSON)
    assert stiff / soft == pytest.approx(45.0 / 8.0)
    moduli = modulus_kpa(walls, np.array([8000.0, 45000.0]), POISSON)
    assert moduli[1] / moduli[0] == pytest.approx(45.0 / 8.0)


def test_the_level_cut_is_not_the_thickness() -> None:
    """At 45 degrees a level cut shows 1.41 times the thickness: taken for it, the wall would be 2.8 times as stiff."""
    leaning, upright = Walls(40.0, 0.9, 6.0, 45.0), Walls(40.0, 0.9, 6.0, 0.0)
    assert leaning.thickness_mm[0] == pytest.approx(0.9 / np.sqrt(2.0))
    assert upright.thickness_mm[0] == 0.9
    twice = leaning.changed(width_mm=0.9 * np.sqrt(2.0))
    assert float(modulus_kpa(twice, SOLID, POISSON)[0]) == pytest.approx(2.8 * one(leaning), rel=0.05)


def one(walls: Walls) -> float:
    return float(modulus_kpa(walls, SOLID, POISSON)[0])
