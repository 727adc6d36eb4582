"""A mesh cut by a plane, and outlines on pixels: against areas and volumes known by formula."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.cross_sections import cross_section
from padwright.core.geometry.cut_faces import cut_open
from padwright.core.geometry.filled import covered
from support.packing import block


def ends_meet(outline: np.ndarray) -> bool:
    """Say whether each end is the start of another piece, to the last bit."""
    start, end = (np.array(sorted(map(tuple, outline[:, each]))) for each in (0, 1))
    return np.array_equal(start, end)


@pytest.mark.parametrize("height", [2.3, 4.0, 5.0])  # 5: a row of corners lies on the plane
def test_a_block_is_cut_to_its_width_times_its_length(height):
    mesh = block((0, 0, 0), (30, 20, 10), 6)
    cut = cross_section(mesh, np.array([7.0, 3.0, height]), np.array([0, 0, 1.0]))
    assert cut.area == pytest.approx(600.0, rel=1e-12)
    assert ends_meet(cut.outline)
    assert cut.behind.bounds[1, 2] == height
    # What is left with the lid on: 2 x (30 + 20) of wall, the floor, and no lid.
    assert cut.behind.area == pytest.approx(100.0 * height + 600.0, rel=1e-12)


def test_a_slanting_cut_has_the_area_of_the_slanting_rectangle_and_the_solid_to_its_left():
    mesh = block((-10, -10, -10), (10, 10, 10), 7)
    normal = np.array([1.0, 0.0, 1.0])
    cut = cross_section(mesh, np.array([0.2, 0, 0]), normal)
    assert cut.area == pytest.approx(20.0 * (20.0 - 0.2) * np.sqrt(2.0), rel=1e-9)
    turn = 0.5 * np.cross(cut.outline[:, 0], cut.outline[:, 1]).sum(axis=0)
    assert turn @ normal / np.sqrt(2.0) == pytest.approx(cut.area, rel=1e-9)
    assert ends_meet(cut.outline)


def test_a_plane_beside_the_mesh_cuts_nothing_or_all():
    mesh = block((0, 0, 0), (3, 3, 3), 2)
    all_of_it = cross_section(mesh, np.array([0, 0, 5.0]), np.array([0, 0, 1.0]))
    assert (len(all_of_it.behind.faces), len(all_of_it.outline), all_of_it.area) == (len(mesh.faces), 0, 0.0)
    assert len(cross_section(mesh, np.array([0, 0, -5.0]), np.array([0, 0, 1.0])).behind.faces) == 0


def test_both_halves_of_a_part_with_a_channel_are_closed_and_add_up():
    outer, channel = block((0, 0, 0), (30, 20, 10), 5), block((4, 6, 3), (26, 15, 7), 3)
    faces = np.concatenate([outer.faces, channel.flipped().faces + len(outer.vertices)])
    part = TriMesh(np.concatenate([outer.vertices, channel.vertices]), faces)
    point, normal = np.array([11.0, 9.0, 4.4]), np.array([0.3, 1.0, 0.7])
    one, other = cut_open(part, point, normal), cut_open(part, point, -normal)
    assert one.mesh.volume + other.mesh.volume == pytest.approx(part.volume, rel=1e-12)
    for half, way in ((one, normal), (other, -normal)):
        area = cross_section(part, point, way).area
        assert half.mesh.face_areas[half.is_face].sum() == pytest.approx(area, rel=1e-9)
        facing = half.mesh.face_normals[half.is_face] @ way / np.linalg.norm(way)
        assert facing == pytest.approx(np.ones(len(facing)), abs=1e-9)
        assert half.is_face.sum() >= 6  # an outline of five or more corners around a hole of four


def test_a_cut_beside_the_part_has_no_face():
    cut = cut_open(block((0, 0, 0), (3, 3, 3), 2), np.array([0, 0, 9.0]), np.array([0, 0, 1.0]))
    assert not cut.is_face.any()
    assert cut.mesh.is_closed


def test_outlines_that_touch_in_a_corner_are_filled_each():
    one, two = block((0, 0, 0), (5, 5, 5), 1), block((5, 5, 0), (9, 9, 5), 1)
    faces = np.concatenate([one.faces, two.faces + len(one.vertices)])
    both = TriMesh(np.concatenate([one.vertices, two.vertices]), faces)
    cut = cut_open(both, np.array([0, 0, 2.0]), np.array([0, 0, 1.0]))
    assert cut.mesh.face_areas[cut.is_face].sum() == pytest.approx(25 + 16, rel=1e-12)
    assert cut.mesh.volume == pytest.approx(2.0 * (25 + 16), rel=1e-12)


def star(points: int, seed: int) -> np.ndarray:
    """Return pieces, (k, 2, 2), around a star of random spokes, within to the left on the screen (y down)."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, points))
    radius = rng.uniform(5.0, 28.0, points)
    corner = np.stack([40 + radius * np.cos(angle), 30 - radius * np.sin(angle)], axis=1)
    return np.stack([corner, np.roll(corner, -1, axis=0)], axis=1)


@pytest.mark.parametrize("seed", range(20))
def test_coverage_adds_up_to_the_area_and_leaves_no_streak(seed):
    pieces = star(9, seed)
    rng = np.random.default_rng(seed)
    share = covered(pieces[rng.permutation(len(pieces))], 80, 60)
    start, end = pieces[:, 0], pieces[:, 1]
    area = -0.5 * (start[:, 0] * end[:, 1] - start[:, 1] * end[:, 0]).sum()
    # Exact along the eight lines of a row; between them the trapezoid rule, off by at most the spokes' ends.
    assert share.sum() == pytest.approx(area, rel=0.01)
    low, high = pieces.reshape(-1, 2).min(axis=0), pieces.reshape(-1, 2).max(axis=0)
    y, x = np.mgrid[:60, :80]
    outside = (x + 1 < low[0]) | (x > high[0]) | (y + 1 < low[1]) | (y > high[1])
    assert np.abs(share[outside]).max() < 1e-12


def test_a_hole_is_not_covered_and_what_lies_off_the_picture_does_no_harm():
    def box(x0, y0, x1, y1):
        corner = np.array([(x0, y0), (x0, y1), (x1, y1), (x1, y0)], dtype=float)
        return np.stack([corner, np.roll(corner, -1, axis=0)], axis=1)

    pieces = np.concatenate([box(-30, 4, 14.25, 90), box(6, 8, 10.5, 12)[:, ::-1]])
    share = covered(pieces, 20, 16)
    expected = np.zeros((16, 20))
    expected[4:, :14] = 1.0
    expected[4:, 14] = 0.25
    expected[8:12, 6:10] = 0.0
    expected[8:12, 10] = 0.5
    assert np.allclose(share, expected, atol=1e-12)


def test_cut_faces_of_one_body_in_two_pieces_fill_the_whole_without_a_crack():
    left, right = block((0, 0, 0), (13.7, 20, 10), 3), block((13.7, 0, 0), (30, 20, 10), 4)
    faces = np.concatenate([left.faces, right.faces + len(left.vertices)])
    both = TriMesh(np.concatenate([left.vertices, right.vertices]), faces)
    outline = cross_section(both, np.array([0, 0, 3.3]), np.array([0, 0, 1.0])).outline
    share = covered(outline[:, :, :2] * [4.0, -4.0] + [0.0, 80.0], 120, 80)
    assert share.min() > 1.0 - 1e-9
