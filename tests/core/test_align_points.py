"""The averaged points that scans are laid on each other by, from scans of any density, and where they meet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.frames import rigid, rotations_from_vectors
from padwright.core.stages.alignment.cloud import make_cloud
from padwright.core.stages.alignment.prepared_scans import Scans, prepare
from padwright.core.stages.alignment.refine import explained
from support.cases import make_case
from support.scanned import grid

RADIUS_MM = 3.0  # of a board's rounded edge


def rounded_edge(step: float) -> TriMesh:
    """A quarter round with a flat on either side, scanned every `step` mm of its profile."""
    along = np.arange(0.0, 60.0 + step / 2, step)
    arc = 0.5 * np.pi * RADIUS_MM
    mesh = grid(along, np.arange(-12.0, arc + 12.0 + step / 2, step), lambda x, y: 0.0 * x)
    x, way = mesh.vertices[:, 0], mesh.vertices[:, 1]
    angle = np.clip(way, 0.0, arc) / RADIUS_MM
    before, after = np.minimum(way, 0.0), np.maximum(way - arc, 0.0)
    y = before + RADIUS_MM * np.sin(angle)
    z = RADIUS_MM * np.cos(angle) - after
    return TriMesh(np.stack([x, y, z], axis=1), mesh.faces)


def off_the_edge(mesh: TriMesh, is_dense: bool) -> float:
    """Return how far the averaged points of the round part lie off it, on average, mm; inside is negative."""
    turn = rotations_from_vectors(np.array([0.5, 0.2, 0.5]))  # the cells lie any way on it
    laid = mesh.transformed(rigid(turn, np.zeros(3)))
    cloud = make_cloud(laid, 2.0, np.random.default_rng(0), is_dense=is_dense)
    y, z = (cloud.points @ turn)[:, 1:].T
    is_round = (y > 0.3) & (z > 0.3) & ~cloud.is_edge
    return float((np.hypot(y[is_round], z[is_round]) - RADIUS_MM).mean())


def test_a_coarser_scan_of_a_rounded_edge_gives_the_same_points() -> None:
    fine, coarse = rounded_edge(0.5), rounded_edge(1.5)
    by_corners, drawn = (off_the_edge(coarse, way) - off_the_edge(fine, way) for way in (True, False))
    # A chord of length c lies two thirds of c^2 / 8 / 3 mm inside the round, on average: were points left on the flat
    # triangles, it would be 0.06 mm more at 1.5 than at 0.5.
    assert abs(drawn) < 0.015
    assert abs(by_corners) < 0.015


def test_wide_triangles_of_a_dense_scan_have_points_too() -> None:
    """A hole filled with two triangles of 40 mm: the plate's points lie as densely there as elsewhere."""
    at = np.arange(-40.0, 41.0)
    mesh = grid(at, at, lambda x, y: 0.0 * x)
    middle = mesh.triangles.mean(axis=1)
    is_out = (np.abs(middle[:, :2]) > 20.0).any(axis=1)
    corner = [int(np.linalg.norm(mesh.vertices - [x, y, 0.0], axis=1).argmin())
              for x, y in ((-20, -20), (20, -20), (20, 20), (-20, 20))]  # fmt: skip
    filled = TriMesh(mesh.vertices, np.concatenate([mesh.faces[is_out], [corner[:3], [corner[0], *corner[2:]]]]))
    cloud = make_cloud(filled, 2.5, np.random.default_rng(0), is_dense=True)
    asked = np.random.default_rng(1).uniform(-30.0, 30.0, (500, 2))
    away = cKDTree(cloud.points[:, :2]).query(asked)[0]
    assert away.max() < 2.5
    assert np.abs(cloud.points[:, 2]).max() < 1e-9 and (cloud.normals[:, 2] > 0.999).all()


@pytest.fixture(scope="module")
def scans() -> Scans:
    case = make_case("seat", triangles=20_000, debris=False, turntable=False)
    laid = case.impression_mm.transformed(case.impression_to_base)
    return prepare(case.base_mm, laid, 0)


def near_the_truth(scans: Scans) -> np.ndarray:
    return rigid(
        rotations_from_vectors(np.array([0.002, -0.001, 0.001])), np.array([0.2, 0.1, -0.1])
    ) @ scans.in_clouds(np.eye(4))


def test_a_grown_impression_meets_what_its_grown_points_would(scans: Scans) -> None:
    pose, factor, both = near_the_truth(scans), 1.01, scans.both
    cloud = replace(both.impression.cloud, points=factor * both.impression.cloud.points)
    grown = replace(
        both,
        impression=replace(both.impression, cloud=cloud, tree=cKDTree(cloud.points)),
        impression_at=replace(both.impression_at, points=factor * both.impression_at.points),
    )
    for found, meant in zip(both.matches(pose, 5.0, factor), grown.matches(pose, 5.0), strict=True):
        np.testing.assert_allclose(found.gap, meant.gap, atol=1e-9)
        np.testing.assert_allclose(found.distance, meant.distance, atol=1e-9)
        np.testing.assert_array_equal(found.is_seen, meant.is_seen)


def test_the_order_of_a_sample_changes_nothing_that_is_told(scans: Scans) -> None:
    pose = near_the_truth(scans)
    some = scans.both.first(500)
    assert len(some.base_at.points) == len(some.impression_at.points) == 500
    first, second = explained(some, pose, 1.0), explained(some.in_order(), pose, 1.0)
    assert first.score == pytest.approx(second.score, abs=1e-12)
    assert first.overlap == second.overlap
    np.testing.assert_allclose(np.sort(first.values), np.sort(second.values), atol=1e-12)
