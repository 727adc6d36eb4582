"""The check of the finished solid, layer by layer, on solids whose answers formulas give."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
from tests.support.folded_block import box, chevron_wall, folded_block, slab, to_mesh

from padwright.core.base.errors import InputError, SolidError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import Progress, drain
from padwright.core.stages.shape.slice_report import SliceLimits, SliceReport, refuse_loose_walls
from padwright.core.stages.shape.slices import check_slices

Solid = manifold3d.Manifold
BEAD, LAYER = 0.45, 0.2


def checked(solid: Solid, *, layer_mm: float = LAYER, **limits: float) -> SliceReport:
    return drain(check_slices(to_mesh(solid), layer_mm=layer_mm, bead_mm=BEAD, limits=SliceLimits(**limits)))


def on_floor(*solids: Solid) -> Solid:
    """Solids on a floor so large that the bed is seen from nowhere."""
    return box((-30, -30, 0), (30, 30, 1)) + Solid.batch_boolean(list(solids), manifold3d.OpType.Add)


def leaning(angle_deg: float, thick: float = 3.0) -> Solid:
    """A plate 20 mm high that leans by an angle from upright."""
    lean = 20.0 * np.tan(np.radians(angle_deg))
    x = np.array([[0.0, lean], [0.0, lean]])
    y, z = np.meshgrid([-8.0, 8.0], [0.5, 20.5], indexing="ij")
    front = np.stack([x - 0.5 * lean, y, z], -1)
    return slab(np.stack([front, front + np.array([thick / np.cos(np.radians(angle_deg)), 0.0, 0.0])]))


def portal(span: float, turned_deg: float = 0.0) -> Solid:
    """Two posts and a lintel over a gap."""
    posts = [box((-2 - span / 2, -9, 0.5), (-span / 2, 9, 8)), box((span / 2, -9, 0.5), (span / 2 + 2, 9, 8))]
    lintel = box((-2 - span / 2, -9, 8), (span / 2 + 2, 9, 10))
    return Solid.batch_boolean([*posts, lintel], manifold3d.OpType.Add).rotate((0, 0, turned_deg))


# --- overhang ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [20.0, 40.0, 44.0, 60.0, 75.0])
def test_the_overhang_is_the_angle_of_the_plate(angle: float) -> None:
    report = checked(on_floor(leaning(angle)))
    worst = report.hanging.overhang_deg
    assert worst is not None
    assert worst.value == pytest.approx(angle, abs=0.1)  # the face's own angle, no pixels in it
    x, y, z = worst.place_mm
    # The plate's under side is its far one along x; half a layer of slack for the pixel it was found in.
    lean = np.tan(np.radians(angle))
    assert abs(x - ((z - 10.5) * lean + 3.0 / np.cos(np.radians(angle)))) < 0.6
    assert -8.0 <= y <= 8.0
    assert abs(worst.layer - 1.0 - z / LAYER) <= 0.51  # cut half way up


@pytest.mark.parametrize(("angle", "is_error"), [(44.0, False), (48.0, False), (52.0, True)])
def test_only_well_beyond_the_limit_an_overhang_is_an_error(angle: float, is_error: bool) -> None:
    report = checked(on_floor(leaning(angle)))
    assert bool(report.errors) == is_error
    assert bool(report.notes) == (angle == 48.0)
    if is_error:
        assert "lean out over nothing" in report.errors[0]
        assert "as far as 52 degrees" in report.errors[0]


def test_an_overhang_on_a_spot_is_no_error() -> None:
    small = box((0, 0, 5), (2.6, 2.4, 6)) + box((-4, 0, 0.5), (0, 2.4, 6))  # 2.6 x 2.4 mm hang out flat
    assert not checked(on_floor(small)).errors
    large = box((0, 0, 5), (5.2, 4.8, 6)) + box((-4, 0, 0.5), (0, 4.8, 6))
    assert any("90 degrees" in each for each in checked(on_floor(large)).errors)


def test_a_ledge_of_half_a_bead_is_laid_on_what_is_below() -> None:
    ledge = box((-4, -8, 0.5), (0, 8, 6)) + box((-4, -8, 6), (0.2, 8, 8))
    report = checked(on_floor(ledge))
    assert not report.errors
    assert report.hanging.overhang_deg is None


def test_a_mushroom_hangs_out_flat_over_a_floor_and_is_supported_over_the_bed() -> None:
    mushroom = Solid.cylinder(8.0, 2.0, 2.0, 64).translate((0, 0, 0.5))
    mushroom += Solid.cylinder(2.0, 8.0, 8.0, 64).translate((0, 0, 8.5))
    hat = np.pi * (8.0**2 - 2.0**2)
    over_floor = checked(on_floor(mushroom))
    assert over_floor.hanging.overhang_deg is not None
    assert over_floor.hanging.overhang_deg.value == pytest.approx(90.0, abs=0.01)
    # Within a pixel or two of the stem it is held; 2 %: the area is counted in 60,000 places or fewer.
    assert 0.8 * hat < over_floor.hanging.too_far_mm2 < 1.02 * hat
    assert over_floor.hanging.supported_mm2 == 0.0
    over_bed = checked(mushroom.translate((0, 0, -0.5)))
    assert over_bed.hanging.supported_mm2 == pytest.approx(hat, rel=0.02)
    assert over_bed.hanging.overhang_deg is None
    assert not over_bed.errors


# --- bridges ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("span", "turned"), [(3.0, 0.0), (4.65, 30.0), (8.0, 45.0), (4.65, 71.0)])
def test_a_bridge_is_as_long_as_its_gap(span: float, turned: float) -> None:
    report = checked(on_floor(portal(span, turned)))
    bridge = report.hanging.bridge_mm
    assert bridge is not None
    # A pixel on each side, and 2 % where the gap lies between two of the eight directions.
    assert bridge.value == pytest.approx(span, abs=2.0 * report.pixel_mm + 0.02 * span)
    assert bridge.place_mm[2] == pytest.approx(8.0, abs=1e-6)
    assert bridge.layer == 41  # of .2 mm: the first over the gap
    assert report.hanging.too_far_mm2 < 10.0, "what is bridged does not hang out"


@pytest.mark.parametrize(("span", "errors", "notes"), [(4.5, 0, 0), (5.6, 0, 1), (7.0, 1, 0)])
def test_a_bridge_over_its_limit_by_a_fifth_is_an_error(span: float, errors: int, notes: int) -> None:
    report = checked(on_floor(portal(span)))
    assert (len(report.errors), len(report.notes)) == (errors, notes), (report.errors, report.notes)


def test_a_gap_is_bridged_across_its_narrow_way() -> None:
    ring = box((-12, -9, 0.5), (12, 9, 8)) - box((-10, -2, 0), (10, 2, 9))  # a trough 20 x 4 under a lid
    bridge = checked(on_floor(ring, box((-12, -9, 8), (12, 9, 10)))).hanging.bridge_mm
    assert bridge is not None
    assert bridge.value == pytest.approx(4.0, abs=0.35)


@pytest.mark.parametrize("turned", [0.0, 10.0, 61.0])
def test_a_roof_that_slopes_along_the_walls_is_bridged_step_by_step(turned: float) -> None:
    """Each layer adds a strip no wider than two beads from wall to wall, and none of the lines runs along it."""
    spread = 4.6
    walls = box((-2 - spread / 2, -9, 0.5), (2 + spread / 2, 9, 12)) - box(
        (-spread / 2, -10, 0.4), (spread / 2, 10, 13)
    )
    corner = [(x, y, z) for x in (-2 - spread / 2, 2 + spread / 2) for y, z in ((-9, 5), (9, 8.6), (-9, 12), (9, 12))]
    report = checked(on_floor((walls + Solid.hull_points(corner)).rotate((0, 0, turned))))  # 11 degrees from level
    assert report.hanging.too_far_mm2 < 5.0  # of 83 mm2; the strips' ends at the open sides
    assert report.hanging.bridge_mm is not None
    assert report.hanging.bridge_mm.value == pytest.approx(spread, abs=0.5)


def test_a_roof_that_slopes_across_the_walls_hangs_from_one_side() -> None:
    spread = 4.6
    walls = box((-2 - spread / 2, -9, 0.5), (2 + spread / 2, 9, 12)) - box(
        (-spread / 2, -10, 0.4), (spread / 2, 10, 13)
    )
    low, high = -2 - spread / 2, 2 + spread / 2
    corner = [(x, y, z) for y in (-9, 9) for x, z in ((low, 5), (high, 6.7), (low, 12), (high, 12))]
    report = checked(on_floor(walls + Solid.hull_points(corner)))  # 11 degrees from level
    assert report.hanging.too_far_mm2 > 20.0
    assert any("lean out over nothing" in each for each in report.errors)


@pytest.mark.parametrize("height", [8.0, 8.1, 8.1 - 1e-9, 8.1 + 1e-9])
def test_a_bridge_right_half_way_up_a_layer_is_one_too(height: float) -> None:
    posts = box((-4, -9, 0.5), (-2, 9, height)) + box((2, -9, 0.5), (4, 9, height))
    report = checked(on_floor(posts, box((-4, -9, height), (4, 9, 10))))
    assert report.hanging.bridge_mm is not None
    assert report.hanging.bridge_mm.value == pytest.approx(4.0, abs=0.35)
    assert not report.errors


def test_what_is_held_on_one_side_only_is_no_bridge() -> None:
    shelf = box((-6, -8, 0.5), (0, 8, 8)) + box((-6, -8, 8), (4, 8, 10))
    report = checked(on_floor(shelf))
    assert report.hanging.bridge_mm is None
    assert any("90 degrees" in each for each in report.errors)


# --- starts in the air ------------------------------------------------------------------------------------------------


def test_a_floating_cube_starts_in_the_air_over_a_floor() -> None:
    report = checked(on_floor(box((4, 4, 6), (7, 8, 9))))
    assert report.starts.in_air == 1
    largest = report.starts.largest_mm2
    assert largest is not None
    assert largest.value == pytest.approx(12.0, rel=0.1)  # 3 x 4 mm, counted in pixels
    assert largest.place_mm[:2] == pytest.approx((5.5, 6.0), abs=0.2)
    assert largest.layer == 31
    assert any("1 island would begin in the air" in each for each in report.errors)


def test_a_floating_cube_over_the_bed_stands_on_supports() -> None:
    report = checked(box((-9, -9, 0), (0, 0, 12)) + box((4, 4, 6), (7, 8, 9)))
    assert (report.starts.in_air, report.starts.on_supports) == (0, 1)
    assert not report.errors
    assert report.hanging.supported_mm2 == pytest.approx(12.0, rel=0.02)


def test_an_arch_that_rests_on_nothing_yet_is_two_starts() -> None:
    hanging_posts = box((-6, -3, 4), (-4, 3, 8)) + box((4, -3, 4), (6, 3, 8)) + box((-6, -3, 8), (6, 3, 10))
    assert checked(on_floor(hanging_posts)).starts.in_air == 2


def test_a_speck_of_a_few_beads_is_counted_and_no_error() -> None:
    report = checked(on_floor(box((4, 4, 6), (4.9, 4.9, 6.4))))
    assert (report.starts.in_air, report.starts.specks) == (0, 1)
    assert not [each for each in report.errors if "begin in the air" in each]


# --- width ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("width", "slope", "turned"), [(0.9, 0.0, 0.0), (1.35, 30.0, 20.0), (0.6, 45.0, 45.0), (1.35, 45.0, 90.0)]
)
def test_a_wall_is_as_wide_as_its_level_cut(width: float, slope: float, turned: float) -> None:
    wall = chevron_wall(0.0, 20.0, 0.5, 16.5, width, slope).rotate((0, 0, turned))
    found = checked(on_floor(wall)).least_width_mm
    assert found is not None
    assert found.value == pytest.approx(width, abs=1e-6)  # from outlines, not pixels


def test_a_wall_under_one_bead_is_an_error_and_one_bead_is_none() -> None:
    thin = checked(on_floor(chevron_wall(0.0, 20.0, 0.5, 16.5, 0.4, 20.0)))
    assert thin.least_width_beads == pytest.approx(0.4 / BEAD)
    assert any("0.40 mm wide" in each for each in thin.errors)
    assert not checked(on_floor(chevron_wall(0.0, 20.0, 0.5, 16.5, BEAD, 20.0))).errors


@pytest.mark.parametrize("sides", [75, 100, 150])
def test_a_bent_wall_of_one_bead_is_one_bead_wide(sides: int) -> None:
    # Its sides turn by 5 degrees or less from facet to facet, and lines cross them slanted.
    thick = BEAD / np.cos(np.pi / sides)
    tube = Solid.cylinder(16.0, 20.0, 20.0, sides) - Solid.cylinder(16.0, 20.0 - thick, 20.0 - thick, sides)
    report = checked(on_floor(tube.translate((0.0, 0.0, 0.5))))
    assert not report.errors
    assert report.least_width_mm is not None
    assert report.least_width_mm.value < 1.03 * BEAD  # nor is it told much wider


def test_the_thinnest_of_many_walls_is_named_with_its_place() -> None:
    walls = [chevron_wall(x, 20.0, 0.5, 16.5, 0.7 if x == 6.0 else 1.35, 20.0) for x in (-12.0, -3.0, 6.0, 15.0)]
    found = checked(on_floor(*walls)).least_width_mm
    assert found is not None
    assert found.value == pytest.approx(0.7, abs=1e-6)
    assert 5.0 < found.place_mm[0] < 10.0


def test_a_ridge_that_ends_in_an_edge_is_no_thin_wall() -> None:
    """A roof's ridge narrows to nothing in its last layers, and prints."""
    corner = np.array([[-9, -4], [9, -4], [9, 4], [-9, 4]], dtype=float)
    roof = Solid.hull_points([*((x, y, 0.5) for x, y in corner), (-9, 0, 8.5), (9, 0, 8.5)])
    report = checked(on_floor(roof))
    assert not report.errors


