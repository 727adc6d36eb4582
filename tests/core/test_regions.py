from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from padwright.core.base.errors import InputError, SolidError
from padwright.core.base.mesh import Float, TriMesh
from padwright.core.base.progress import drain
from padwright.core.geometry.through import PadShape, body_side
from padwright.core.stages.regions.ladder import ladder, ring_ladder
from padwright.core.stages.regions.least_width import tidied
from padwright.core.stages.regions.regions import RegionCut, cut_regions
from padwright.core.stages.regions.surface_cut import cut_surface
from padwright.core.stages.regions.walls import UnpairedBorderError, build_walls
from padwright.core.stages.zones.blends import BlendWish
from padwright.core.stages.zones.zone_sources import Outline, Rest, Weights
from padwright.core.stages.zones.zones import ZonePlan, ZoneRequest, plan_zones
from support.pad_shapes import ShapedPad, box_pad, seat_pad, sleeve_pad

REST = ZoneRequest("rest", 2.0, Rest())


@cache
def box() -> ShapedPad:
    return box_pad()


@cache
def seat() -> ShapedPad:
    return seat_pad(step=2.0)


@cache
def seat_with_opening() -> ShapedPad:
    return seat_pad(step=2.0, hole_mm=14.0)


@cache
def sleeve() -> ShapedPad:
    return sleeve_pad()


def circle(x: float, y: float, radius: float, count: int = 60) -> Float:
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn), np.zeros(count)], axis=1)


def right_of(x: float) -> Outline:
    return Outline(np.array([[x, -500.0, 0], [500, -500, 0], [500, 500, 0], [x, 500, 0]]))


def above(y: float) -> Outline:
    return Outline(np.array([[-500, y, 0], [500, y, 0], [500, 500, 0], [-500, 500.0, 0]]))


def cut(pad: PadShape, requests: list[ZoneRequest], least: float = 1.0, blends=(), overlap: float = 0.0) -> RegionCut:
    plan = plan_zones(pad, None, requests, blends=blends)
    return drain(cut_regions(pad, plan, least_width_mm=least, overlap_mm=overlap))


def volumes(result: RegionCut) -> dict[str, float]:
    return {region.id: region.mesh.volume for region in result.regions}


def check_sound(pad: ShapedPad, result: RegionCut) -> None:
    """Closed regions, volumes that add up, and shared faces that are the same point for point, turned over."""
    assert all(region.mesh.is_closed for region in result.regions)
    assert sum(volumes(result).values()) == pytest.approx(pad.mesh.volume, rel=1e-9)
    meshes = {region.id: region.mesh for region in result.regions}
    shared = 0.0
    for contact in result.contacts:
        one = meshes[contact.first].triangles[contact.first_faces]
        two = meshes[contact.second].triangles[contact.second_faces][:, ::-1]
        same = [(one == np.roll(two, turn, axis=1)).all(axis=(1, 2)) for turn in range(3)]
        assert np.any(same, axis=0).all()
        shared += contact.area_mm2
    outside = sum(mesh.area for mesh in meshes.values()) - pad.mesh.area
    # every inner face counts in two regions; no other face is inner
    assert outside == pytest.approx(2 * shared, rel=1e-6)


SCENES = {
    "two zones side by side": (box, [ZoneRequest("right", 4, right_of(7.0)), REST]),
    "one inside the other": (box, [ZoneRequest("mid", 4, Outline(circle(3, -2, 14))), REST]),
    "three that meet": (box, [ZoneRequest("right", 4, right_of(7.0)), ZoneRequest("up", 1, above(3.0)), REST]),
    "circles over the rim": (seat, [ZoneRequest("c", 4, Outline(circle(x, -40, 30))) for x in (-60, 60)] + [REST]),
    "beside an opening": (seat_with_opening, [ZoneRequest("mid", 4, Outline(circle(12, 3, 18))), REST]),
    "around an opening": (seat_with_opening, [ZoneRequest("mid", 4, Outline(circle(0, 0, 26))), REST]),
}


@pytest.mark.parametrize("scene", SCENES)
@pytest.mark.parametrize("blends", [(), (BlendWish(1, 7.0),)])
def test_regions_are_closed_and_share_their_faces_exactly(scene: str, blends):
    pad, requests = SCENES[scene]
    check_sound(pad(), cut(pad(), requests, blends=blends))


