from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.near_faces import nearest_beside
from padwright.core.geometry.query import NearestSurface
from support.scanned import grid, sphere


def noisy_sheet() -> TriMesh:
    across = np.linspace(-60.0, 60.0, 81)
    sheet = grid(across, across, lambda x, y: 6.0 * np.sin(x / 17.0) * np.cos(y / 23.0))
    return TriMesh(sheet.vertices + np.random.default_rng(1).normal(0.0, 0.3, sheet.vertices.shape), sheet.faces)


def with_hole_filled_by_long_triangles() -> TriMesh:
    sheet = noisy_sheet()
    is_gone = np.hypot(*(sheet.face_middles[:, :2] - [15.0, 10.0]).T) < 14.0
    left = TriMesh(sheet.vertices, sheet.faces[~is_gone])
    border = left.boundary_edges
    around = border[np.hypot(*(sheet.vertices[border[:, 0], :2] - [15.0, 10.0]).T) < 25.0]
    first = around[0, 0]
    fan = [(first, end, start) for start, end in around if first not in (start, end)]
    return TriMesh(sheet.vertices, np.concatenate([left.faces, np.array(fan, dtype=np.int32)]))


def beside(mesh: TriMesh, count: int, off_mm: float) -> np.ndarray:
    random = np.random.default_rng(2)
    chosen = random.integers(0, len(mesh.vertices), count)
    return mesh.vertices[chosen] + random.normal(0.0, off_mm, (count, 3))


@pytest.mark.parametrize("off_mm", [0.4, 4.0, 60.0])
@pytest.mark.parametrize(
    "mesh", [noisy_sheet(), with_hole_filled_by_long_triangles(), sphere(30.0, 40, 80)], ids=["noisy", "filled", "ball"]
)
def test_finds_what_a_tree_over_the_mesh_finds(mesh, off_mm):
    points = beside(mesh, 1500, off_mm)
    found, tree = nearest_beside(mesh, points), NearestSurface(mesh).find(points)
    np.testing.assert_allclose(found.distance, tree.distance, atol=1e-9)
    # The place lies in the face that is named, as far off as is said; where two are as near either will do.
    own = TriMesh(mesh.vertices, mesh.faces[found.face])
    away = np.linalg.norm(points - found.point, axis=1)
    np.testing.assert_allclose(away, found.distance, atol=1e-12)
    normal_part = np.abs(np.einsum("ij,ij->i", found.point - own.triangles[:, 0], own.face_normals))
    assert normal_part.max() < 1e-9
    is_settled = np.linalg.norm(tree.point - found.point, axis=1) < 1e-6
    assert is_settled.mean() > 0.999


def test_few_faces_and_few_points():
    one = TriMesh(np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [0.0, 10.0, 0.0]]), np.array([[0, 1, 2]]))
    found = nearest_beside(one, np.array([[2.0, 3.0, 5.0], [-3.0, -4.0, 0.0], [8.0, 8.0, 0.0]]))
    assert found.distance == pytest.approx([5.0, 5.0, np.sqrt(18.0)])
    np.testing.assert_allclose(found.point, [[2.0, 3.0, 0.0], [0.0, 0.0, 0.0], [5.0, 5.0, 0.0]], atol=1e-12)
    assert len(nearest_beside(one, np.zeros((0, 3))).distance) == 0
