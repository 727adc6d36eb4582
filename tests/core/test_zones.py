import re
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.spatial.transform import Rotation
from scipy.stats import norm

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import Float
from padwright.core.geometry.through import body_side
from padwright.core.stages.regions.surface_cut import cut_surface
from padwright.core.stages.zones.blends import BlendWish
from padwright.core.stages.zones.zone_sources import DepthBand, LoadCenters, Outline, Rest, Weights
from padwright.core.stages.zones.zones import ZonePlan, ZoneRequest, plan_zones
from support.pad_shapes import ShapedPad, box_pad, seat_pad, sleeve_pad


@dataclass(frozen=True)
class Center:
    position_mm: Float


@dataclass(frozen=True)
class Reading:
    load_centers: tuple[Center, ...] = ()
    imprint_depth: Float = field(default_factory=lambda: np.zeros(0))
    other_load_centers: tuple[Center, ...] = ()
    is_contact: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=bool))


REST = ZoneRequest("rest", 2.0, Rest())


@cache
def box() -> ShapedPad:
    return box_pad()


@cache
def seat() -> ShapedPad:
    return seat_pad(step=2.0)


@cache
def sleeve() -> ShapedPad:
    return sleeve_pad()


def circle(x: float, y: float, radius: float, z: float = 12.0, count: int = 60) -> Float:
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn), np.full(count, z)], axis=1)


def fine_area(pad: ShapedPad, plan: ZonePlan, column: int) -> float:
    """Area of the body side where a zone's weight, linear over each face, is above one half."""
    body = body_side(pad).mesh
    weight = plan.weights[body_side(pad).index, column]
    share = np.array([(a, b, 6 - a - b) for a in np.arange(0.25, 6, 0.5) for b in np.arange(0.25, 6 - a, 0.5)]) / 6.0
    inside = (weight[body.faces] @ share.T > 0.5).mean(axis=1)
    return float(inside @ body.face_areas)


def test_a_circle_around_each_load_center_has_its_area():
    reading = Reading((Center(np.array([-15.0, 0, 30.0])), Center(np.array([18.0, 3.0, -4.0]))))
    plan = plan_zones(box(), reading, [ZoneRequest("bones", 4, LoadCenters(13.0)), REST])
    # the distance is across the press direction, so the centers' heights do not matter. Rounding a border of radius r
    # over a length s moves it in by s^2 / (2 r): curvature flow for the time s^2 / 2
    truth = 2 * np.pi * (13.0 - 2.5**2 / (2 * 13.0)) ** 2
    assert fine_area(box(), plan, 0) == pytest.approx(truth, rel=0.01)


@pytest.mark.parametrize(
    ("reading", "says", "do"),
    [
        (Reading(other_load_centers=(Center(np.zeros(3)),)), "of the 1 load center found none is used", "use = false"),
        (Reading(imprint_depth=np.array([1.5, np.nan, -3.0])), "the deepest imprint is 1.5 mm", "contact_depth_mm"),
        (Reading(is_contact=np.ones(1, dtype=bool)), "none stands out where the body pressed", "scan finer"),
    ],
)
def test_no_load_center_for_a_zone_is_told_with_its_reason(reading, says, do):
    with pytest.raises(InputError, match=says) as caught:
        plan_zones(box(), reading, [ZoneRequest("bones", 4, LoadCenters(13.0)), REST])
    assert do in caught.value.hint and "outline" in caught.value.hint.lower()


def test_an_outline_has_its_area_whichever_way_it_runs_and_however_high_it_lies():
    corners = np.array([[-20.0, -15, 40], [20, -15, 0], [20, 10, 7], [-20, 10, -9]])
    areas = []
    for points in (corners, corners[::-1], np.concatenate([corners, corners[:1]])):
        plan = plan_zones(box(), None, [ZoneRequest("seat", 3, Outline(points)), REST])
        areas.append(fine_area(box(), plan, 0))
    # a quarter plane smoothed by a Gaussian is cdf(x) cdf(y); its level 1/2 cuts off this much of the corner
    lost = quad(lambda x: norm.ppf(0.5 / norm.cdf(x)), 1e-9, 12.0)[0] * 2.5**2
    assert areas[0] == pytest.approx(40 * 25 - 4 * lost, rel=0.005)
    assert areas == pytest.approx([areas[0]] * 3, rel=1e-9)