def test_a_straight_border_divides_the_volume_as_the_formula_says():
    result = cut(box(), [ZoneRequest("right", 4, right_of(10.0)), REST])
    # the profile of the box is the same for every x but for the rounded ends, which are alike: moving the border from
    # the middle by 10 mm moves 10 mm of profile: 50 x 12 less four corners of (1 - pi / 4) r^2, r = 1.5
    profile = 50 * 12 - 4 * (1 - np.pi / 4) * 1.5**2
    # the border is straight to a tenth of a 1.5 mm edge at its two ends, in volume less than 0.05 mm x profile
    assert (volumes(result)["rest"] - volumes(result)["right"]) / 2 == pytest.approx(10.0 * profile, abs=0.05 * profile)
    (contact,) = result.contacts
    assert contact.area_mm2 == pytest.approx(profile, rel=0.005)


def test_a_round_border_cuts_a_cylinder_along_the_press_direction():
    result = cut(box(), [ZoneRequest("mid", 4, Outline(circle(3, -2, 14))), REST])
    radius = 14 - 2.5**2 / (2 * 14)  # rounding moves a round border in by s^2 / (2 r)
    assert volumes(result)["mid"] == pytest.approx(np.pi * radius**2 * 12.0, rel=0.01)
    (contact,) = result.contacts
    mid = next(region.mesh for region in result.regions if region.id == "mid")
    wall = mid.vertices[np.unique(mid.faces[contact.first_faces])]
    # crossings keep a little away from vertices: at most 0.06 of an edge of up to 2.2 mm
    assert np.abs(np.hypot(wall[:, 0] - 3, wall[:, 1] + 2) - radius).max() < 0.15
    assert np.abs(mid.face_normals[contact.first_faces][:, 2]).max() < 0.05


def test_a_wall_around_a_sleeve_follows_the_normals():
    pad = sleeve()
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    points = np.stack([18 * np.cos(0.6 * np.cos(turn)), 18 * np.sin(0.6 * np.cos(turn)), 14 * np.sin(turn)], axis=1)
    result = cut(pad, [ZoneRequest("palm", 4, Outline(points)), ZoneRequest("top", 1, upper_half(pad)), REST])
    check_sound(pad, result)
    assert [region.id for region in result.regions] == ["palm", "top", "rest"]
    contact = next(c for c in result.contacts if {c.first, c.second} == {"top", "rest"})
    meshes = {region.id: region.mesh for region in result.regions}
    wall = meshes[contact.first].vertices[np.unique(meshes[contact.first].faces[contact.first_faces])]
    # the border lies at z = 5 on the body side, half an edge either way; the way inward is radial to 10 degrees
    # (1.2 mm waves over a 9 mm length), 1 mm over the 6 mm of the wall
    assert np.abs(wall[:, 2] - 5.0).max() < 1.6


def upper_half(pad: ShapedPad) -> Weights:
    return Weights(pad.mesh.vertices, np.clip(0.5 + (pad.mesh.vertices[:, 2] - 5.0) / 4.0, 0, 1))


def test_pieces_are_numbered_along_the_axis_on_which_they_lie_apart():
    result = cut(seat(), [ZoneRequest("bone", 4, Outline(circle(x, 0, 15))) for x in (30, -30)] + [REST])
    assert [region.id for region in result.regions] == ["bone-1", "bone-2", "rest"]
    assert result.regions[0].mesh.bounds[1, 0] < 0 < result.regions[1].mesh.bounds[0, 0]
    assert result.regions[1].name == "bone 2"
    assert any("in 2 pieces" in note for note in result.notes)


def test_one_zone_gives_the_pad_itself():
    result = cut(box(), [REST])
    assert result.contacts == ()
    (region,) = result.regions
    assert region.mesh.volume == pytest.approx(box().mesh.volume, rel=1e-12)
    assert region.volume_cm3 == pytest.approx(region.mesh.volume / 1000)


# --- nothing thinner than the least width -------------------------------------------------------------------------


def sharp_plan(pad: ShapedPad, *lead: Float) -> ZonePlan:
    """A plan whose zone i is where its field is the largest, with no smoothing in between."""
    plan = plan_zones(pad, None, [REST])
    field = np.stack(lead, axis=1)
    weights = np.exp(field - field.max(axis=1, keepdims=True))
    weights /= weights.sum(axis=1, keepdims=True)
    zones = tuple(replace(plan.zones[0], id=f"z{i}", name=f"z{i}", level=float(i)) for i in range(len(lead)))
    return ZonePlan(zones, weights, weights.argmax(axis=1).astype(np.int32))


def test_a_strip_thinner_than_the_least_width_goes_to_its_neighbors():
    x = box().mesh.vertices[:, 0]
    plan = sharp_plan(box(), 2.5 - np.abs(x), 0.0 * x)
    kept = drain(cut_regions(box(), plan, least_width_mm=0.8))
    assert [region.id for region in kept.regions] == ["z0", "z1-1", "z1-2"]
    gone = drain(cut_regions(box(), plan, least_width_mm=7.0))
    assert [region.id for region in gone.regions] == ["z1"]
    assert any('"z0" was narrower than 7.00 mm' in note for note in gone.notes)
    assert any('Nothing is left of the zone "z0"' in note for note in gone.notes)


