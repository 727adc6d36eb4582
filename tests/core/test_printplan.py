"""The print plan: shell and core in closed form, orientation of shapes whose answer is plain, notes for the person."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import Float, TriMesh
from padwright.core.stages.material.region_settings import RegionSettings
from padwright.core.stages.printing.orientation import choose_orientation, lying
from padwright.core.stages.printing.print_plan import PrintPlan, plan_print
from padwright.core.stages.printing.shell import shell_and_core
from padwright.core.stages.printing.support_words import support_words
from support.packing import block
from support.pad_shapes import DOWN, seat_pad, sleeve_pad

UP = np.array([0.0, 0.0, 1.0])
SETTINGS = RegionSettings("m", 0.4, 0.45, 0.2, "gyroid", 15.0, 2, 3, 3, 30.0, 3.0)
BED = (220.0, 220.0, 250.0)


@dataclass(frozen=True)
class Body:
    mesh: TriMesh
    id: str = "a"
    name: str = "A"


def turn_of(axis: Float, angle: float) -> Float:
    axis = axis / np.linalg.norm(axis)
    cross = np.cross(np.eye(3), axis)
    return np.eye(3) * np.cos(angle) + (1 - np.cos(angle)) * np.outer(axis, axis) - np.sin(angle) * cross


def moved(mesh: TriMesh, turn: Float) -> TriMesh:
    matrix = np.eye(4)
    matrix[:3, :3] = turn
    return mesh.transformed(matrix)


def plan(mesh: TriMesh, press: Float | None = DOWN, **options: object) -> PrintPlan:
    return plan_print(
        [Body(mesh)],
        {"a": SETTINGS},
        mesh,
        density_g_cm3=1.21,
        bed_mm=BED,
        press_direction=press,
        **options,  # type: ignore[arg-type]
    )


def cylinder(radius: float, height: float, sides: int) -> TriMesh:
    angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    ring = np.column_stack([radius * np.cos(angle), radius * np.sin(angle), np.zeros(sides)])
    vertices = np.concatenate([ring, ring + np.array([0.0, 0.0, height]), [[0, 0, 0], [0, 0, height]]])
    one, two = np.arange(sides), np.roll(np.arange(sides), -1)
    low, high = np.full(sides, 2 * sides), np.full(sides, 2 * sides + 1)
    walls = [(one, two, two + sides), (one, two + sides, one + sides)]
    faces = [*walls, (two, one, low), (one + sides, two + sides, high)]
    return TriMesh(vertices, np.concatenate([np.column_stack(each) for each in faces]))


def together(one: TriMesh, other: TriMesh) -> TriMesh:
    faces = np.concatenate([one.faces, other.faces + len(one.vertices)])
    return TriMesh(np.concatenate([one.vertices, other.vertices]), faces)


def l_shape() -> TriMesh:
    """An upright prism over an L: 40 x 40 less its upper right quarter of 20 x 20, 10 high."""
    outline = np.array([[0.0, 0], [40, 0], [40, 20], [20, 20], [20, 40], [0, 40]])
    vertices = np.concatenate([np.column_stack([outline, np.full(6, z)]) for z in (0.0, 10.0)])
    caps = np.array([[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 4, 5]])
    one, two = np.arange(6), np.roll(np.arange(6), -1)
    walls = np.concatenate([np.column_stack([one, two, two + 6]), np.column_stack([one, two + 6, one + 6])])
    return TriMesh(vertices, np.concatenate([caps[:, ::-1], caps + 6, walls]))


@pytest.mark.parametrize("angle", [0.0, 1.1])
def test_shell_and_core_of_prisms_are_exact(angle: float) -> None:
    turn = turn_of(np.array([1.0, 2.0, 3.0]), angle)
    contours, skins = 1.2, 2.0
    box = shell_and_core(moved(block((0.0, 0.0, 0.0), (60.0, 40.0, 12.0), 3), turn), turn @ UP, contours, skins)
    assert box.core_mm3 == pytest.approx((60 - 2.4) * (40 - 2.4) * 10.0, rel=1e-9)
    assert box.contours_mm3 == pytest.approx((60 * 40 - (60 - 2.4) * (40 - 2.4)) * 12.0, rel=1e-9)
    assert box.core_mm3 + box.shell_mm3 == pytest.approx(60 * 40 * 12, rel=1e-12)
    # A regular polygon moves inward by making its inner circle smaller: area n (r cos(pi/n) - c)^2 tan(pi/n).
    many = 48
    tube = shell_and_core(moved(cylinder(15.0, 12.0, many), turn), turn @ UP, contours, skins)
    inner = many * (15.0 * np.cos(np.pi / many) - contours) ** 2 * np.tan(np.pi / many)
    assert tube.core_mm3 == pytest.approx(inner * 10.0, rel=1e-9)
    # Five outward corners of 90 degrees, one inward: its offset is round, c^2 pi/4 instead of c^2.
    angled = shell_and_core(moved(l_shape(), turn), turn @ UP, contours, skins)
    assert angled.core_mm3 == pytest.approx((1200 - 160 * contours + contours**2 * (5 - np.pi / 4)) * 8.0, rel=1e-9)


def test_contours_that_meet_leave_no_core() -> None:
    split = shell_and_core(block((0.0, 0.0, 0.0), (30.0, 2.0, 10.0)), UP, 1.2, 1.0)
    assert split.core_mm3 == 0.0 and split.shell_mm3 == pytest.approx(600.0)


def test_time_follows_the_speed_set_and_never_beats_the_flow() -> None:
    mesh = block((0.0, 0.0, 0.0), (60.0, 40.0, 12.0), 3)
    slow = plan(mesh)
    (region,) = slow.regions
    assert region.flow_speed_mm_s == pytest.approx(3.0 / region.bead_area_mm2)
    assert region.time_h == pytest.approx(region.flow_limit_h * region.flow_speed_mm_s / 30.0)
    assert slow.time_h.low == slow.flow_limit_h < slow.time_h.value < slow.time_h.high
    fast = plan_print(
        [Body(mesh)], {"a": replace(SETTINGS, max_speed_mm_s=500.0)}, mesh, density_g_cm3=1.21, bed_mm=BED,
        press_direction=DOWN,
    )  # fmt: skip
    assert fast.time_h.value == pytest.approx(fast.flow_limit_h) == pytest.approx(slow.flow_limit_h)


def test_cost_is_mass_times_price() -> None:
    found = plan(block((0.0, 0.0, 0.0), (60.0, 40.0, 12.0)), price_per_kg=45.0)
    assert found.cost is not None and found.cost.value == pytest.approx(found.mass_g.value * 0.045)
    assert plan(block((0.0, 0.0, 0.0), (60.0, 40.0, 12.0))).cost is None


def test_a_flat_part_lies_on_its_base_side_in_any_pose() -> None:
    for angle in (0.0, 0.7, 2.5):
        turn = turn_of(np.array([2.0, -1.0, 0.5]), angle)
        mesh = moved(block((0.0, 0.0, 0.0), (200.0, 150.0, 25.0), 3), turn)
        found = plan(mesh, turn @ DOWN).orientation
        assert found.name == "base side down" and found.is_good
        assert found.turn[2] == pytest.approx(-(turn @ DOWN))
        assert found.size_mm[2] == pytest.approx(25.0)
        assert found.support_cm2 == 0.0


def test_a_long_part_is_turned_about_the_upright_until_it_fits() -> None:
    found = plan(block((0.0, 0.0, 0.0), (270.0, 20.0, 10.0)))
    assert found.orientation.name == "base side down" and found.orientation.fits  # across the bed's diagonal
    stuck = plan(block((0.0, 0.0, 0.0), (400.0, 120.0, 10.0)))
    assert not stuck.orientation.fits and stuck.orientation.name == "base side down"
    assert any("does not fit the bed of 220 x 220 x 250 mm" in note for note in stuck.notes)


def test_a_table_is_turned_over_so_that_its_top_needs_no_support() -> None:
    """A plate on a thin leg: as it stands, the plate's underside hangs free; turned over, nothing does."""
    outline = ((-40.0, -40.0, 20.0), (40.0, 40.0, 25.0))
    plate, leg = block(*outline), block((-5.0, -5.0, 0.0), (5.0, 5.0, 20.0))
    mesh = together(plate, leg)
    under = (mesh.face_normals[:, 2] < -0.9) & (mesh.triangles[:, :, 2].max(axis=1) > 10.0)
    best, looked = choose_orientation(mesh, under, BED, np.eye(3), "as it was scanned")
    assert looked[0].body_support_cm2 == pytest.approx(64.0)
    assert best.turn[2] == pytest.approx([0.0, 0.0, -1.0]) and best.is_good
    assert best.support_cm2 == pytest.approx(1.0)  # the two blocks are not fused: the leg's own top, inside