# --- walls that reach the roof ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("slope", [0.0, 45.0])
def test_walls_of_a_block_are_attached_at_both_ends(slope: float) -> None:
    report = checked(folded_block(slope_deg=slope))
    assert report.loose_tops.count == 0
    refuse_loose_walls(report)
    assert not report.errors, report.errors
    assert report.islands.max() == 1


@pytest.mark.parametrize("slope", [0.0, 20.0, 45.0])
def test_walls_short_of_the_roof_are_found(slope: float) -> None:
    report = checked(folded_block(slope_deg=slope, roof_gap=1.0))
    assert report.loose_tops.count >= 4  # six or seven walls cross the block; those at its ends are short
    longest = report.loose_tops.longest_mm
    assert longest is not None
    assert longest.value == pytest.approx(26.0, abs=1.5)  # 30 mm less two rims; near these it is held by them
    assert longest.place_mm[2] == pytest.approx(20.0 - LAYER / 2, abs=0.6)
    assert any("end under the roof" in each for each in report.errors)
    with pytest.raises(SolidError, match="walls would end under the roof"):
        refuse_loose_walls(report)


def test_one_short_wall_among_others_is_found() -> None:
    whole = folded_block(slope_deg=0.0)
    gap = box((13.0, 2.0, 20.0), (15.0, 28.0, 21.0))  # over the wall at x = 14
    report = checked(whole - gap)
    assert report.loose_tops.count == 1
    assert report.loose_tops.longest_mm is not None
    assert report.loose_tops.longest_mm.place_mm[0] == pytest.approx(14.0, abs=0.2)


