"""Nearest places by faces and by corners, against libigl's answer for all points."""

from __future__ import annotations

import gc

import numpy as np

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.feet import FootSurface
from padwright.core.geometry.query import NearestSurface
from support.scanned import grid, sphere


def _points(count: int, seed: int = 0):
    ways = np.random.default_rng(seed).normal(size=(count, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    return ways * np.random.default_rng(seed + 1).uniform(20.0, 60.0, count)[:, None]


def test_near_places_are_exact_and_far_ones_as_near_as_is_said():
    ball, points = sphere(30.0, 60, 120), _points(6_000)
    exact, found = NearestSurface(ball).find(points), FootSurface(ball).find(points)
    edge = ball.edge_lengths.max()
    is_near = exact.distance < 0.95 * np.sqrt(10.0 / 3.0) * edge
    assert 500 < is_near.sum() < 5_500
    assert np.array_equal(found.distance[is_near], exact.distance[is_near])
    assert np.array_equal(found.place[is_near], exact.point[is_near])
    assert np.array_equal(found.corners[is_near], ball.faces[exact.face[is_near]])
    more = found.distance - exact.distance
    # r^2 / 2 d, r the reach of a triangle; distances of either kind are rounded in their own way.
    assert (more <= edge**2 / 3.0 / 2.0 / exact.distance + 1e-9).all() and (more > -1e-9).all()
    is_far = exact.distance > np.sqrt(10.0 / 3.0) * edge
    assert np.array_equal(found.place[is_far], ball.vertices[found.corners[is_far, 0]])


def test_all_are_exact_where_that_is_asked():
    ball, points = sphere(30.0, 20, 40), _points(500)
    exact, found = NearestSurface(ball).find(points), FootSurface(ball, is_exact=True).find(points)
    assert np.array_equal(found.distance, exact.distance) and np.array_equal(found.place, exact.point)


def test_places_lie_between_their_corners_and_normals_are_the_faces():
    ball, points = sphere(30.0, 60, 120), _points(2_000)
    found = FootSurface(ball).find(points)
    weights = found.weights_in(ball)
    between = np.einsum("nk,nkd->nd", weights, ball.vertices[found.corners])
    assert np.abs(between - found.place).max() < 1e-9
    assert weights.min() > -1e-9
    # By the facets' size a normal of face or corner is off the radius at its place by a few degrees at most.
    radial = found.place / np.linalg.norm(found.place, axis=1)[:, None]
    assert np.einsum("ij,ij->i", found.normals_on(ball), radial).min() > np.cos(np.radians(5.0))


def test_a_corner_without_a_face_is_no_place_of_the_surface():
    sheet = grid(np.linspace(0.0, 1.0, 3), np.linspace(0.0, 1.0, 3), lambda x, y: 0.0 * x)
    loose = TriMesh(np.vstack([sheet.vertices, [[0.5, 0.5, 50.0]]]), sheet.faces)
    found = FootSurface(loose).find(np.array([[0.5, 0.5, 60.0]]))
    assert found.distance[0] == 60.0


def test_what_was_asked_of_a_mesh_is_kept_as_long_as_it_is():
    ball, other = sphere(30.0, 20, 40), sphere(33.0, 20, 40)
    surface = FootSurface.of(ball)
    assert FootSurface.of(ball) is surface
    assert surface.under(other) is surface.under(other)
    assert surface.under(other).distance.max() < 3.5
    kept = len(surface._under)
    del other
    gc.collect()
    assert len(surface._under) == kept - 1
