"""Which face each pixel shows: against edge functions in full, and the same faces drawn one by one."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry import raster as drawing
from padwright.core.geometry.raster import rasterize
from support.scanned import sphere


def test_a_triangle_covers_the_pixels_whose_centers_lie_in_it():
    rng = np.random.default_rng(1)
    y, x = np.mgrid[:40, :60] + 0.5
    for _ in range(50):
        points = np.column_stack([rng.uniform(-20, 80, 3), rng.uniform(-20, 60, 3), rng.uniform(0, 1, 3)])
        raster = rasterize(points, np.array([[0, 1, 2]]), 60, 40)
        a, b, c = points[:, :2]
        sides = [(q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0]) for p, q in ((a, b), (b, c), (c, a))]
        inside = np.all(np.array(sides) > 0, axis=0) | np.all(np.array(sides) < 0, axis=0)
        assert np.array_equal(raster.is_hit, inside)
        seen = (raster.weights[inside].astype(float) @ points)[:, :2]
        assert np.allclose(seen, np.column_stack([x[inside], y[inside]]), atol=1e-3)


def test_the_nearest_face_is_seen_whatever_the_order():
    rng = np.random.default_rng(2)
    corner = rng.uniform(0, 50, (60, 1, 2)) + rng.uniform(-12, 12, (60, 3, 2))
    points = np.concatenate([corner, np.repeat(np.arange(60.0), 3).reshape(60, 3, 1)], axis=2).reshape(-1, 3)
    faces = np.arange(180).reshape(60, 3)
    raster = rasterize(points, faces, 50, 50)
    expected = np.full((50, 50), -1)
    for index in range(60):  # painted from the back, the last one over a pixel is the nearest
        expected[rasterize(points, faces[index : index + 1], 50, 50).is_hit] = index
    assert np.array_equal(raster.face, expected)
    order = rng.permutation(60)
    assert np.array_equal(np.append(order, -1)[rasterize(points, faces[order], 50, 50).face], expected)


def _one_by_one(points, faces, width, height):
    """Return face and depth of each pixel, every face tried at every pixel."""
    y, x = np.mgrid[:height, :width] + 0.5
    shown, nearest = np.full((height, width), -1), np.full((height, width), -np.inf)
    for index, corner in enumerate(faces):
        solved = np.linalg.solve(np.vstack([points[corner, :2].T, np.ones(3)]), np.eye(3))
        weights = solved @ np.stack([x, y, np.ones_like(x)]).reshape(3, -1)
        depth = (points[corner, 2] @ weights).reshape(height, width)
        is_nearer = (weights.min(axis=0) >= 0.0).reshape(height, width) & (depth > nearest)
        shown[is_nearer], nearest[is_nearer] = index, depth[is_nearer]
    return shown, nearest


@pytest.mark.parametrize("at_a_time", [7, 1 << 17])
@pytest.mark.parametrize("tried", [50, 1 << 15])
def test_small_large_and_thin_faces_are_drawn_alike_in_pieces_of_any_size(monkeypatch, at_a_time, tried):
    monkeypatch.setattr(drawing, "_AT_A_TIME", at_a_time)
    monkeypatch.setattr(drawing, "_TRIED", tried)
    rng = np.random.default_rng(3)
    size = np.repeat([1.2, 3.0, 9.0, 40.0], 40)[:, None, None]  # boxes of about a pixel, small, at the limit, large
    corner = rng.uniform(-5.0, 65.0, (160, 1, 2)) + size * rng.uniform(-1.0, 1.0, (160, 3, 2))
    corner[::9, 2] = corner[::9, 0] + 1.01 * (corner[::9, 1] - corner[::9, 0]) + 0.3  # slivers
    depth = rng.uniform(0.0, 1.0, (160, 3, 1)) + 1.0 / size  # else the large ones hide all others
    points = np.concatenate([corner, depth], axis=2).reshape(-1, 3)
    faces = np.arange(480).reshape(160, 3)
    found = rasterize(points, faces, 60, 45)
    shown, depth = _one_by_one(points, faces, 60, 45)
    assert np.array_equal(found.face, shown)
    assert np.abs(found.depth[found.is_hit] - depth[found.is_hit]).max() < 1e-6  # of float32
    assert np.bincount(np.unique(shown[shown >= 0]) // 40, minlength=4).min() >= 5  # of each size some are seen


def test_of_a_closed_surface_the_outside_alone_shows_the_same():
    ball = sphere(30.0, 40, 80)
    seen = ball.vertices * [1.0, -1.0, 1.0] + [50.0, 50.0, 0.0]  # y runs down
    both, outside = (rasterize(seen, ball.faces, 100, 100, is_one_sided=each) for each in (False, True))
    assert np.array_equal(both.face, outside.face) and np.array_equal(both.weights, outside.weights)
    inside = rasterize(seen, ball.flipped().faces, 100, 100, is_one_sided=True)
    assert np.array_equal(inside.is_hit, both.is_hit)
    assert (inside.depth[both.is_hit] < 0.0).all()  # the back, from within


def test_a_face_seen_on_edge_and_no_face_at_all_show_nothing():
    points = np.array([[5.0, 5.0, 0.0], [15.0, 5.0, 1.0], [10.0, 5.0, 9.0]])
    assert not rasterize(points, np.array([[0, 1, 2]]), 20, 20).is_hit.any()
    assert not rasterize(points, np.zeros((0, 3), dtype=np.int32), 20, 20).is_hit.any()
    empty = TriMesh(points, np.zeros((0, 3), dtype=np.int32))
    assert not rasterize(empty.vertices, empty.faces, 20, 20, is_one_sided=True).is_hit.any()
