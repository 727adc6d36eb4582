"""Points drawn on triangles, put onto the bent surface that their corners lie on."""

from __future__ import annotations

import numpy as np

from padwright.core.geometry.drawn import drawn_points
from support.packing import block
from support.scanned import sphere


def test_rounded_points_lie_on_the_surface_that_the_corners_lie_on() -> None:
    ball = sphere(30.0, 24, 48)
    flat, _ = drawn_points(ball, 20_000, np.random.default_rng(1))
    rounded, _ = drawn_points(ball, 20_000, np.random.default_rng(1), is_rounded=True)
    inside, off = 30.0 - np.linalg.norm(flat, axis=1), 30.0 - np.linalg.norm(rounded, axis=1)
    assert inside.mean() > 0.05  # triangles with sides of 4 mm
    # What is left is of the fourth order in side over radius, and the normals at corners are not quite the ball's.
    assert abs(off.mean()) < 0.05 * inside.mean()


def test_flat_faces_beside_sharp_edges_stay_flat() -> None:
    box = block((0.0, 0.0, 0.0), (20.0, 30.0, 10.0))
    flat, _ = drawn_points(box, 500, np.random.default_rng(2))
    rounded, _ = drawn_points(box, 500, np.random.default_rng(2), is_rounded=True)
    np.testing.assert_array_equal(rounded, flat)
