"""A dense scan goes on as a lighter copy: a clean surface where the scan is, its noise averaged; and how it is made."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.mesh import TriMesh
from padwright.core.base.together import both, together
from padwright.core.geometry.query import NearestSurface, nearest_of_few
from padwright.core.stages.scans.scan_facts import scan_facts
from padwright.core.stages.scans.working_copy import WORTH_IT, working_copy
from support.scanned import grid, sphere

NOISE_MM = 0.3


def bowl(step: float, noise: float = 0.0) -> TriMesh:
    """A bowl of 80 by 80 mm with a radius of 60 mm at its lowest place, scanned every `step` mm."""
    at = np.arange(-40.0, 40.0 + step / 2, step)
    mesh = grid(at, at, lambda x, y: (x**2 + y**2) / 120.0)
    return TriMesh(mesh.vertices + np.random.default_rng(4).normal(scale=noise, size=mesh.vertices.shape), mesh.faces)


def off_the_bowl(points: np.ndarray) -> np.ndarray:
    rise = points[:, 2] - (points[:, 0] ** 2 + points[:, 1] ** 2) / 120.0
    return rise / np.sqrt(1.0 + (points[:, 0] ** 2 + points[:, 1] ** 2) / 3600.0)


def test_a_scan_that_is_not_dense_stays_as_it_is() -> None:
    mesh = bowl(2.0)
    assert working_copy(mesh, int(len(mesh.vertices) / WORTH_IT) + 1) is None


@pytest.mark.parametrize("noise", [0.0, NOISE_MM])
def test_the_copy_is_one_clean_surface_where_the_scan_is_and_halves_its_noise(noise: float) -> None:
    mesh = bowl(0.4, noise)
    copy, facts = working_copy(mesh, 4000)
    found = scan_facts(copy)
    assert found.pieces == 1 and found.crowded_edges == found.turned_edges == found.repeated_faces == 0
    assert len(found.holes) == len(scan_facts(mesh).holes)
    assert len(copy.vertices) == pytest.approx(4000, rel=0.5)
    # It ends where the scan ends: a mean of all of a patch on the border would draw back by a third of its width.
    assert (np.abs(np.abs(copy.bounds[:, :2]) - 40.0) < 2.0 * noise + 0.15).all()
    off = off_the_bowl(copy.vertices)
    # A mean over a patch of radius 0.7 mm lies r^2 / 4 R = 0.002 mm inside; rest is noise of some ten points' mean.
    assert abs(off.mean()) < 0.004
    assert off.std() < 0.004 + 0.45 * noise
    assert facts.within_mm < 0.01 + 2.0 * noise and abs(facts.outside_mm) < 0.01
    assert (copy.vertex_normals[:, 2] > 0.0).all()
    assert f"{len(mesh.faces)} triangles" in facts.note("base scan", len(mesh.faces))


def test_colors_are_carried_along() -> None:
    mesh = bowl(0.5)
    colors = np.where(mesh.vertices[:, :1] > 0.0, [[250, 10, 10, 255]], [[10, 10, 250, 255]]).astype(np.uint8)
    copy, _ = working_copy(TriMesh(mesh.vertices, mesh.faces, colors), 3000)
    is_far = np.abs(copy.vertices[:, 0]) > 2.0
    assert (copy.colors[is_far, 0] == np.where(copy.vertices[is_far, 0] > 0.0, 250, 10)).all()


def test_few_points_find_what_a_tree_of_the_whole_mesh_finds() -> None:
    mesh = sphere(60)
    mesh = TriMesh(np.concatenate([mesh.vertices, [[1.0, 2.0, 3.0]]]), mesh.faces)  # a vertex that no face has
    points = np.random.default_rng(2).normal(scale=20.0, size=(1, 3))
    points = np.concatenate([points, [[0.0, 0.0, 0.0], [90.0, -3.0, 2.0]]])
    mesh = (
        mesh
        if len(mesh.faces) > 60_000
        else TriMesh(mesh.vertices, np.tile(mesh.faces, (1 + 70_000 // len(mesh.faces), 1)))
    )
    few, whole = nearest_of_few(mesh, points), NearestSurface(mesh).find(points)
    assert few.distance == pytest.approx(whole.distance, abs=1e-9)
    assert few.point[[0, 2]] == pytest.approx(whole.point[[0, 2]], abs=1e-6)


def test_open_borders_are_the_edges_without_an_opposite() -> None:
    mesh = bowl(4.0)
    chosen = np.random.default_rng(3).random(len(mesh.faces)) > 0.1  # holes, corners that meet in one vertex
    faces = np.concatenate([mesh.faces[chosen], mesh.faces[chosen][:5], mesh.faces[chosen][7:9, ::-1]])
    for each in (mesh, TriMesh(mesh.vertices, faces), sphere()):
        edges = [tuple(edge) for edge in each.edges.tolist()]
        known = set(edges)
        assert [tuple(edge) for edge in each.boundary_edges.tolist()] == [e for e in edges if e[::-1] not in known]


def test_works_done_together_keep_their_order_and_raise_the_first_error() -> None:
    assert together([lambda: 1, lambda: 2, lambda: 3]) == [1, 2, 3]
    assert both(lambda: "a", lambda: 2) == ("a", 2)
    for wrong in (together, lambda works: both(*works)):
        with pytest.raises(ZeroDivisionError):
            wrong([lambda: 1, lambda: 1 / 0])
