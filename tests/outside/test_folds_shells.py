"""Folded walls in shell elements: the elements against closed forms, waves and whole pads against the product.

The elements share nothing with the product's law but the linear theory of thin walls; kinks are lines in them.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.sparse import csr_matrix

from padwright.core.stages.folds.sway import sway
from padwright.core.stages.material.folds.law import modulus_kpa, shear_kpa, stress_kpa
from padwright.core.stages.material.folds.walls import Walls
from support.fold_layouts import Laid, Layout, Outline
from support.fold_unit import FoldUnit
from support.shells import Held, Shell, assemble, element_stiffness, factors, membrane_forces, stress_stiffness

SOLID, POISSON = 13200.0, 0.45
PLANE, SHEAR = SOLID / (1.0 - POISSON**2), SOLID / (2.0 * (1.0 + POISSON))
PITCH = 6.0


def beam_kpa(unit: FoldUnit) -> float:
    """Guided strips in series: bending, shortening, shearing [own derivation]."""
    slope = np.radians(unit.slope_deg)
    thick, long = unit.width_mm * np.cos(slope), unit.height_mm / unit.folds / 2.0 / np.cos(slope)
    gives = (long * np.sin(slope)) ** 2 / (PLANE * thick**3 * np.cos(slope)) + np.cos(slope) / (PLANE * thick)
    gives += 1.2 * np.sin(slope) ** 2 / (SHEAR * thick * np.cos(slope))
    return float(1.0 / unit.pitch_mm / gives)


@pytest.mark.parametrize(
    "unit",
    [
        FoldUnit(20.0, 0.9, PITCH, 45.0),
        FoldUnit(20.0, 1.35, PITCH, 30.0),
        FoldUnit(20.0, 1.8, PITCH, 10.0),
        FoldUnit(20.0, 0.9, PITCH, 45.0, folds=2),
        FoldUnit(24.0, 0.9, PITCH, 30.0, folds=3),
    ],
)
def test_straight_walls_are_strips_in_series_with_as_many_folds(unit: FoldUnit) -> None:
    """2 %: straight elements bend too stiffly by 1/(2 rows)^2 or so of a clamped strip."""
    assert unit.stiffness_kpa(SOLID, POISSON, rows=10)[2, 2] == pytest.approx(beam_kpa(unit), rel=0.02)


def test_finer_elements_come_down_to_the_closed_form() -> None:
    unit = FoldUnit(20.0, 0.9, PITCH, 45.0)
    off = [unit.stiffness_kpa(SOLID, POISSON, rows=rows)[2, 2] / beam_kpa(unit) - 1.0 for rows in (3, 6, 12)]
    assert off[0] > 3.0 * off[1] > 9.0 * off[2] > 0.0


def test_a_column_gives_way_where_euler_says() -> None:
    """A strip clamped below, its head held upright and free to move aside: pi^2 E I / H^2, in plane strain.

    1 %: 12 elements over the height.
    """
    high, thick, count = 20.0, 0.8, 12
    z = np.linspace(0.0, high, count + 1)
    points = np.array([[0.0, y, height] for height in z for y in (0.0, 5.0)])
    quads = np.array([[2 * i, 2 * i + 1, 2 * i + 3, 2 * i + 2] for i in range(count)])
    shell = Shell(points, quads, np.full(count, thick), 1e-3 * SOLID, POISSON)
    head, rows, columns = 2 * count, [], []
    for node in range(2, 2 * count):  # nothing moves along y nor turns about x: plane strain
        for axis in (0, 2, 4):
            rows.append(6 * node + axis)
            columns.append(3 * (node // 2 - 1) + (0, 2, 4).index(axis))
    for node in (head, head + 1):  # one move aside, one down
        rows += [6 * node, 6 * node + 2]
        columns += [3 * (count - 1), 3 * (count - 1) + 1]
    ties = csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(6 * len(points), 3 * (count - 1) + 2))
    matrix = (ties.T @ assemble(shell, element_stiffness(shell)) @ ties).tocsc()
    solved = factors(matrix)
    down = np.zeros(matrix.shape[0])
    down[-1] = -1.0
    moves = (ties @ solved.solve(down)).reshape(-1, 6)  # type: ignore[attr-defined]
    turning = assemble(shell, stress_stiffness(shell, membrane_forces(shell, moves)))
    found = Held(shell, ties).lowest(matrix, solved, turning, 1)[0][0]
    euler = np.pi**2 * 1e-3 * PLANE * thick**3 / 12.0 * 5.0 / high**2
    assert found == pytest.approx(euler, rel=0.01)


@pytest.mark.parametrize(
    ("height_mm", "width_mm", "slope_deg", "wave_deg", "wave_mm"),
    [
        (20.0, 0.9, 45.0, 15.0, 120.0),
        (20.0, 0.9, 45.0, 15.0, 60.0),
        (20.0, 1.8, 35.0, 15.0, 120.0),
        (20.0, 1.35, 30.0, 25.0, 120.0),
        (10.0, 1.35, 40.0, 15.0, 120.0),
        (20.0, 0.9, 15.0, 15.0, 80.0),
    ],
)
def test_a_wave_holds_sideways_and_stiffens_the_press_as_the_law_says(
    height_mm: float, width_mm: float, slope_deg: float, wave_deg: float, wave_mm: float
) -> None:
    """Over the straight wall's, whose ends the two see differently. 10 %: one bend stands for all of a wave's."""
    straight = FoldUnit(height_mm, width_mm, PITCH, slope_deg)
    waved = FoldUnit(height_mm, width_mm, PITCH, slope_deg, 1, wave_deg, wave_mm)
    plain, rippled = (unit.stiffness_kpa(SOLID, POISSON, size_mm=2.5) for unit in (straight, waved))
    walls = Walls(height_mm, width_mm, PITCH, slope_deg)
    wavy = walls.changed(waver=waved.waver, radius_mm=waved.bend_mm)
    stiffer = modulus_kpa(wavy, SOLID, POISSON)[0] / modulus_kpa(walls, SOLID, POISSON)[0]
    assert stiffer == pytest.approx(rippled[2, 2] / plain[2, 2], rel=0.1)
    assert shear_kpa(wavy, SOLID, POISSON)[0][0] == pytest.approx(rippled[0, 0], rel=0.1)


def test_a_short_wave_holds_less_than_a_long_one() -> None:
    """Its halves turn against each other: under a third at 20 mm of what 80 mm of the same steepness hold."""

    def held(wave_mm: float) -> float:
        return float(FoldUnit(20.0, 0.9, PITCH, 45.0, 1, 15.0, wave_mm).stiffness_kpa(SOLID, POISSON)[0, 0])

    bare = FoldUnit(20.0, 0.9, PITCH, 45.0).stiffness_kpa(SOLID, POISSON)[0, 0]
    assert held(20.0) - bare < 0.4 * (held(80.0) - bare)


def test_a_filament_of_8_or_45_mpa_moves_all_pressures_alike() -> None:
    strain = np.linspace(0.02, 0.45, 12)
    walls = Walls([20.0, 10.0], [1.35, 0.9], PITCH, [30.0, 12.0])
    soft, firm = (stress_kpa(walls, strain, solid, POISSON) for solid in (8000.0, 45000.0))
    assert firm == pytest.approx(soft * 45.0 / 8.0, rel=1e-9)


SMALL = Outline((55.0, 40.0), 25.0)


@cache
def small(rings: int, folds: int = 1) -> Laid:
    """Straight rows of 100 kPa on a pad of 110 x 80 mm."""
    name = f"{rings} rings"
    return Laid(SMALL, Layout(name, None if folds > 1 else rings, folds), 100.0, 4.0, 4.0, 3)


def test_rows_without_a_frame_slide_off_where_the_sheet_says() -> None:
    """15 %: rows end free, and their ends hold less than the sheet knows."""
    laid = small(0)
    margins, aside = laid.shells.sway_margin(18.0)
    assert aside[0] > 0.5
    assert sway(laid.sheet(18.0)).margin == pytest.approx(margins[0], rel=0.15)


def test_a_frame_of_two_rings_holds_them() -> None:
    assert small(2).shells.sway_margin(18.0, 2)[0][0] > 2.0
    assert sway(small(2).sheet(18.0)).margin > 2.0


def test_two_folds_snake_under_a_seated_body() -> None:
    """Whatever holds the skin: the walls go aside halfway up, the skin does not."""
    margins, aside = small(0, 2).shells.sway_margin(18.0)
    assert margins[0] < 1.5
    assert aside[0] < 0.05
