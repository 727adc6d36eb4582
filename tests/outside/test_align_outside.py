"""Alignment against published values, open formulas and other libraries."""

from __future__ import annotations

import igl
import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.frames import (
    fit_similarity,
    moved,
    rigid,
    rotation_angle_deg,
    rotations_from_vectors,
)
from padwright.core.stages.alignment.prepared_scans import prepare
from padwright.core.stages.alignment.refine import refine
from padwright.core.stages.alignment.search import even_rotations, steps_down


def test_umeyama_s_own_example() -> None:
    # Umeyama 1991, IEEE TPAMI 13(4) 376-380, doi 10.1109/34.88573, section III: the points of one triangle and of its
    # mirror image. The paper prints c = 0.721, R = [[0.832, 0.555], [-0.555, 0.832]], t = (-0.800, 0.400) (memory);
    # in closed form c = 0.72111 = sqrt(0.52), R11 = 3 / sqrt(13), mean squared error 8 / 15.
    source = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 2.0]])
    target = np.array([[0.0, 0.0], [-1.0, 0.0], [0.0, 2.0]])
    fit = fit_similarity(source, target)
    assert fit.scale == pytest.approx(0.72111, abs=5e-6)
    assert fit.scale == pytest.approx(np.sqrt(0.52), rel=1e-12)
    np.testing.assert_allclose(fit.rotation, np.array([[3.0, 2.0], [-2.0, 3.0]]) / np.sqrt(13.0), atol=1e-12)
    np.testing.assert_allclose(fit.translation, [-0.8, 0.4], atol=1e-12)
    assert np.linalg.det(fit.rotation) == pytest.approx(1.0, abs=1e-12)
    assert fit.would_mirror
    assert fit.rms**2 == pytest.approx(8.0 / 15.0, rel=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_closed_form_agrees_with_scipy_and_trimesh_on_noisy_pairs(seed: int) -> None:
    rng = np.random.default_rng(seed)
    source = rng.normal(size=(40, 3)) * 80.0
    target = source @ Rotation.random(random_state=seed).as_matrix().T * 1.3 + rng.normal(size=(40, 3)) + 200.0
    own = fit_similarity(source, target, with_scale=False)
    theirs, _ = Rotation.align_vectors(target - target.mean(axis=0), source - source.mean(axis=0))
    np.testing.assert_allclose(own.rotation, theirs.as_matrix(), atol=1e-9)
    # trimesh scales by the ratio of the spreads, not by least squares: its turn is compared, the scale with lstsq.
    matrix, _, _ = trimesh.registration.procrustes(source, target, reflection=False)
    fit = fit_similarity(source, target)
    np.testing.assert_allclose(fit.rotation, matrix[:3, :3] / np.cbrt(np.linalg.det(matrix[:3, :3])), atol=1e-9)
    turned = ((source - source.mean(axis=0)) @ fit.rotation.T).ravel()
    scale = np.linalg.lstsq(turned[:, None], (target - target.mean(axis=0)).ravel(), rcond=None)[0][0]
    assert fit.scale == pytest.approx(scale, rel=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_rotation_vectors_agree_with_scipy(seed: int) -> None:
    vectors = np.random.default_rng(seed).normal(size=(20, 3)) * 10.0 ** (seed - 3)
    np.testing.assert_allclose(rotations_from_vectors(vectors), Rotation.from_rotvec(vectors).as_matrix(), atol=1e-12)


def test_start_rotations_are_the_super_fibonacci_ones_of_libigl() -> None:
    # Alexa 2022, doi 10.1109/CVPR52688.2022.00811, as libigl implements it.
    theirs = Rotation.from_quat(np.asarray(igl.super_fibonacci(200))).as_matrix()
    np.testing.assert_allclose(even_rotations(200), theirs, atol=1e-5)


def test_a_step_without_noise_is_the_least_squares_step() -> None:
    rng = np.random.default_rng(0)
    rows, gaps = rng.normal(size=(200, 6)), rng.normal(size=200)
    own = rows.T @ rows
    np.testing.assert_allclose(
        steps_down(own, own, rows.T @ gaps), np.linalg.lstsq(rows, gaps, rcond=None)[0], rtol=1e-9
    )


def test_refinement_returns_to_a_closed_form_motion_on_an_open_ellipsoid() -> None:
    # Semi-axes 80, 55, 40 mm, cut open below: no noise, so the truth is known to the facets' sag, 1.5^2 / (8 x 20) mm.
    ball = trimesh.creation.icosphere(subdivisions=5)
    mesh = TriMesh(ball.vertices * [80.0, 55.0, 40.0], ball.faces)
    mesh = mesh.submesh(mesh.triangles[:, :, 2].mean(axis=1) > -25.0)
    other = trimesh.creation.icosphere(subdivisions=5)
    other.apply_transform(trimesh.transformations.rotation_matrix(0.7, [1.0, 2.0, 3.0]))
    second = TriMesh(other.vertices * [80.0, 55.0, 40.0], other.faces)
    second = second.submesh(second.triangles[:, :, 2].mean(axis=1) > -25.0)
    truth = rigid(rotations_from_vectors(np.array([0.5, 1.5, -0.8])), np.array([120.0, -40.0, 15.0]))
    scans = prepare(mesh.transformed(truth), second, 0)
    wanted = scans.in_clouds(truth)
    start = rigid(rotations_from_vectors(np.array([0.01, -0.015, 0.01])), np.array([0.4, -0.3, 0.3])) @ wanted
    fit = refine(scans.both, start, settled=1e-5)
    assert rotation_angle_deg(fit.matrix[:3, :3] @ wanted[:3, :3].T) < 0.02
    place = scans.both.impression.cloud.points
    assert np.linalg.norm(moved(fit.matrix, place) - moved(wanted, place), axis=1).max() < 0.03