def test_a_lone_post_short_of_the_roof_is_found() -> None:
    hall = box((0, 0, 0), (20, 20, 12)) - box((2, 2, 1), (18, 18, 11)) + box((5, 5, 0.5), (7, 7, 9))
    report = checked(hall, bridge_mm=20.0)
    assert report.loose_tops.count == 1


def test_a_hollow_in_a_floor_and_an_outlet_through_a_wall_are_no_loose_walls() -> None:
    outlet = box((-1, 12, 1.0), (41, 15, 4.0))  # 3 mm square through all walls
    assert checked(folded_block(slope_deg=10.0) - outlet).loose_tops.count == 0


# --- the whole --------------------------------------------------------------------------------------------------------


def test_layers_are_counted_measured_and_told_as_they_come() -> None:
    mesh, steps = to_mesh(folded_block()), list[Progress]()
    report = drain(check_slices(mesh, layer_mm=LAYER, bead_mm=BEAD, limits=SliceLimits()), steps.append)
    assert report.layer_count == 110
    assert report.area_mm2.sum() * LAYER == pytest.approx(mesh.volume, rel=1e-3)
    assert report.outline_mm[0] == pytest.approx(140.0)
    shares = [step.fraction for step in steps]
    assert shares == sorted(shares)
    assert len(shares) > 20
    assert shares[-1] == 1.0


