"""A folded wall: its stiffness at small strain, how it levels off, how it fails to bend, and what it may not do."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_bvp, trapezoid
from scipy.optimize import minimize

from padwright.core.base.errors import InputError
from padwright.core.stages.material.folds.elastica import elastica_strain, solve_segment
from padwright.core.stages.material.folds.law import closing_strain, modulus_kpa, shear_kpa, stress_kpa
from padwright.core.stages.material.folds.softening import Softening
from padwright.core.stages.material.folds.walls import Walls

SOLID, POISSON = 13200.0, 0.45
EVER_ELASTIC = Softening(1e6)


def one(walls: Walls) -> float:
    return float(modulus_kpa(walls, SOLID, POISSON)[0])


def test_bending_goes_with_the_cube_of_thickness_and_the_square_of_height() -> None:
    """In a slender wall nothing but bending counts: 1/M = p l^2 s^2 / (E' t^3 c) with l = H / (2 c)."""
    slender = Walls(60.0, 0.3, 6.0, 45.0)
    plane = SOLID / (1.0 - POISSON**2)
    length, thick = 30.0 * np.sqrt(2.0), 0.3 * np.sqrt(0.5)
    by_hand = plane * thick**3 * np.sqrt(0.5) / (6.0 * length**2 * 0.5)
    assert one(slender) == pytest.approx(by_hand, rel=0.02)  # the kinks take 0.4 % off the length
    assert one(Walls(120.0, 0.3, 6.0, 45.0)) / one(slender) == pytest.approx(0.25, rel=0.02)
    assert one(Walls(60.0, 0.6, 6.0, 45.0)) / one(slender) == pytest.approx(8.0, rel=0.03)


def test_upright_walls_carry_by_their_solid_share() -> None:
    """Their feet give as much as 0.36 of a thickness more of wall would."""
    upright = Walls(20.0, 1.2, 6.0, 0.0)
    assert one(upright) == pytest.approx(0.2 * SOLID / (1.0 - POISSON**2) / (1.0 + 0.36 * 1.2 / 10.0), rel=1e-3)


def test_two_folds_are_two_walls_of_half_the_height() -> None:
    two, half = Walls(20.0, 0.9, 6.0, 45.0, folds=2), Walls(10.0, 0.9, 6.0, 45.0)
    strain = np.linspace(0.0, 0.25, 6)  # before they move aside halfway up
    assert stress_kpa(two, strain, SOLID, POISSON) == pytest.approx(stress_kpa(half, strain, SOLID, POISSON))
    assert one(two) > 3.5 * one(Walls(20.0, 0.9, 6.0, 45.0))


@pytest.mark.parametrize("slope_deg", [0.0, 5.0, 20.0, 45.0, 60.0])
def test_stress_begins_with_the_modulus_and_never_falls(slope_deg: float) -> None:
    walls = Walls(20.0, 1.35, 6.0, slope_deg, radius_mm=[np.inf, 40.0, 12.0], waver=[0.0, 0.1, 0.0])
    strain = np.concatenate([[0.0, 1e-5], np.linspace(0.002, 0.94, 400)])
    stress = stress_kpa(walls, strain, SOLID, POISSON)
    assert (stress[:, 0] == 0.0).all()
    assert (np.diff(stress, axis=1) >= 0.0).all()
    # 3 %: the table is linear between slopes and slendernesses.
    assert stress[:, 1] / 1e-5 == pytest.approx(modulus_kpa(walls, SOLID, POISSON), rel=0.03)


def test_a_segment_that_only_bends_is_the_elastica() -> None:
    """A slender one against elliptic integrals and against the differential equation."""
    slope, turned = np.radians(30.0), np.radians(60.0)
    force, strain, _ = solve_segment(slope, np.array(1e-3), turned, EVER_ELASTIC)
    assert float(strain) == pytest.approx(float(elastica_strain(slope, turned)), abs=2e-6)

    def bends(_: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.vstack([y[1], -float(force) * np.sin(y[0])])

    s = np.linspace(0.0, 1.0, 41)
    guess = np.vstack([slope + (turned - slope) * np.sin(np.pi * s), np.pi * (turned - slope) * np.cos(np.pi * s)])
    found = solve_bvp(bends, lambda a, b: np.array([a[0] - slope, b[0] - slope]), s, guess, tol=1e-9)
    assert found.success
    assert float(found.sol(0.5)[0]) == pytest.approx(turned, abs=1e-5)


def test_walls_touch_when_a_level_cut_is_as_wide_as_the_pitch() -> None:
    touching = closing_strain(Walls(20.0, 1.2, 6.0, [0.0, 30.0, 45.0]))
    assert (touching > 0.35).all() and (touching < 0.55).all()
    assert float(closing_strain(Walls(20.0, 1.2, 2.0, 45.0))[0]) < 0.28
    strain = np.array([0.9, 1.02]) * float(closing_strain(Walls(20.0, 1.2, 6.0, 30.0))[0])
    before, after = stress_kpa(Walls(20.0, 1.2, 6.0, 30.0), strain, SOLID, POISSON)[0]
    assert after > 1.1 * before


def test_touching_neighbors_leave_less_and_less_free() -> None:
    """Against a chain of links none of which may turn further than neighbors let it: 5 % (its links, the table)."""
    slope, count = np.radians(30.0), 60
    walls = Walls(60.0, 1.2, 6.0, 30.0)  # slender, so that only bending counts
    thick, length = float(walls.thickness_mm[0]), float(walls.segment_mm[0])
    most = np.arccos(thick / 6.0)

    def energy(angle: np.ndarray) -> tuple[float, np.ndarray]:
        bent = np.diff(np.concatenate([[slope], angle, [slope]]))
        weight = np.full(count + 1, float(count))
        weight[[0, -1]] *= 2.0
        return 0.5 * float(weight @ bent**2), (weight * bent)[:-1] - (weight * bent)[1:]

    def stored(strain: float, start: np.ndarray) -> tuple[float, np.ndarray]:
        lost = {
            "type": "eq",
            "fun": lambda angle: np.cos(angle).mean() - np.cos(slope) * (1.0 - strain),
            "jac": lambda angle: -np.sin(angle) / count,
        }
        found = minimize(energy, start, jac=True, method="SLSQP", bounds=[(0.0, most)] * count, constraints=[lost],
                         options={"maxiter": 500, "ftol": 1e-12})  # fmt: skip
        assert found.success
        return float(found.fun), found.x

    shut = float(closing_strain(walls)[0]) * length / float(walls.free_length_mm[0])
    shape = np.minimum(slope + (most - slope) * np.sin(np.pi * (np.arange(count) + 0.5) / count), most)
    for way in (0.25, 0.5):
        strain = shut + way * (1.0 - 1.2 / 6.0 - shut)
        below, shape = stored(strain - 0.005, shape)
        above, _ = stored(strain + 0.005, shape)
        force = (above - below) / 0.01 / np.cos(slope)
        unit = SOLID / (1.0 - POISSON**2) * thick**3 / 12.0 / length**2 / 6.0
        law = float(stress_kpa(walls, np.array([strain]), SOLID, POISSON, EVER_ELASTIC)[0, 0])
        assert law == pytest.approx(unit * force, rel=0.05)


def test_near_solid_the_stress_goes_straight_on() -> None:
    """From eight tenths of the way on, at 25 times the stress at touching, as steep as it came there: 2 / 0.2^3."""
    walls = Walls(20.0, 1.2, 6.0, 30.0)
    shut = float(closing_strain(walls)[0])
    way = np.array([0.0, 0.8, 0.9, 1.0])
    stress = stress_kpa(walls, shut + way * (1.0 - 0.2 - shut), SOLID, POISSON)[0]
    assert stress / stress[0] == pytest.approx([1.0, 25.0, 50.0, 75.0])


@pytest.mark.parametrize("radius_mm", [3000.0, 400.0, 150.0])
def test_rings_are_strips_on_springs(radius_mm: float) -> None:
    """A slender segment held by E t / R^2 along the fold's way, its fold pressed aside without turning: its equation.

    1.5 %: what shortens and what the ends give. Eight tenths of the hoops count.
    """
    slope, width = np.radians(40.0), 0.6
    straight = Walls(40.0, width, 6.0, 40.0)
    thick, length = width * np.cos(slope), 20.0 / np.cos(slope)
    spring = SOLID * thick / radius_mm**2 * np.cos(slope) ** 2  # across the strip
    bend = SOLID / (1.0 - POISSON**2) * thick**3 / 12.0

    def deep(_: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.vstack([y[1], y[2], y[3], -spring * length**4 / bend * y[0]])

    def ends(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.array([a[0], a[1], b[1], b[0] - 1.0])

    s = np.linspace(0.0, 1.0, 61)
    guess = np.vstack([s * s * (3.0 - 2.0 * s), 6.0 * s * (1.0 - s), 6.0 - 12.0 * s, np.full_like(s, -12.0)])
    found = solve_bvp(deep, ends, s, guess, tol=1e-7)
    assert found.success
    factor = -float(found.sol(1.0)[3]) / 12.0
    law = one(straight.changed(radius_mm=radius_mm)) / one(straight)
    assert (law - 1.0) / 0.8 == pytest.approx(factor - 1.0, rel=0.015)


def test_a_strip_that_softens_bends_by_its_outer_fibers() -> None:
    """Its moment is the integral of stress times distance over the thickness; the energy's inverse gives it back."""
    law = Softening(0.5)
    for outer in (1e-4, 4e-3, 0.1, 0.4, 2.0):
        strain = outer * np.linspace(0.0, 1.0, 20001)
        stress = strain / (1.0 + strain / 0.5)
        exact = 3.0 * trapezoid(stress * np.linspace(0.0, 1.0, 20001), dx=1.0 / 20000) / outer
        assert float(law.moment_ratio(np.array(outer))) == pytest.approx(exact, rel=1e-4)
    slenderness = 0.2
    bent = np.linspace(0.0, 8.0, 4001)
    moment = bent * law.moment_ratio(0.5 * slenderness * bent)
    energy = np.concatenate([[0.0], np.cumsum(0.5 * (bent[1:] + bent[:-1]) * np.diff(moment))])
    assert law.curvature(energy, slenderness)[10:] == pytest.approx(bent[10:], rel=1e-3)


def test_shear_across_is_that_of_a_clamped_zigzag() -> None:
    walls = Walls(20.0, 1.2, 6.0, 30.0)
    across, along = (float(each[0]) for each in shear_kpa(walls, SOLID, POISSON))
    assert along == pytest.approx(SOLID / 2.9 * 1.2 * 0.75 / 6.0, rel=1e-3)
    assert across < 0.05 * along
    # A waved wall stands askew to its run: closer to the next and steeper across itself.
    askew = Walls(20.0, 1.2, 6.0 * np.sqrt(0.9), np.degrees(np.arctan(np.tan(np.radians(30.0)) * np.sqrt(0.9))))
    across, along = (float(each[0]) for each in shear_kpa(askew, SOLID, POISSON))
    waved = float(shear_kpa(Walls(20.0, 1.2, 6.0, 30.0, waver=0.1), SOLID, POISSON)[0][0])
    assert waved == pytest.approx(0.9 * across + 0.1 * along)


@pytest.mark.parametrize(
    ("length_mm", "slope_deg", "width_mm", "factor"),
    [
        (60.0, 45.0, 0.9, 2.58), (80.0, 45.0, 0.9, 2.32), (120.0, 45.0, 0.9, 1.90), (160.0, 45.0, 0.9, 1.64),
        (120.0, 35.0, 1.8, 1.20), (120.0, 30.0, 1.35, 1.26), (120.0, 15.0, 0.9, 1.32),
    ],
)  # fmt: skip
def test_waves_in_plan_cost_softness(length_mm: float, slope_deg: float, width_mm: float, factor: float) -> None:
    """Walls waved by 15 degrees at most, as shell elements have them: 5 %."""
    turn = np.linspace(0.0, np.pi, 400)
    swing = np.tan(np.radians(15.0)) * np.cos(turn)
    bends = 2.0 * np.pi / length_mm * np.tan(np.radians(15.0)) * np.sin(turn) / (1.0 + swing**2) ** 1.5
    straight = Walls(20.0, width_mm, 6.0, slope_deg)
    waved = straight.changed(
        radius_mm=1.0 / np.sqrt(np.mean(bends**2)), waver=float(np.mean(swing**2 / (1.0 + swing**2)))
    )
    assert one(waved) / one(straight) == pytest.approx(factor, rel=0.05)


def test_a_straight_wall_askew_to_its_run_folds_across_itself() -> None:
    """It has no bends: nothing shears or stretches."""
    askew = Walls(20.0, 0.9, 6.0, 45.0, waver=0.04)
    across = Walls(20.0, 0.9, 6.0 * np.sqrt(0.96), np.degrees(np.arctan(np.sqrt(0.96))))
    assert one(askew) == pytest.approx(one(across))


def test_leaning_more_is_softer_and_pressing_more_is_firmer_for_any_wall() -> None:
    """Cores of 4 to 28 mm, walls of 1 to 5 beads up to a fifth as wide, with and without rings, waves, two folds."""
    rng = np.random.default_rng(1)
    count = 400
    height, width = rng.uniform(4.0, 28.0, count), 0.45 * rng.integers(1, 6, count)
    width = np.minimum(width, height / 5.0)
    pitch = np.maximum(width / rng.uniform(0.15, 0.45, count), 2.0)
    radius = np.where(rng.random(count) < 0.3, np.inf, rng.uniform(15.0, 400.0, count))
    waver = np.where(rng.random(count) < 0.5, 0.0, rng.uniform(0.0, 0.1, count))
    walls = Walls(height, width, pitch, 0.0, rng.choice([1, 1, 1, 2], count), radius, waver)
    strain = np.linspace(0.0, 0.95, 96)
    steps = [walls.at_slope(np.full(count, slope_deg)) for slope_deg in np.arange(0.0, 46.0, 3.0)]
    leaning = np.array([stress_kpa(each, strain, SOLID, POISSON) for each in steps])
    assert np.isfinite(leaning).all()
    assert (np.diff(leaning, axis=2) >= 0.0).all()
    assert (leaning[:, :, 1:] > 0.0).all()
    assert (leaning[1:, :, 1:41] < leaning[:-1, :, 1:41]).all()  # up to 40 %, where the first neighbors touch
    shut = closing_strain(steps[-1])
    assert (shut < 1.0 - width / (pitch * np.sqrt(1.0 - waver))).all()


def test_what_cannot_be_built_is_refused() -> None:
    with pytest.raises(InputError, match="no room at a pitch of 6 mm"):
        Walls(20.0, 6.5, 6.0, 20.0)
    with pytest.raises(InputError, match="slope_deg cannot be 85"):
        Walls(20.0, 0.9, 6.0, [20.0, 85.0])
