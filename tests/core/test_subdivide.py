"""Long edges are cut, the surface stays as it is."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.slabs import sheet

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.subdivide import subdivided
from padwright.core.stages.reading.impression import read_impression

DOWN = np.array([0.0, 0.0, -1.0])
HALF = (60.0, 45.0)


def clay(x, y):
    """A slab 20 mm thick with steep flanks and a dent of 6 mm."""
    edge = np.minimum(45.0 - np.abs(x), 30.0 - np.abs(y))
    return np.where(edge > 0.0, 20.0 - 6.0 * np.exp(-((x - 10.0) ** 2 + y**2) / (2.0 * 15.0**2)), 0.0)


def longest(mesh: TriMesh) -> float:
    ends = mesh.vertices[mesh.edges]
    return float(np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1).max())


def tetrahedron() -> TriMesh:
    corner = np.array([[0.0, 0.0, 0.0], [70.0, 0.0, 0.0], [0.0, 11.0, 0.0], [0.0, 0.0, 23.0]])
    colors = np.array([[0, 0, 0, 255], [200, 0, 0, 255], [0, 100, 0, 255], [0, 0, 50, 255]], dtype=np.uint8)
    return TriMesh(corner, np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]), colors)


@pytest.mark.parametrize("limit", [40.0, 12.0, 5.0, 1.3])
def test_no_edge_is_longer_than_asked_and_the_solid_is_the_same(limit):
    mesh = tetrahedron()
    cut = subdivided(mesh, limit)
    assert longest(cut) <= limit < longest(mesh)
    assert cut.is_closed
    assert cut.volume == pytest.approx(mesh.volume, rel=1e-12)
    assert cut.area == pytest.approx(mesh.area, rel=1e-12)
    assert np.array_equal(cut.vertices[:4], mesh.vertices)


def test_colors_run_evenly_between_the_ends():
    cut = subdivided(tetrahedron(), 36.0)
    middle = np.flatnonzero(np.linalg.norm(cut.vertices - [35.0, 0.0, 0.0], axis=1) < 1e-9)
    assert cut.colors[middle].tolist() == [[100, 0, 0, 255]]


def test_a_fine_mesh_is_handed_back():
    mesh = tetrahedron()
    assert subdivided(mesh, 100.0) is mesh


@pytest.mark.parametrize("step", [6.0, 7.5, 10.0])
def test_what_is_read_of_a_coarse_scan_is_what_a_fine_one_says(step):
    def reading(edge: float, limit: float):
        base, scan = sheet(lambda x, y: 0.0 * x, HALF, edge), sheet(clay, HALF, edge)
        cut = subdivided(scan, limit)
        return read_impression(base, cut, press_direction=DOWN, compare_sides=False, scanned_count=len(scan.vertices))

    fine, coarse, uncut = reading(1.5, 1e3), reading(step, 4.0), reading(step, 1e3)
    # The patch ends at a rise that triangles of `step` know to an eighth of that (its outline is some 160 mm).
    allowed_cm2 = step / 8.0 * 160.0 / 100.0
    assert coarse.contact_area_cm2 == pytest.approx(fine.contact_area_cm2, abs=allowed_cm2)
    assert abs(uncut.contact_area_cm2 - fine.contact_area_cm2) > 1.5 * allowed_cm2
    assert np.hypot(*(coarse.load_centers[0].position_mm[:2] - [10.0, 0.0])) < 0.5
    # A chord of `step` on the dent's round bottom lies up to step^2 / 8 r below it, r = 15^2 / 6 mm.
    assert 0.0 <= fine.load_centers[0].depth_mm - coarse.load_centers[0].depth_mm < step**2 / 8.0 / 37.5 + 0.2