def test_islands_are_counted() -> None:
    posts = [box((x, y, 0.5), (x + 2, y + 2, 8)) for x in (-9, 0, 9) for y in (-9, 5)]
    report = checked(on_floor(*posts))
    assert report.islands[2] == 1
    assert report.islands[20] == 6
    assert report.as_json()["most_islands"] == {"value": 6, "layer": 6}
    np.testing.assert_array_equal(report.loops, report.islands)


def test_closed_outlines_are_islands_and_holes() -> None:
    pipes = [Solid.cylinder(8, 3, 3, 32) - Solid.cylinder(8, 2, 2, 32) for _ in range(2)]
    report = checked(on_floor(pipes[0].translate((-9, 0, 0.5)), pipes[1].translate((9, 0, 0.5))))
    assert (report.islands[20], report.loops[20]) == (2, 4)


def test_what_cannot_be_cut_is_refused() -> None:
    with pytest.raises(InputError, match=r"reaches 3\.00 mm below the bed"):
        checked(box((0, 0, -3), (4, 4, 4)))
    with pytest.raises(InputError, match="0 faces"):
        drain(
            check_slices(
                TriMesh(np.zeros((0, 3)), np.zeros((0, 3))), layer_mm=LAYER, bead_mm=BEAD, limits=SliceLimits()
            )
        )