def test_an_outline_around_a_sleeve_takes_the_part_it_surrounds():
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    angle, height = 0.5 * np.cos(turn), 12.0 * np.sin(turn)
    points = np.stack([18 * np.cos(angle), 18 * np.sin(angle), height], axis=1)
    plan = plan_zones(sleeve(), None, [ZoneRequest("palm", 3, Outline(points)), REST])
    body = body_side(sleeve())
    inside = plan.label[body.index] == 0
    place = body.mesh.vertices
    value = (np.arctan2(place[:, 1], place[:, 0]) / 0.5) ** 2 + (place[:, 2] / 12.0) ** 2
    # 2 mm, an edge and a half, either side of the drawn line is left open
    assert inside[value < (1 - 2.0 / 9) ** 2].all()
    assert not inside[value > (1 + 2.0 / 9) ** 2].any()


def test_an_outline_that_closes_nothing_on_a_sleeve_is_refused():
    points = np.array([[18.0, 0, z] for z in (-20.0, -10.0, 0.0, 10.0, 5.0, -5.0)])
    with pytest.raises(InputError, match="does not divide the body side"):
        plan_zones(sleeve(), None, [ZoneRequest("palm", 3, Outline(points)), REST])


def test_a_band_of_imprint_depth_comes_from_the_nearest_place_of_the_impression():
    impression = box().mesh
    depth = np.where(impression.vertices[:, 0] > 60, np.nan, impression.vertices[:, 0])
    plan = plan_zones(
        box(), Reading((), depth), [ZoneRequest("deep", 4, DepthBand(10.0, 25.0)), REST], impression=impression
    )
    x = box().mesh.vertices[:, 0]
    assert set(plan.label[(x > 11.5) & (x < 23.5)]) == {0}
    assert set(plan.label[(x < 8.5) | (x > 26.5)]) == {1}


@pytest.mark.parametrize("band", [DepthBand(70.0), DepthBand(-90.0, -65.0)])
def test_a_band_beyond_the_imprint_is_told_how_deep_that_is(band):
    impression = box().mesh
    depth = impression.vertices[:, 0]
    with pytest.raises(InputError, match=r"from -3[89]\.\d to 3[89]\.\d mm deep; the zone asks for") as raised:
        plan_zones(box(), Reading((), depth), [ZoneRequest("deep", 4, band), REST], impression=impression)
    start = float(re.search(r"Write from_mm between (\d+) and", raised.value.hint)[1])
    told = ZoneRequest("deep", 4, DepthBand(start + 1.0))
    assert len(plan_zones(box(), Reading((), depth), [told, REST], impression=impression).zones) == 2


def test_weights_are_carried_by_place_and_never_by_order():
    place = box().mesh.vertices
    weight = np.clip(0.5 + place[:, 1] / 10, 0, 1)
    order = np.random.default_rng(3).permutation(len(place))
    plans = [
        plan_zones(box(), None, [ZoneRequest("paint", 3, Weights(p, w)), REST])
        for p, w in ((place, weight), (place[order], weight[order]))
    ]
    assert (plans[0].weights == plans[1].weights).all()
    assert (plans[0].label == (place[:, 1] < 0))[np.abs(place[:, 1]) > 1.0].all()


def test_the_earlier_zone_has_what_two_claim():
    wishes = [ZoneRequest("a", 4, Outline(circle(-8, 0, 12))), ZoneRequest("b", 1, Outline(circle(8, 0, 12)))]
    x, y = box().mesh.vertices[:, :2].T
    both = (np.hypot(x + 8, y) < 9) & (np.hypot(x - 8, y) < 9)
    assert set(plan_zones(box(), None, [*wishes, REST]).label[both]) == {0}
    turned = plan_zones(box(), None, [*wishes[::-1], REST])
    assert [turned.zones[index].name for index in set(turned.label[both])] == ["b"]


