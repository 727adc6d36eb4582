"""The body skin on folded walls: when it slides off, against closed forms of sheets and springs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.stages.folds.sway import ACROSS_WEAKENED, SIDE_SHARE, Sheet, sway, turned

ACROSS, ALONG, PRESSURE, HEIGHT = 12.0, 700.0, 18.0, 20.0


def sheet(nx: int = 24, ny: int = 18, run_deg: float = 90.0, step: float = 4.0, **changed: object) -> Sheet:
    """A rectangle of walls that run one way, by default along the second axis."""
    shape = (nx, ny)
    tensor = turned(np.full(shape, ALONG), np.full(shape, ACROSS), np.full(shape, np.radians(run_deg)))
    made = Sheet(
        step, np.ones(shape, bool), np.full(shape, HEIGHT), tensor, np.full(shape, PRESSURE), 1.2, 13200.0, 0.45
    )
    return replace(made, **changed)  # type: ignore[arg-type]


def test_straight_walls_alone_hold_what_they_hold_across() -> None:
    """However stiff the skin: it moves as one. Exact but for rounding."""
    found = sway(sheet())
    assert found.margin == pytest.approx(ACROSS / (ACROSS_WEAKENED * PRESSURE), rel=1e-6)
    assert min(found.way_deg, 180.0 - found.way_deg) < 0.5
    assert found.creep_mm == np.inf


@pytest.mark.parametrize("run_deg", [0.0, 30.0, 90.0, 135.0])
def test_walls_that_hold_give_as_springs_do_and_most_across_their_run(run_deg: float) -> None:
    found = sway(sheet(run_deg=run_deg, pressure_kpa=np.full((24, 18), 4.0)))
    left = (ACROSS - ACROSS_WEAKENED * 4.0) / HEIGHT
    assert found.creep_mm == pytest.approx(SIDE_SHARE * 4.0 / left, rel=1e-6)
    assert abs((found.creep_way_deg - run_deg) % 180.0 - 90.0) < 0.5


def test_a_stretch_between_solid_ends_is_held_by_its_skin_too() -> None:
    """k + E' t (pi / l)^2, the first shape of a bar held at both ends; 2 %: its ends give a little."""
    shape, held = (60, 6), 5
    stiff = turned(np.full(shape, ALONG), np.full(shape, ACROSS), np.full(shape, np.pi / 2))
    stiff[:, :held] = stiff[:, -held:] = np.array([1e7, 0.0, 1e7])[:, None, None]
    found = sway(sheet(*shape, stiffness_kpa=stiff, poisson=0.0))
    length = 4.0 * (60 - 2 * held)
    springs = ACROSS / HEIGHT + 13200.0 * 1.2 * (np.pi / length) ** 2
    assert found.margin == pytest.approx(springs * HEIGHT / (ACROSS_WEAKENED * PRESSURE), rel=0.02)
    assert 25 <= found.most_cell[0] <= 34


def test_two_halves_that_run_across_each_other_hold_each_other() -> None:
    """Each alone slides off at half its load; the skin ties what is weak to what is strong."""
    run = np.full((24, 18), np.pi / 2)
    run[12:] = 0.0
    tensor = turned(np.full(run.shape, ALONG), np.full(run.shape, ACROSS), run)
    assert sway(sheet(stiffness_kpa=tensor)).margin > 4.0 * sway(sheet()).margin


def test_cells_half_as_wide_tell_nearly_the_same() -> None:
    """2 %: the bend of a sheet between its frame's sides, over 11 cells or 22."""
    margins = []
    for fine in (1, 2):
        nx, ny = 24 * fine, 18 * fine
        i, j = np.meshgrid(np.arange(nx), np.arange(ny), indexing="ij")
        rim = np.minimum(np.minimum(i, nx - 1 - i), np.minimum(j, ny - 1 - j)) < 3 * fine
        by_side = np.minimum(j, ny - 1 - j) < np.minimum(i, nx - 1 - i)
        run = np.where(rim & by_side, 0.0, np.pi / 2)
        tensor = turned(np.full(run.shape, ALONG), np.full(run.shape, ACROSS), run)
        margins.append(sway(sheet(nx, ny, step=6.0 / fine, stiffness_kpa=tensor)).margin)
    assert margins[0] == pytest.approx(margins[1], rel=0.02)


def test_more_load_is_less_margin_and_none_is_no_matter() -> None:
    one = sway(sheet()).margin
    assert sway(sheet(pressure_kpa=np.full((24, 18), 2 * PRESSURE))).margin == pytest.approx(one / 2, rel=1e-9)
    assert sway(sheet(pressure_kpa=np.zeros((24, 18)))).margin == np.inf


def test_a_pad_that_nothing_holds_is_refused() -> None:
    with pytest.raises(InputError, match="holds"):
        sheet(stiffness_kpa=np.zeros((3, 24, 18)))
    with pytest.raises(InputError, match="no pad"):
        sheet(is_pad=np.zeros((24, 18), bool))
    with pytest.raises(InputError, match="0 mm high"):
        sheet(height_mm=np.zeros((24, 18)))
