"""The mid-plane of a part, found in any pose, and refused where there is none."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.errors import InputError, SolveError
from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.frames import moved, rigid, rotations_from_vectors
from padwright.core.geometry.mid_plane import mesh_mid_plane, mid_plane

MOTION = rigid(rotations_from_vectors(np.array([0.7, -0.3, 1.9])), np.array([40.0, 300.0, -80.0]))


def hilly(skew: float, count: int = 3000) -> tuple[np.ndarray, np.ndarray]:
    """Points and normals of a height field that mirrors itself in x = 0, and with skew in no plane."""
    x, y = (np.random.default_rng(3).uniform(-1.0, 1.0, (count, 2)) * [150.0, 100.0]).T
    hill = 8.0 * np.exp(-((y - 60.0) ** 2) / 800.0)
    z = 0.003 * x**2 + 0.15 * y + 0.0009 * y**2 + hill + skew * (x * y / 60.0 + x**3 / 15000.0)
    slope_x = 0.006 * x + skew * (y / 60.0 + x**2 / 5000.0)
    slope_y = 0.15 + 0.0018 * y - hill * (y - 60.0) / 400.0 + skew * x / 60.0
    normal = np.column_stack([-slope_x, -slope_y, np.ones_like(x)])
    return np.column_stack([x, y, z]), normal / np.linalg.norm(normal, axis=1, keepdims=True)


def test_mid_plane_of_a_symmetric_part_in_any_pose() -> None:
    points, normals = hilly(0.0)
    found = mid_plane(moved(MOTION, points), normals @ MOTION[:3, :3].T)
    # Nearest points lie some 2 mm aside: on hills of 40 mm radius their planes miss by up to 0.05 mm.
    assert abs(found.normal @ MOTION[:3, 0]) > np.cos(np.radians(0.05))
    assert abs((found.point - MOTION[:3, 3]) @ found.normal) < 0.05
    assert found.runner_up_mm > 3.0 * found.rms_mm


def test_one_sided_holes_do_not_move_the_plane() -> None:
    points, normals = hilly(0.0)
    is_hole = np.hypot(points[:, 0] - 90.0, points[:, 1]) < 40.0
    found = mid_plane(points[~is_hole], normals[~is_hole])
    assert abs(found.normal[0]) > np.cos(np.radians(0.1))


def test_a_part_without_mid_plane_is_refused() -> None:
    with pytest.raises(SolveError, match="no mid-plane"):
        mid_plane(*hilly(1.0))


def test_too_few_points_are_refused() -> None:
    with pytest.raises(InputError, match="50 points"):
        mid_plane(np.zeros((10, 3)), np.zeros((10, 3)))


def test_mid_plane_of_a_mesh() -> None:
    x, y = np.meshgrid(np.linspace(-150.0, 150.0, 101), np.linspace(-100.0, 100.0, 71), indexing="ij")
    z = 0.003 * x**2 + 0.15 * y + 8.0 * np.exp(-((y - 60.0) ** 2) / 800.0)
    corner = np.arange(x.size).reshape(x.shape)
    low, high = corner[:-1, :-1].ravel(), corner[1:, 1:].ravel()
    right, left = corner[1:, :-1].ravel(), corner[:-1, 1:].ravel()
    faces = np.concatenate([np.column_stack([low, right, high]), np.column_stack([low, high, left])])
    found = mesh_mid_plane(TriMesh(np.column_stack([x.ravel(), y.ravel(), z.ravel()]), faces).transformed(MOTION))
    assert abs(found.normal @ MOTION[:3, 0]) > np.cos(np.radians(0.05))