def test_a_strip_along_the_outline_goes_to_its_neighbor():
    x = box().mesh.vertices[:, 0]
    result = drain(cut_regions(box(), sharp_plan(box(), x - 37.0, 0.0 * x), least_width_mm=5.0))
    assert [region.id for region in result.regions] == ["z1"]


def test_a_tongue_is_cut_back_to_where_it_is_wide_enough():
    x, y = box().mesh.vertices[:, :2].T
    plan = sharp_plan(box(), np.maximum(-x - 15, np.minimum(1.2 - np.abs(y), 25 - x)), 0.0 * x)
    result = drain(cut_regions(box(), plan, least_width_mm=5.0))
    check_sound(box(), result)
    # the disc of 2.5 mm and one edge may reach into the tongue's root
    assert result.regions[0].mesh.bounds[1, 0] < -15 + 2.5 + 2 * 1.6


def test_a_neck_is_widened():
    x, y = box().mesh.vertices[:, :2].T
    plan = sharp_plan(box(), np.hypot(x, 0.0) * 0.8 + 0.4 - np.abs(y), 0.0 * x)
    body = body_side(box())
    before = narrowest_at_x0(box(), plan.weights)
    after = tidied(body, plan.weights[body.index], ("z0", "z1"), 3.0)
    assert before < 1.5
    assert narrowest_at_x0(box(), body.on_pad(after.weights)) >= 3.0
    assert 'The zone "z0" was widened where it was narrower than 3.00 mm.' in after.notes
    assert not any("may still" in note for note in after.notes)


def narrowest_at_x0(pad: ShapedPad, weights: Float) -> float:
    """Width of zone 0 on the body side along y within 0.8 mm of x = 0."""
    found = cut_surface(pad.mesh, weights.argmax(axis=1).astype(np.int64), weights)
    ends = found.vertices[found.start]
    near = ends[(np.abs(ends[:, 0]) < 0.8) & (ends[:, 2] > 11.0)]
    return float(near[near[:, 1] > 0, 1].min() - near[near[:, 1] < 0, 1].max()) if len(near) else 0.0


def test_four_zones_that_meet_in_a_point_are_settled_alike_on_both_sides():
    x, y, _ = seat().mesh.vertices.T
    plan = sharp_plan(seat(), x + y, x - y, -x + y, -x - y)
    result = drain(cut_regions(seat(), plan, least_width_mm=1.0))
    check_sound(seat(), result)
    assert len(result.regions) == 4
    # one of the two pairs that face each other across the point touches, the other does not
    assert len(result.contacts) == 5


def test_borders_that_do_not_match_are_refused_with_a_place():
    x, y, z = box().mesh.vertices.T
    label = ((np.hypot(x - 5, y) < 8) & (z > 6)).astype(np.int64)
    found = cut_surface(box().mesh, label, np.stack([0.5 - label, label - 0.5], axis=1) + 0.5)
    facing = box().mesh.vertex_normals[:, 2][found.parents].mean(axis=1)
    with pytest.raises(UnpairedBorderError, match="At 1 place, the first near") as caught:
        build_walls(found, facing, found.vertices * np.array([1, 1, 0]))
    assert np.hypot(caught.value.faults[0].place[0] - 5, caught.value.faults[0].place[1]) < 10


def test_a_rim_marked_as_body_side_changes_nothing():
    # the steep part of the rim has no area along the press direction: it must follow the outline, not its own borders
    whole = ShapedPad(box().mesh, np.where(box().side == 0, 1, box().side).astype(np.int8), box().press_direction)
    requests = [ZoneRequest("right", 4, right_of(7.0)), ZoneRequest("up", 1, above(3.0)), REST]
    results = [cut(pad, requests) for pad in (box(), whole)]
    check_sound(whole, results[1])
    # the border is rounded within another outline: 0.1 mm at most over 1200 mm2 of wall
    assert volumes(results[1]) == pytest.approx(volumes(results[0]), abs=120.0)


# --- overlap ------------------------------------------------------------------------------------------------------


