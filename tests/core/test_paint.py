"""A zone's paint: mirrored, smoothed, begun from data."""

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.geometry.through import body_side
from padwright.core.stages.reading.left_right import SidePlane
from padwright.core.stages.zones.paint import mirrored_share, smoothed_share, source_share
from padwright.core.stages.zones.zone_sources import Outline, Rest
from support.pad_shapes import ShapedPad, seat_pad, sleeve_pad

SEAT, SLEEVE = seat_pad(step=2.0), sleeve_pad()
ACROSS_X = SidePlane(np.zeros(3), np.array([1.0, 0.0, 0.0]), 0.0)


def disc(pad: ShapedPad, x: float, y: float, radius: float = 15.0) -> np.ndarray:
    return (np.hypot(pad.mesh.vertices[:, 0] - x, pad.mesh.vertices[:, 1] - y) < radius).astype(float)


def on_body(pad: ShapedPad) -> np.ndarray:
    return body_side(pad).index


@pytest.mark.parametrize("way", ["fuller", "positive"])
def test_a_disc_is_found_again_at_its_mirrored_place_and_stays_where_it_was(way):
    painted = disc(SEAT, 35.0, -5.0)
    found = mirrored_share(SEAT, painted, ACROSS_X, way)
    assert found.is_from_positive is True
    index = on_body(SEAT)
    here = SEAT.mesh.vertices[index, 0] >= 0
    assert np.array_equal(found.share[index][here], painted[index][here])
    # The two sides have other vertices: a border of 94 mm is known to half an edge (1 mm) at the best, of 707 mm2.
    wished = disc(SEAT, -35.0, -5.0)[index][~here]
    area = body_side(SEAT).mesh.vertex_areas[~here]
    assert area[(found.share[index][~here] >= 0.5) != (wished >= 0.5)].sum() < 94.0 / 2
    assert found.changed_cm2 == pytest.approx(np.pi * 1.5**2, rel=0.05)
    assert found.off_cm2 == 0.0


def test_the_emptier_side_is_overwritten_and_the_other_way_can_be_asked_for():
    painted = np.maximum(disc(SEAT, 35.0, -5.0, 20.0), disc(SEAT, -35.0, -5.0, 8.0))
    small = mirrored_share(SEAT, painted, ACROSS_X, "negative")
    assert small.is_from_positive is False
    area = body_side(SEAT).mesh.vertex_areas
    x = body_side(SEAT).mesh.vertices[:, 0]
    is_in = small.share[on_body(SEAT)] >= 0.5
    assert area[is_in & (x > 0)].sum() == pytest.approx(area[is_in & (x < 0)].sum(), rel=0.06)
    assert area[is_in & (x > 0)].sum() == pytest.approx(np.pi * 8.0**2, rel=0.06)


def test_apart_the_whole_zone_changes_sides():
    found = mirrored_share(SEAT, disc(SEAT, 35.0, -5.0), ACROSS_X, "apart")
    x = SEAT.mesh.vertices[found.share >= 0.5, 0]
    assert found.is_from_positive is None and x.max() < 0


def test_mirrored_twice_is_where_it_began_on_a_sleeve_too():
    turn = np.arctan2(SLEEVE.mesh.vertices[:, 1], SLEEVE.mesh.vertices[:, 0])
    painted = (np.abs(turn - 0.9) < 0.5).astype(float)
    once = mirrored_share(SLEEVE, painted, ACROSS_X, "apart").share
    twice = mirrored_share(SLEEVE, once, ACROSS_X, "apart").share
    body = body_side(SLEEVE)
    differs = (twice[body.index] >= 0.5) != (painted[body.index] >= 0.5)
    # Twice half an edge along two borders of 60 mm: 1.2 mm wide at most.
    assert body.mesh.vertex_areas[differs].sum() < 2 * 60 * 1.2


def test_what_would_lie_off_the_pad_is_counted():
    plane = SidePlane(np.array([40.0, 0.0, 0.0]), np.array([1.0, 0.0, 0.0]), 0.0)
    found = mirrored_share(SEAT, disc(SEAT, -60.0, 0.0, 10.0), plane, "negative")
    assert found.off_cm2 == pytest.approx(np.pi, rel=0.06)


@pytest.mark.parametrize(
    ("share", "way", "said"),
    [
        (np.zeros(3), "fuller", "The paint has 3 values and the pad"),
        (np.zeros(len(SEAT.mesh.vertices)), "fuller", "nothing on the side to mirror from"),
        (disc(SEAT, 35.0, 0.0), "negative", "nothing on the side to mirror from"),
        (disc(SEAT, 35.0, 0.0), "sideways", '"sideways" is not known'),
    ],
)
def test_what_cannot_be_mirrored_is_said(share, way, said):
    with pytest.raises(InputError, match=said):
        mirrored_share(SEAT, share, ACROSS_X, way)


def test_smoothing_closes_speckles_and_keeps_the_amount():
    speckled = disc(SEAT, 35.0, -5.0, 20.0) * (np.random.default_rng(2).random(len(SEAT.mesh.vertices)) < 0.8)
    smooth = smoothed_share(SEAT, speckled, 5.0)
    body = body_side(SEAT)
    near = np.hypot(body.mesh.vertices[:, 0] - 35, body.mesh.vertices[:, 1] + 5) < 12
    assert (smooth[body.index][near] >= 0.5).all() and not (speckled[body.index][near] >= 0.5).all()
    area = body.mesh.vertex_areas
    assert area @ smooth[body.index] == pytest.approx(area @ speckled[body.index], rel=1e-3)


def test_data_begins_the_paint_by_itself():
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    points = np.stack([10 + 14 * np.cos(turn), 14 * np.sin(turn), 0 * turn], axis=1)
    share = source_share(SEAT, None, Outline(points), None)
    body = body_side(SEAT)
    area = body.mesh.vertex_areas * np.abs(body.mesh.vertex_normals[:, 2])
    assert area @ share[body.index] == pytest.approx(100 * np.pi * 1.4**2, rel=0.03)
    with pytest.raises(InputError, match="what other zones leave"):
        source_share(SEAT, None, Rest(), None)
    with pytest.raises(InputError, match="gives nothing"):
        source_share(SEAT, None, Outline(points + 500.0), None)
