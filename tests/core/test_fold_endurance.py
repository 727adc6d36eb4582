"""What hours and years do to folded walls."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.job.material_cards import FOLD_UNKNOWNS
from padwright.core.stages.material.folds.elastica import solve_segment
from padwright.core.stages.material.folds.endurance import BREAKS_AT, LONG_TERM, endure, strain_under
from padwright.core.stages.material.folds.law import outer_strain, plateau_kpa, stress_kpa
from padwright.core.stages.material.folds.softening import Softening
from padwright.core.stages.material.folds.walls import Walls
from padwright.core.stages.material.material_model import NINETY, FoldsAsPrinted, MaterialModel

POISSON = 0.48
MODEL = MaterialModel(13200.0, POISSON, covariance=np.diag([(np.log(2.0) / NINETY) ** 2, 0.0, 0.0, 0.0]))
SOLID = MODEL.solid
EVER_ELASTIC = Softening(1e6)


def test_outer_fibers_are_strained_by_half_the_thickness_times_the_curvature() -> None:
    """2 %: the table is linear between its nodes. The curvature of a clamped end is that of the rod itself."""
    walls = Walls(20.0, 1.35, 6.0, 20.0)
    free, length = float(walls.free_length_mm[0]), float(walls.segment_mm[0])
    slenderness = float(walls.thickness_mm[0]) / free
    _, strain, outer = solve_segment(np.radians(20.0), slenderness, np.radians([35.0, 50.0, 60.0]), EVER_ELASTIC)
    found = outer_strain(walls, strain * free / length, EVER_ELASTIC)[0]
    assert found == pytest.approx(outer, rel=0.02)
    assert 0.1 < float(outer[-1]) < 0.25


def test_walls_strained_far_across_their_layers_are_told() -> None:
    """As thick as this they are strained by more than half at the least, so a third of what breaks layers is passed."""
    thick = Walls(6.0, 1.8, 6.0, 10.0)
    load = stress_kpa(thick, np.array([0.35]), SOLID.value, POISSON)[0]
    told = endure(thick, load, np.ones(1), MODEL)
    assert told.outer_strain.value == pytest.approx(float(outer_strain(thick, np.array([0.35]))[0, 0]), rel=0.02)
    assert told.break_share.value == pytest.approx(told.outer_strain.value / BREAKS_AT.value)
    assert told.break_share.low < told.break_share.value < told.break_share.high
    assert any("break printed layers" in note for note in told.notes)
    calm = endure(Walls(20.0, 1.35, 6.0, 40.0), np.array([1.0]), np.ones(1), MODEL)
    assert calm.notes == ()


def test_a_bearing_zone_stays_under_half_of_what_hours_leave_of_its_plateau() -> None:
    steep, leaning = Walls(20.0, 1.35, 6.0, 15.0), Walls(20.0, 2.25, 6.0, 42.0)
    load = np.array([18.0])
    share = 18.0 / (float(plateau_kpa(steep, SOLID.value, POISSON)[0]) * LONG_TERM.value)
    told = endure(steep, load, np.ones(1), MODEL)
    assert told.plateau_share.value == pytest.approx(share)
    assert share > 0.5 and any("go on sinking" in note for note in told.notes)
    assert not endure(leaning, load, np.ones(1), MODEL).notes
    assert told.after_hours.value > 1.5


def test_upright_walls_level_off_at_their_plateau() -> None:
    """Slender ones, from 2 % on; an elastica carries half as much more per strain as it did to begin to bend."""
    walls = Walls(40.0, 0.9, 6.0, 0.0)
    strain = np.linspace(0.02, 0.2, 10)
    stress = stress_kpa(walls, strain, SOLID.value, POISSON, EVER_ELASTIC)[0]
    plateau = float(plateau_kpa(walls, SOLID.value, POISSON)[0])
    assert stress / plateau == pytest.approx(1.0 + 0.5 * strain, rel=0.02)


def test_what_rings_bear_raises_the_plateau() -> None:
    """Upright walls in rings come near Euler's load and what their hoops bear, 9 %: what shortens is in series."""
    walls = Walls(40.0, 0.9, 6.0, 0.0, radius_mm=60.0)
    stress = stress_kpa(walls, np.array([0.2, 0.25, 0.3]), SOLID.value, POISSON, EVER_ELASTIC)[0]
    plateau = float(plateau_kpa(walls, SOLID.value, POISSON)[0])
    assert plateau > 2.0 * float(plateau_kpa(walls.changed(radius_mm=np.inf), SOLID.value, POISSON)[0])
    assert stress == pytest.approx(plateau, rel=0.09)


def test_the_worst_place_is_told_and_the_give_is_a_mean_over_the_area() -> None:
    walls = Walls(20.0, 1.8, 6.0, [40.0, 30.0, 40.0])
    load = np.array([5.0, 20.0, 12.0])
    told = endure(walls, load, np.array([2.0, 1.0, 1.0]), MODEL)
    share = load / plateau_kpa(walls, SOLID.value, POISSON)
    assert told.place == int(np.argmax(share))
    first, later = (strain_under(walls, load, SOLID.value * part, POISSON) for part in (1.0, LONG_TERM.value))
    weight = np.array([2.0, 1.0, 1.0])
    assert told.after_hours.value == pytest.approx(float(weight @ later) / float(weight @ first))


def test_pressed_blocks_count_here_too() -> None:
    """Walls come out a tenth wider and 3 degrees steeper, of twice the modulus: known to a tenth instead of a half."""
    walls, load = Walls(20.0, 1.35, 6.0, 30.0), np.array([10.0])
    unknowns = np.zeros(len(FOLD_UNKNOWNS))
    unknowns[:3] = np.log(2.0), np.log(1.1), -3.0
    spread = np.zeros((len(FOLD_UNKNOWNS), len(FOLD_UNKNOWNS)))
    spread[0, 0] = (np.log(1.1) / NINETY) ** 2
    found = FoldsAsPrinted(unknowns, spread, (10.0, 45.0), (0.9, 1.8), 0.4)
    told = endure(walls, load, np.ones(1), replace(MODEL, folds=found))
    printed = Walls(20.0, 1.485, 6.0, 27.0)
    plateau = 2.0 * float(plateau_kpa(printed, 13200.0, POISSON)[0]) * LONG_TERM.value
    assert told.plateau_share.value == pytest.approx(10.0 / plateau)
    assert told.plateau_share.high == pytest.approx(1.1 * 10.0 / plateau * LONG_TERM.value / LONG_TERM.low)