def test_overlapping_regions_reach_into_later_ones_by_the_length_asked():
    requests = [ZoneRequest("right", 4, right_of(7.0)), REST]
    touching, overlapping = cut(box(), requests), cut(box(), requests, overlap=0.6)
    profile = touching.contacts[0].area_mm2
    assert overlapping.is_overlapping and not touching.is_overlapping
    assert [(c.first, c.second, c.area_mm2) for c in overlapping.contacts] == [
        (c.first, c.second, c.area_mm2) for c in touching.contacts
    ]
    assert all(len(c.first_faces) == len(c.second_faces) == 0 for c in overlapping.contacts)
    assert volumes(overlapping)["rest"] == pytest.approx(volumes(touching)["rest"], rel=1e-12)
    grown = volumes(overlapping)["right"] - volumes(touching)["right"]
    assert grown == pytest.approx(0.6 * profile, rel=0.03)
    assert any("reaches 0.6 mm into those after it" in note for note in overlapping.notes)


def test_an_overlap_that_joins_pieces_is_refused():
    x = box().mesh.vertices[:, 0]
    plan = sharp_plan(box(), np.abs(x) - 3.0, 0.0 * x)
    with pytest.raises(InputError, match='pieces of the zone "z0" grow together: 1 for 2'):
        drain(cut_regions(box(), plan, least_width_mm=1.0, overlap_mm=5.0))


# --- invariance ---------------------------------------------------------------------------------------------------


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_moving_the_part_or_renumbering_it_changes_no_volume(seed: int):
    random = np.random.default_rng(seed)
    move = np.eye(4)
    move[:3, :3] = Rotation.random(random_state=seed).as_matrix()
    move[:3, 3] = random.uniform(-300, 300, 3)
    pad = box()
    moved, _ = pad.moved(move).shuffled(seed)
    outlines = [right_of(7.0).points, circle(-12, 3, 11)]
    results = []
    for where, shape in ((np.eye(4), pad), (move, moved)):
        placed = [Outline(points @ where[:3, :3].T + where[:3, 3]) for points in outlines]
        results.append(cut(shape, [ZoneRequest("a", 4, placed[0]), ZoneRequest("b", 3, placed[1]), REST]))
    check_sound(moved, results[1])
    # weights agree to 1e-4, which moves a border by about that many mm over at most 1200 mm2
    assert volumes(results[1]) == pytest.approx(volumes(results[0]), abs=1.0)
    assert sorted(c.area_mm2 for c in results[1].contacts) == pytest.approx(
        sorted(c.area_mm2 for c in results[0].contacts), rel=1e-3
    )


# --- refusals -----------------------------------------------------------------------------------------------------


def test_lengths_below_zero_are_refused():
    plan = plan_zones(box(), None, [REST])
    for least, overlap in ((-1.0, 0.0), (1.0, -0.1)):
        with pytest.raises(InputError, match="must not be negative"):
            drain(cut_regions(box(), plan, least_width_mm=least, overlap_mm=overlap))


def test_the_plan_of_another_pad_is_refused():
    with pytest.raises(InputError, match="this one has"):
        drain(cut_regions(seat(), plan_zones(box(), None, [REST]), least_width_mm=1.0))


def test_a_pad_with_a_hole_in_its_surface_is_refused():
    mesh = TriMesh(box().mesh.vertices, box().mesh.faces[5:])
    pad = ShapedPad(mesh, box().side, box().press_direction)
    plan = plan_zones(pad, None, [ZoneRequest("right", 4, right_of(7.0)), REST])
    with pytest.raises(SolidError, match="did not close"):
        drain(cut_regions(pad, plan, least_width_mm=1.0))


# --- the strip of triangles ---------------------------------------------------------------------------------------


def test_a_ladder_fills_its_polygon_with_the_fewest_and_straightest_triangles():
    low = np.stack([np.arange(6.0), np.zeros(6), np.zeros(6)], axis=1)
    points = np.concatenate([low, low + np.array([0, 5, 0])])
    mesh = TriMesh(points, ladder(np.arange(6), np.arange(6, 12), points))
    assert len(mesh.faces) == 10
    assert mesh.area == pytest.approx(25.0)
    assert (mesh.face_normals[:, 2] == 1.0).all()
    assert np.ptp(points[mesh.faces][:, :, 0], axis=1).max() == 1.0


def test_a_ring_ladder_closes_a_tube_whatever_vertex_its_loops_start_from():
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ring = np.stack([10 * np.cos(turn), 10 * np.sin(turn), 0 * turn], axis=1)
    points = np.concatenate([ring, ring + np.array([0, 0, 7])])
    mesh = TriMesh(points, ring_ladder(np.arange(24), np.roll(np.arange(24, 48)[::-1], 5), points))
    assert len(mesh.boundary_edges) == 48
    side = 2 * 10 * np.sin(np.pi / 24)
    assert mesh.area == pytest.approx(24 * side * 7)
