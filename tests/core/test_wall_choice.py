"""Which walls a pad gets: as wide as stay soft enough."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.job.fill_table import Fill
from padwright.core.stages.folds.wall_choice import Places, WallChoice, choose_walls
from padwright.core.stages.material.folds.law import stress_kpa
from padwright.core.stages.material.folds.walls import Walls

SOLID_KPA, POISSON, BEAD, LAYER = 13_200.0, 0.45, 0.45, 0.2


def places(thickness, wished) -> Places:
    thickness = np.asarray(thickness, dtype=float)
    return Places(thickness, np.ones(len(thickness)), np.broadcast_to(np.asarray(wished, dtype=float), len(thickness)))


def chosen(on: Places, **asked) -> WallChoice:
    return choose_walls(
        on, replace(Fill(), **asked), bead_mm=BEAD, layer_mm=LAYER, solid_kpa=SOLID_KPA, poisson=POISSON
    )


def softest_kpa(core_mm: float, width: float, pitch: float) -> float:
    return float(stress_kpa(Walls(core_mm, width, pitch, 45.0), np.array([0.2]), SOLID_KPA, POISSON)[0, 0]) / 0.2


@pytest.mark.parametrize(("thickness", "wished"), [(8.0, 200.0), (12.0, 80.0), (18.0, 60.0), (26.0, 60.0)])
def test_walls_are_as_wide_as_stay_soft_enough(thickness, wished):
    found = chosen(places(np.full(50, thickness), wished))
    core = thickness - 2.0 * found.skin_mm
    assert softest_kpa(core, found.width_mm, found.pitch_mm) <= wished
    wider = found.width_mm + BEAD
    assert found.width_mm >= 4 * BEAD - 1e-9 or softest_kpa(core - 0.8, wider, wider + 5.0) > 0.8 * wished


def test_thicker_pads_get_wider_walls():
    widths = [chosen(places(np.full(50, each), 60.0)).width_mm for each in (8.0, 12.0, 16.0, 24.0)]
    assert widths == sorted(widths) and widths[-1] > widths[0]


def test_what_the_job_asks_for_is_taken():
    found = chosen(places(np.linspace(9.0, 26.0, 200), 65.0), wall_beads=2, pitch_mm=5.0, skin_layers=4, folds=2)
    assert (found.width_mm, found.pitch_mm, found.folds) == (pytest.approx(0.9), 5.0, 2)
    assert found.skin_mm == pytest.approx(0.8)


def test_skins_are_whole_layers_and_no_thinner_than_the_walls_want():
    found = chosen(places(np.full(50, 24.0), 60.0))
    assert found.skin_mm >= 0.8 * found.width_mm - 1e-9 and found.skin_mm >= 1.0
    assert found.skin_mm / LAYER == pytest.approx(round(found.skin_mm / LAYER))


def test_every_zone_counts_by_itself():
    thick, thin = np.full(180, 26.0), np.full(20, 9.0)
    both = places(np.concatenate([thick, thin]), np.concatenate([np.full(180, 60.0), np.full(20, 100.0)]))
    found = chosen(both)
    # The thin zone is a tenth of the pad, and its walls are narrow enough for it all the same.
    assert softest_kpa(9.0 - 2.0 * found.skin_mm, found.width_mm, found.pitch_mm) <= 1.2 * 100.0
    assert found.width_mm < chosen(places(thick, 60.0)).width_mm


def test_a_pitch_too_close_for_wide_walls_gets_narrow_ones():
    found = chosen(places(np.full(50, 24.0), 60.0), pitch_mm=1.5)
    assert found.width_mm <= 0.9 + 1e-9 and found.pitch_mm == 1.5
