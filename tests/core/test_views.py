"""Views: places to pixels and back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from padwright.core.base.errors import InputError
from padwright.core.geometry.views import View, nearest_on_screen

NEAR, FAR = 0.01, 1000.0
BOX = np.array([[i, j, k] for i in (-0.2, 0.2) for j in (-0.1, 0.1) for k in (-3.1, -2.9)])
PERSPECTIVE = np.array(  # glFrustum, OpenGL 2.1 reference, symmetric with a cotangent of 2
    [[2, 0, 0, 0], [0, 2, 0, 0], [0, 0, -(FAR + NEAR) / (FAR - NEAR), -2 * FAR * NEAR / (FAR - NEAR)], [0, 0, -1, 0.0]]
)
FLAT = np.array([[2, 0, 0, 0], [0, 2, 0, 0], [0, 0, -2 / (FAR - NEAR), -(FAR + NEAR) / (FAR - NEAR)], [0, 0, 0, 1.0]])


@pytest.mark.parametrize("matrix", [PERSPECTIVE, FLAT])
@given(place=arrays(np.float64, 3, elements=st.floats(-0.1, 0.1)))
def test_the_line_of_sight_of_where_a_place_is_seen_goes_through_it(matrix, place):
    # With the 32 bits of the modeller's matrix and clipping planes 1e5 apart it still passes within a micrometer.
    view = View(np.float32(matrix).astype(np.float64), 800, 800)
    place = place + np.array([0.0, 0.0, -3.0])
    pixels, is_before = view.pixels(place[None])
    assert is_before.all()
    start, end = view.ray(tuple(pixels[0]), BOX)
    way = (end - start) / np.linalg.norm(end - start)
    assert np.linalg.norm(np.cross(way, place - start)) < 1e-6
    assert start[2] > BOX[:, 2].max() and end[2] < BOX[:, 2].min() and start[2] < 0.0


def test_the_middle_of_the_picture_and_what_is_behind_the_eye():
    view = View(PERSPECTIVE, 640, 480)
    pixels, is_before = view.pixels(np.array([[0.0, 0.0, -5.0], [1.0, 0.0, -2.0], [0.0, 0.0, 5.0]]))
    assert pixels[0].tolist() == [320.0, 240.0]
    assert pixels[1].tolist() == [640.0, 240.0]  # cotangent 2, half as far aside as away
    assert is_before.tolist() == [True, True, False]


def test_an_eye_within_the_box_sees_from_the_near_plane_on():
    start, _ = View(PERSPECTIVE, 100, 100).ray((50.0, 50.0), BOX + np.array([0.0, 0.0, 3.0]))
    assert start == pytest.approx([0.0, 0.0, -NEAR], abs=1e-9)


def test_the_nearest_place_within_reach():
    view = View(FLAT, 100, 100)
    places = np.array([[0.0, 0.0, -1.0], [0.02, 0.0, -1.0], [0.0, 0.0, -1.0]])
    assert nearest_on_screen(view, places, (51.6, 50.0), 5.0) == 1
    assert nearest_on_screen(view, places, (60.0, 50.0), 5.0) is None
    assert nearest_on_screen(view, np.zeros((0, 3)), (50.0, 50.0), 5.0) is None
    assert nearest_on_screen(View(PERSPECTIVE, 100, 100), np.array([[0.0, 0.0, 5.0]]), (50.0, 50.0), 99.0) is None


def test_a_flat_view_is_refused():
    with pytest.raises(InputError, match="The view is flat"):
        View(np.zeros((4, 4)), 10, 10).ray((1.0, 1.0), BOX)
