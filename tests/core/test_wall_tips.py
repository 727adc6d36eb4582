"""Tips of half-printed walls, found in the layers of whole solids."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.folded_block import Solid, box, chevron_wall, folded_block, to_mesh

from padwright.core.base.progress import drain
from padwright.core.stages.shape.layer_stack import stack_layers
from padwright.core.stages.shape.slice_report import SliceLimits, SliceReport
from padwright.core.stages.shape.slices import check_slices
from padwright.core.stages.shape.tips import DRAG_N, SolidStuff, WallTip, tip_stiffness, weakest_tip
from padwright.core.stages.shape.wall_widths import WallPieces

STUFF = SolidStuff(13.2, 0.48)
FLOOR = box((-40, -70, 0), (40, 70, 1))


def checked(solid: Solid) -> SliceReport:
    return drain(check_slices(to_mesh(solid), layer_mm=0.2, bead_mm=0.45, limits=SliceLimits(), stuff=STUFF))


def tip_of(solid: Solid) -> WallTip:
    tip = checked(solid).tip
    assert tip is not None
    return tip


def test_stiffness_goes_as_the_third_power_of_thickness_and_the_second_of_height() -> None:
    one = tip_stiffness(10.0, 0.9, 0.0, 1.0, STUFF)
    plate = 13.2 * 0.9**3 / (12.0 * (1.0 - 0.48**2))
    assert one == pytest.approx(5.2 * plate / 100.0)
    assert tip_stiffness(10.0, 1.8, 0.0, 1.0, STUFF) == pytest.approx(8.0 * one)
    assert tip_stiffness(20.0, 0.9, 0.0, 1.0, STUFF) == pytest.approx(one / 4.0)
    assert tip_stiffness(10.0, 0.9, 60.0, 1.0, STUFF) == pytest.approx(one / 8.0)
    np.testing.assert_allclose(
        tip_stiffness(10.0, 0.9, 0.0, np.array([0.5, 1.0, 2.25, 4.0, 900.0]), STUFF) / one,
        [0.5**1.3, 1.0, 1.5, 2.0, 2.0],
    )


@pytest.mark.parametrize("slope", [0.0, 30.0])
def test_a_lone_wall_is_softest_at_its_top_and_its_ends(slope: float) -> None:
    wall = chevron_wall(0.0, 100.0, 0.5, 60.5, 1.35, slope).translate((0, -50, 0)).trim_by_plane((0, 0, -1), -14.0)
    tip = tip_of(FLOOR + wall)
    assert tip.width_mm == pytest.approx(1.35)
    assert tip.slope_deg == pytest.approx(slope, abs=0.1)
    # Up to the last whole millimeter of layers; what is floor is known to two layers.
    assert tip.height_mm == pytest.approx(12.5, abs=0.8)
    assert abs(tip.moves_mm.place_mm[1]) > 45.0
    assert tip.held == pytest.approx(0.52, abs=0.04)  # half of a wall that runs on, and the mm from its end
    assert tip.stiffness_n_mm == pytest.approx(float(tip_stiffness(tip.height_mm, 1.35, slope, tip.held, STUFF)))
    assert tip.moves_mm.value == pytest.approx(DRAG_N / tip.stiffness_n_mm)


def test_a_wall_with_its_ends_held_is_softest_in_its_middle() -> None:
    wall = box((-0.6, -50, 0.5), (0.6, 50, 14))
    ends = box((-9, -52, 0.5), (9, -48, 14)) + box((-9, 48, 0.5), (9, 52, 14))
    tip = tip_of(FLOOR + wall + ends)
    assert abs(tip.moves_mm.place_mm[1]) < 40.0
    assert tip.held == pytest.approx(1.0, abs=0.05)


def test_the_thinnest_of_several_walls_is_named() -> None:
    walls = [
        chevron_wall(x, 60.0, 0.5, 60.5, 0.9 if x == 10.0 else 1.35, 10.0).translate((0, -30, 0)) for x in (-20.0, 10.0)
    ]
    tip = tip_of((FLOOR + walls[0] + walls[1]).trim_by_plane((0, 0, -1), -12.0))
    assert tip.width_mm == pytest.approx(0.9)


def test_a_short_walled_block_has_nothing_to_say_and_a_tall_thin_one_has() -> None:
    low = checked(folded_block((40.0, 30.0, 8.0), slope_deg=10.0, width=1.8))
    assert low.tip is not None
    assert not low.notes
    high = checked(folded_block((40.0, 90.0, 30.0), slope_deg=40.0, width=0.9))
    assert any("a drag of 0.05 N, assumed" in note for note in high.notes)
    assert not any("nozzle" in error for error in high.errors), "what is assumed refuses nothing"


@pytest.mark.parametrize(("slope", "is_wall"), [(45.0, True), (78.0, False)])
def test_a_skin_that_slopes_is_no_wall(slope: float, is_wall: bool) -> None:
    mesh = to_mesh(FLOOR + box((-0.7, -20, 0.5), (0.7, 20, 10)))
    stack = drain(stack_layers(mesh, 0.2, lambda *_: None))
    piece = WallPieces(np.array([[0.0, 0.0, 8.1]]), np.array([1.4]), np.array([slope]), 5)
    assert (weakest_tip(stack, piece, np.array([7.1]), STUFF) is not None) == is_wall


def test_without_the_stuff_nothing_is_said_of_tips() -> None:
    report = drain(check_slices(to_mesh(folded_block()), layer_mm=0.2, bead_mm=0.45, limits=SliceLimits()))
    assert report.tip is None
    assert report.as_json()["tip"] is None
