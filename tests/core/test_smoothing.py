"""Smoothing over a surface."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.smoothing import SurfaceSmoother, smoothed
from support.planes import plane
from support.pressed_slabs import Dimple, sheet


def test_smoothing_spreads_a_point_like_a_gaussian_of_that_length():
    mesh = plane(81, 20.0)
    start = np.zeros(len(mesh.vertices))
    middle = np.argmin(np.linalg.norm(mesh.vertices, axis=1))
    start[middle] = 1.0 / mesh.vertex_areas[middle]
    spread = smoothed(mesh, start, 3.0) * mesh.vertex_areas
    # in the sloping plane the variance along any direction is length^2; the trace over three axes is 2 length^2
    assert spread.sum() == pytest.approx(1.0, abs=1e-5)
    assert (spread[:, None] * mesh.vertices**2).sum() == pytest.approx(2 * 3.0**2, rel=0.01)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 1000), length=st.floats(0.0, 30.0))
def test_smoothing_stays_within_the_values_and_keeps_their_sum(seed: int, length: float):
    mesh = plane(12, jitter=0.45, seed=seed)
    values = np.random.default_rng(seed).uniform(-1.0, 3.0, (len(mesh.vertices), 2))
    result = smoothed(mesh, values, length)
    assert (result.min(axis=0) >= values.min(axis=0) - 1e-5).all()
    assert (result.max(axis=0) <= values.max(axis=0) + 1e-5).all()
    assert np.allclose(mesh.vertex_areas @ result, mesh.vertex_areas @ values, rtol=0, atol=1e-3 * mesh.area / 1e2)


def test_fixed_vertices_keep_their_values():
    mesh = plane(15)
    values = np.random.default_rng(1).uniform(size=len(mesh.vertices))
    is_fixed = mesh.vertices[:, 0] > 0
    result = smoothed(mesh, values, 5.0, is_fixed=is_fixed)
    assert (result[is_fixed] == values[is_fixed]).all()
    assert np.ptp(result[mesh.vertices[:, 0] < -10]) < 0.5 * np.ptp(values[mesh.vertices[:, 0] < -10])


@pytest.mark.parametrize("length", [-1.0, float("nan")])
def test_a_smoothing_length_that_makes_no_sense_is_refused(length: float):
    with pytest.raises(InputError, match="0 mm or more"):
        smoothed(plane(3), np.zeros(9), length)


def test_smoother_spreads_a_point_to_the_stated_width_and_keeps_the_total():
    mesh = sheet(120.0, 120.0, 1.5, lambda x, y: 0.0 * x)
    point = np.zeros(len(mesh.vertices))
    point[np.argmin(np.linalg.norm(mesh.vertices, axis=1))] = 1.0
    spread = SurfaceSmoother(mesh).smooth(point, 6.0, steps=2, tolerance=1e-8)
    weight = spread * mesh.vertex_areas
    assert weight.sum() == pytest.approx((point * mesh.vertex_areas).sum(), rel=1e-6)
    variance = (weight[:, None] * mesh.vertices[:, :2] ** 2).sum(axis=0) / weight.sum()
    np.testing.assert_allclose(
        np.sqrt(variance), 6.0, rtol=0.07
    )  # cutting negative cotangents off shaken cells adds some flow


def test_smoother_keeps_a_hollow_five_times_better_with_its_peaks_given_back():
    mesh = sheet(120.0, 120.0, 1.5, lambda x, y: 0.0 * x)
    x, y = mesh.vertices[:, 0], mesh.vertices[:, 1]
    hollow = Dimple(0.0, 0.0, 9.0, 17.0)(x, y)
    smoother = SurfaceSmoother(mesh)
    middle = np.argmin(np.hypot(x, y))
    lost = hollow[middle] - smoother.smooth(hollow, 5.0, steps=2)[middle]
    kept = hollow[middle] - smoother.smooth_keeping_peaks(hollow, 5.0)[middle]
    assert lost == pytest.approx(9.0 * (1 - 17.0**2 / (17.0**2 + 5.0**2)), rel=0.1)  # Gaussians add in variance
    assert abs(kept) < 0.2 * lost  # (5 / 17)^2 = 0.09 for exact Gaussians; two Euler steps have longer tails


def test_smoother_fills_what_is_not_known_from_around():
    mesh = sheet(60.0, 60.0, 2.0, lambda x, y: 0.0 * x)
    values = 3.0 + 0.1 * mesh.vertices[:, 0]
    known = np.hypot(*mesh.vertices[:, :2].T) > 5.0
    spoilt = np.where(known, values, 100.0)
    filled = SurfaceSmoother(mesh).smooth_keeping_peaks(spoilt, 3.0, known)
    np.testing.assert_allclose(filled[~known], values[~known], atol=0.05)


def test_a_vertex_of_no_area_takes_what_is_around_it_and_gives_nothing():
    mesh = plane(11)
    first, second, _ = mesh.faces[100]
    between = 0.5 * (mesh.vertices[first] + mesh.vertices[second])
    flat = TriMesh(np.vstack([mesh.vertices, between]), np.vstack([mesh.faces, [first, second, len(mesh.vertices)]]))
    assert flat.vertex_areas[-1] == pytest.approx(0.0, abs=1e-12)
    values = np.append(np.ones(len(mesh.vertices)), 50.0)
    assert smoothed(flat, values, 3.0) == pytest.approx(1.0, abs=1e-5)