def test_what_leans_by_45_degrees_needs_no_support_and_a_little_more_does() -> None:
    def flared(lean_deg: float) -> TriMesh:
        mesh = block((-10.0, -10.0, 0.0), (10.0, 10.0, 10.0))
        top = mesh.vertices[:, 2] > 5.0
        vertices = np.array(mesh.vertices)
        vertices[top, 0] += np.sign(vertices[top, 0]) * 10.0 * np.tan(np.radians(lean_deg))
        return TriMesh(vertices, mesh.faces)

    none = np.zeros(len(flared(0.0).faces), dtype=bool)
    for lean, area in ((45.0, 0.0), (46.0, 2 * 10.0 * np.tan(np.radians(46.0)) * 20.0 / 100.0)):
        found, _ = choose_orientation(flared(lean), none, BED, np.eye(3), "up")
        assert found.support_cm2 == pytest.approx(area, abs=1e-9)


def arch(rise_mm: float) -> TriMesh:
    """A block of 60 x 40 x 20 mm on a grid of 1 mm, its underside raised to rise (1 - (x/30)^2): a hollow base side."""
    mesh = block((-30.0, -20.0, 0.0), (30.0, 20.0, 20.0), 60)
    vertices = np.array(mesh.vertices)
    x, z = vertices[:, 0], vertices[:, 2]
    vertices[:, 2] = z + (1.0 - z / 20.0) * rise_mm * (1.0 - (x / 30.0) ** 2)
    return TriMesh(vertices, mesh.faces)