def test_requests_of_one_name_make_one_zone():
    wishes = [ZoneRequest("bone", 4, Outline(circle(x, 0, 10))) for x in (-20, 20)]
    plan = plan_zones(box(), None, [*wishes, REST])
    assert [(zone.id, zone.level) for zone in plan.zones] == [("bone", 4.0), ("rest", 2.0)]


def test_gaps_without_a_rest_go_to_the_nearest_zone_and_are_told():
    wishes = [ZoneRequest("a", 4, Outline(circle(-25, 0, 10))), ZoneRequest("b", 1, Outline(circle(25, 0, 10)))]
    plan = plan_zones(box(), None, wishes)
    x = box().mesh.vertices[:, 0]
    assert (plan.label == (x > 0))[np.abs(x) > 1.5].all()
    assert "belonged to no zone" in plan.notes[0]


def test_the_base_side_carries_what_lies_in_front_of_it():
    plan = plan_zones(seat(), None, [ZoneRequest("mid", 4, Outline(circle(5, 5, 30))), REST])
    x, y = seat().mesh.vertices[:, :2].T
    radius = np.hypot(x - 5, y - 5)
    for side in (1, 2):
        # rounding moves the border in by 0.1 mm, the mesh shows it to a tenth of its 2 mm edges
        assert set(plan.label[(radius < 29.4) & (seat().side == side)]) == {0}
        assert set(plan.label[(radius > 30.4) & (seat().side == side)]) == {1}


def test_weights_are_shares():
    plan = plan_zones(
        seat(), None, [ZoneRequest("mid", 4, Outline(circle(5, 5, 30))), REST], blends=[BlendWish(2, 9.0)]
    )
    assert plan.weights.shape == (len(seat().mesh.vertices), 4)
    assert plan.weights.min() >= 0
    assert plan.weights.sum(axis=1) == pytest.approx(1.0, abs=1e-12)
    assert (plan.label == plan.weights.argmax(axis=1)).all()


def test_blend_steps_lie_between_their_zones_in_level_and_place():
    wishes = [ZoneRequest("left", 4, Outline(np.array([[-99.0, -99, 0], [0, -99, 0], [0, 99, 0], [-99, 99, 0]]))), REST]
    plan = plan_zones(box(), None, wishes, blends=[BlendWish(3, 24.0)])
    assert [zone.level for zone in plan.zones] == [4.0, 2.0, 3.5, 3.0, 2.5]
    assert [zone.id for zone in plan.zones[2:]] == ["left-to-rest-1", "left-to-rest-2", "left-to-rest-3"]
    assert plan.zones[3].between == ("left", "rest")
    x = box().mesh.vertices[:, 0]
    for column, (low, high) in enumerate([(-40, -12), (12, 40), (-12, -4), (-4, 4), (4, 12)]):
        assert set(plan.label[(x > low + 1) & (x < high - 1)]) == {column}


def test_a_blend_for_one_pair_leaves_the_others_sharp():
    wishes = [
        ZoneRequest("a", 4, Outline(circle(-20, 0, 10))),
        ZoneRequest("b", 1, Outline(circle(20, 0, 10))),
        REST,
    ]
    plan = plan_zones(box(), None, wishes, blends=[BlendWish(1, 6.0, ("b", "rest"))])
    assert [zone.between for zone in plan.zones] == [None, None, None, ("b", "rest")]
    plan = plan_zones(box(), None, wishes, blends=[BlendWish(1, 6.0), BlendWish(0, 1.0, ("a", "rest"))])
    assert [zone.between for zone in plan.zones] == [None, None, None, ("b", "rest")]


def test_a_blend_between_zones_that_do_not_touch_is_told():
    wishes = [
        ZoneRequest("a", 4, Outline(circle(-20, 0, 10))),
        ZoneRequest("b", 1, Outline(circle(20, 0, 10))),
        REST,
    ]
    plan = plan_zones(box(), None, wishes, blends=[BlendWish(1, 6.0, ("a", "b"))])
    assert plan.notes == ('"a" and "b" do not touch, so there is no blend between them.',)


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_moving_the_part_or_renumbering_it_changes_no_label(seed: int):
    random = np.random.default_rng(seed)
    move = np.eye(4)
    move[:3, :3] = Rotation.random(random_state=seed).as_matrix()
    move[:3, 3] = random.uniform(-300, 300, 3)
    points = circle(4, -3, 14, count=24)
    plan = plan_zones(box(), None, [ZoneRequest("mid", 4, Outline(points)), REST], blends=[BlendWish(1, 5.0)])
    moved, new = box().moved(move).shuffled(seed)
    there = points @ move[:3, :3].T + move[:3, 3]
    other = plan_zones(moved, None, [ZoneRequest("mid", 4, Outline(there)), REST], blends=[BlendWish(1, 5.0)])
    # the solver stops at 1e-6, and rounding of positions 300 mm away moves a weight by far less
    assert np.abs(other.weights[new] - plan.weights).max() < 1e-4


@pytest.mark.parametrize(
    ("requests", "blends", "message"),
    [
        ([], (), "There is no zone"),
        ([ZoneRequest("a", float("nan"), Rest())], (), 'level of the zone "a" is nan'),
        ([ZoneRequest("a", 1, LoadCenters(5.0)), ZoneRequest("a", 2, Rest())], (), "two levels, 1 and 2"),
        ([ZoneRequest("a", 1, Rest()), ZoneRequest("b", 2, Rest())], (), '2 zones have the source "rest"'),
        ([ZoneRequest("a", 1, LoadCenters(0.0)), REST], (), "must be above 0 mm"),
        ([ZoneRequest("a", 1, LoadCenters(5.0)), REST], (), "Without an impression there are no load centers"),
        ([ZoneRequest("a", 1, DepthBand(3.0, 3.0)), REST], (), "from 3.0 to 3.0 mm is empty"),
        ([ZoneRequest("a", 1, DepthBand(3.0)), REST], (), "there is no impression"),
        ([ZoneRequest("a", 1, Outline(np.zeros((2, 3)))), REST], (), "at least 3 points"),
        ([ZoneRequest("a", 1, Outline(circle(500, 0, 9))), REST], (), '"a" covers nothing'),
        ([ZoneRequest("a", 1, Weights(np.zeros((2, 3)), np.ones(3))), REST], (), "3 weights for 2 places"),
        ([ZoneRequest("a", 1, Weights(np.zeros((1, 3)), np.array([1.5]))), REST], (), "between 0 and 1; got 1.5"),
        ([ZoneRequest("a", 1, Weights(circle(0, 0, 9, 42), np.ones(60))), REST], (), r"lie 30 mm from the pad"),
        ([ZoneRequest("a", 1, Outline(circle(0, 0, 9))), REST], [BlendWish(-1, 5.0)], "-1 steps over 5.0 mm"),
        ([ZoneRequest("a", 1, Outline(circle(0, 0, 9))), REST], [BlendWish(1, 5.0, ("a", "c"))], 'names the zone "c"'),
        (
            [ZoneRequest("a", 1, Outline(circle(0, 0, 5))), REST],
            [BlendWish(1, 14.0)],
            "nothing of it: they are up to 14 mm",
        ),
    ],
)
def test_what_cannot_be_meant_is_refused(requests, blends, message: str):
    with pytest.raises(InputError, match=message):
        plan_zones(box(), None, requests, blends=blends)


@pytest.mark.parametrize("steps", [0, 2])
def test_a_round_zone_keeps_a_smooth_border_whatever_blends_are_asked(steps):
    pad = box()
    reading = Reading((Center(np.zeros(3)),))
    requests = [ZoneRequest("firm", 4, LoadCenters(14.0)), ZoneRequest("rest", 2, Rest())]
    plan = plan_zones(pad, reading, requests, blends=[BlendWish(steps, 8.0)])
    cut = cut_surface(pad.mesh, plan.label.astype(np.int64), plan.weights)
    outermost = plan.zones.index(next(zone for zone in plan.zones if zone.name == "rest"))
    segments = (cut.left == outermost) | (cut.right == outermost)
    points = cut.vertices[np.unique(np.concatenate([cut.start[segments], cut.end[segments]]))]
    radius = np.hypot(points[:, 0], points[:, 1])
    # A border along vertices would scatter by a third of an edge, 0.5 mm; one between them by a few hundredths.
    assert radius.std() < 0.12