def test_a_hollow_base_side_is_told_with_its_area_and_its_height_above_the_bed() -> None:
    found = plan(arch(6.0), DOWN)
    way = found.orientation
    # By calculus: mean height of the arch 2/3 of its rise; it lies within 0.3 mm of the bed beyond x = 30 sqrt(.95).
    on_bed = 2 * 30.0 * (1.0 - np.sqrt(0.95)) * 40.0 / 100.0
    assert way.name == "base side down" and way.under_cm2 == pytest.approx(24.0)
    assert way.support_cm2 == pytest.approx(24.0 - on_bed, abs=2 * 40.0 / 100.0)  # to a face of 1 mm at either end
    assert way.support_mean_mm == pytest.approx(4.0, rel=0.05)  # of what is supported, so a little above
    assert way.support_most_mm == pytest.approx(6.0)
    (note,) = found.notes
    assert re.fullmatch(
        r"The base side is not flat: 2[34] of 24 cm2 need support, up to 6\.0 mm high, the body side none\.", note
    )
    flat = plan(arch(0.0), DOWN)
    assert flat.notes == () and flat.orientation.support_most_mm == 0.0


def test_supports_on_the_body_side_are_told_with_the_marks_they_leave() -> None:
    mesh = arch(6.0)
    down = mesh.face_normals[:, 2] < -0.5
    way = plan(mesh, None, is_body_face=down).looked_at[0]
    assert way.body_support_cm2 == way.support_cm2 > 20.0
    (words,) = support_words(way)
    assert words.startswith("The underside is not flat") and "cm2 of it on the body side, where supports leave" in words


def test_a_tall_leaning_part_does_not_stand_as_it_is() -> None:
    mesh = block((-10.0, -10.0, 0.0), (10.0, 10.0, 60.0))
    vertices = np.array(mesh.vertices)
    vertices[vertices[:, 2] > 30.0, 0] += 50.0  # leans by 40 degrees: no support, and its middle is beside its foot
    leaning = TriMesh(vertices, mesh.faces)
    found = plan(leaning)
    assert not found.looked_at[0].stands and found.orientation is not found.looked_at[0]
    assert any("it would rock" in note for note in found.notes)


def test_pads_keep_their_body_side_free_of_supports() -> None:
    for pad in (seat_pad(step=3.0), sleeve_pad(step=2.0)):
        is_body = (np.asarray(pad.side) == 1)[pad.mesh.faces].all(axis=1)
        found = plan(pad.mesh, pad.press_direction, is_body_face=is_body)
        assert found.orientation is found.looked_at[0] and found.orientation.is_good
        if pad.press_direction is not None:
            over = found.looked_at[1]
            assert over.name == "upside down" and over.body_support_cm2 > 100.0


def test_a_closed_hollow_is_told_with_size_and_place() -> None:
    outer, inner = block((0.0, 0.0, 0.0), (40.0, 40.0, 20.0)), block((10.0, 10.0, 5.0), (20.0, 20.0, 15.0)).flipped()
    found = plan(together(outer, inner))
    assert found.hollows == ((pytest.approx(1000.0), (15.0, 15.0, 10.0)),)
    assert any("1.00 cm3 at (15, 15, 10) mm would trap" in note for note in found.notes)


def test_a_wall_thinner_than_two_beads_is_told() -> None:
    mesh = block((0.0, 0.0, 0.0), (60.0, 40.0, 12.0))
    assert any("0.8 mm, less than two beads (0.9 mm)" in note for note in plan(mesh, least_wall_mm=0.8).notes)
    assert plan(mesh, least_wall_mm=0.95).notes == ()


def test_a_turn_that_lies_is_a_turn() -> None:
    for up in np.random.default_rng(0).normal(size=(20, 3)):
        turn = lying(up)
        assert turn @ turn.T == pytest.approx(np.eye(3)) and np.linalg.det(turn) == pytest.approx(1.0)
        assert turn @ up == pytest.approx([0.0, 0.0, np.linalg.norm(up)])


def test_nonsense_is_told() -> None:
    with pytest.raises(InputError, match="no region"):
        plan_print([], {}, block((0, 0, 0), (1, 1, 1)), density_g_cm3=1.2, bed_mm=BED, press_direction=None)
    with pytest.raises(InputError, match="0 g/cm3"):
        mesh = block((0.0, 0.0, 0.0), (60.0, 40.0, 12.0))
        plan_print([Body(mesh)], {"a": SETTINGS}, mesh, density_g_cm3=0.0, bed_mm=BED, press_direction=DOWN)
