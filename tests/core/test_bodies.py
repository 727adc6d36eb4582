"""Regions rounded for files: shared faces stay shared, degenerate triangles go, what is broken is named."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from padwright.core.base.errors import ExportError
from padwright.core.base.mesh import TriMesh
from padwright.core.stages.regions.bodies import RegionBody, check_body, mirrored, pack_bodies, rounded_counts
from padwright.core.stages.regions.collapse import is_flat, without_degenerate

TETRA = np.array([[0.0, 0, 0], [10, 0, 0], [0, 10, 0], [0, 0, 10]])
TETRA_FACES = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])


@dataclass(frozen=True)
class Region:
    id: str
    mesh: TriMesh
    name: str = "Heel"
    firmness_level: float = 2.0


def slabs(step: float, seed: int = 0, size: int = 40) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return vertices and the faces of two boxes of noisy grids, one on the other, that share the grid between them."""
    rng = np.random.default_rng(seed)
    x, y = np.meshgrid(np.arange(size) * step, np.arange(size) * step)
    sheets = []
    for height in (0.0, 5.0, 10.0):
        noise = rng.normal(0.0, 0.3 * step, (3, size, size))
        sheets.append(np.stack([x + noise[0], y + noise[1], height + noise[2]], axis=-1).reshape(-1, 3))
    index = np.arange(size * size).reshape(size, size)
    a, b, c, d = (part.ravel() for part in (index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]))
    top = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    rim = np.concatenate([index[0, :-1], index[:-1, -1], index[-1, :0:-1], index[:0:-1, 0]])
    following = np.roll(rim, -1)
    count = size * size
    wall = np.concatenate(
        [np.column_stack([rim, following, following + count]), np.column_stack([rim, following + count, rim + count])]
    )
    box = np.concatenate([top[:, ::-1], wall, top + count])
    return np.concatenate(sheets), box, box + count


def test_rounding_is_to_the_nearest_step_of_a_ten_thousandth():
    vertices = np.random.default_rng(0).uniform(-300, 300, (1000, 3))
    assert np.abs(rounded_counts(vertices) / 10_000 - vertices).max() <= 0.5e-4 + 1e-10


@pytest.mark.parametrize("value", [np.nan, np.inf, 1.0e5, -2.0e6])
def test_a_coordinate_that_no_file_can_hold_is_named(value):
    vertices = TETRA.copy()
    vertices[2, 1] = value
    with pytest.raises(ExportError, match="Vertex 2 lies at"):
        rounded_counts(vertices)


@pytest.mark.parametrize("step", [0.0003, 0.0002, 0.00015])
def test_a_mesh_finer_than_the_step_stays_closed_and_keeps_its_volume(step):
    """Edges of 1.5 to 3 steps: rounding alone makes triangles without area, and edges without length."""
    vertices, lower, _ = slabs(step)
    mesh = TriMesh(vertices, lower)
    counts = rounded_counts(mesh.vertices)
    corner = counts[mesh.faces]
    assert (np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]) == 0).all(axis=1).any()
    body = pack_bodies([Region("a", mesh)])[0]
    assert body.mesh.is_closed
    assert len(body.notes) == 1
    # A corner moves by half a step at most, so the volume by no more than half a step times the area.
    assert abs(body.mesh.volume - mesh.volume) <= 0.5e-4 * 3**0.5 * mesh.area


@pytest.mark.parametrize("step", [0.0003, 0.0002, 0.00015])
def test_a_shared_face_stays_the_same_in_both_regions(step):
    vertices, lower, upper = slabs(step)
    shuffle = np.random.default_rng(1).permutation(len(vertices))
    other = np.zeros_like(vertices)
    other[shuffle] = vertices
    bodies = pack_bodies([Region("a", TriMesh(vertices, lower)), Region("b", TriMesh(other, shuffle[upper][::-1]))])
    middle = []
    for body, turn in zip(bodies, (1, -1), strict=True):
        corner = body.counts[body.faces]
        flat = corner[np.abs(corner[:, :, 2] - 50_000).max(axis=1) < 100]
        flat = flat[:, ::turn]
        first = np.lexsort(flat.transpose(2, 0, 1)[::-1], axis=-1)[:, 0]
        flat = np.stack([flat[np.arange(len(flat)), (first + k) % 3] for k in range(3)], axis=1).reshape(len(flat), 9)
        middle.append(np.unique(flat, axis=0))
    assert len(middle[0]) > 100
    assert np.array_equal(middle[0], middle[1])


def test_a_triangle_without_area_on_a_spike_is_taken_out():
    """A tetrahedron with a corner of three faces folded back over an edge: no edge can be flipped."""
    counts = np.array([[0, 0, 0], [12, 0, 0], [0, 10, 0], [4, 0, 0], [6, 0, 0]]) * 1000
    counts = np.concatenate([counts, [[0, 0, 10_000]]])
    # Corner 4 lies beyond 3 on the edge from 0 to 1; three faces lead to it out of the face (0, 3, 5).
    faces = np.array([[0, 2, 3], [3, 2, 1], [0, 3, 4], [3, 5, 4], [0, 4, 5], [3, 1, 5], [1, 2, 5], [0, 5, 2]])
    assert is_flat(counts, faces).sum() == 1
    result = without_degenerate(counts, faces)
    body = RegionBody("a", "a", 1.0, counts, result)
    check_body(body)
    assert body.mesh.volume == pytest.approx(12.0 * 10.0 * 10.0 / 6.0 * 1e-3)


def test_a_triangle_whose_corner_lies_on_its_edge_is_taken_out():
    """A tetrahedron with one edge split on one side only by a triangle without area."""
    counts = np.array([[0, 0, 0], [10, 0, 0], [0, 10, 0], [0, 0, 10], [4, 0, 0]]) * 1000
    faces = np.array([[0, 2, 4], [4, 2, 1], [0, 4, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
    result = without_degenerate(counts, faces)
    body = RegionBody("a", "a", 1.0, counts, result)
    check_body(body)
    assert len(result) == len(faces)
    assert body.mesh.volume * 6 == pytest.approx(1.0)


def test_a_mesh_without_flat_triangles_is_left_as_it_is():
    vertices, faces, _ = slabs(1.0)
    assert np.array_equal(without_degenerate(rounded_counts(vertices), faces), faces)


@pytest.mark.parametrize(
    ("faces", "words"),
    [
        (TETRA_FACES[:3], "has 3 triangles"),
        (np.concatenate([TETRA_FACES[:3], [[0, 2, 3]]]), "6 edges are not on two triangles turned alike"),
        (TETRA_FACES[:, ::-1], "has the volume -166.667 mm3"),
        (np.concatenate([TETRA_FACES, TETRA_FACES]), "edges are not on two triangles"),
    ],
)
def test_a_broken_region_is_refused_with_its_name(faces, words):
    with pytest.raises(ExportError, match=words) as caught:
        pack_bodies([Region("a", TriMesh(TETRA, faces), name="Left heel")])
    assert "Left heel" in caught.value.message


def test_no_region_or_one_id_twice_is_refused():
    with pytest.raises(ExportError, match="no region"):
        pack_bodies([])
    region = Region("a", TriMesh(TETRA, TETRA_FACES))
    with pytest.raises(ExportError, match='id "a"'):
        pack_bodies([region, region])


@pytest.mark.parametrize("press", [None, [0, 0, -1.0], [0.6, 0, -0.8], [0.0, 1.0, 0.0], [0.5, 0.5, 2**-0.5]])
def test_the_mirrored_part_is_the_same_part_for_the_other_side(press):
    press = None if press is None else np.array(press)
    rng = np.random.default_rng(2)
    vertices, lower, upper = slabs(3.0)
    regions = [Region("a", TriMesh(vertices, lower)), Region("b", TriMesh(vertices + 0.0, upper))]
    mirror = mirrored(regions, press)
    normal = mirror.plane_normal
    assert np.linalg.norm(normal) == pytest.approx(1.0)
    assert press is None or abs(normal @ press) < 1e-12
    for before, after in zip(regions, mirror.regions, strict=True):
        assert after.mesh.is_closed
        assert after.mesh.volume == pytest.approx(before.mesh.volume, rel=1e-9)
        # Distances stay, handedness turns: det of any three edge vectors changes its sign.
        pick = rng.integers(0, len(before.mesh.vertices), (50, 4))
        one = before.mesh.vertices[pick][:, 1:] - before.mesh.vertices[pick][:, :1]
        two = after.mesh.vertices[pick][:, 1:] - after.mesh.vertices[pick][:, :1]
        assert np.allclose(np.linalg.norm(one, axis=2), np.linalg.norm(two, axis=2))
        assert np.allclose(np.linalg.det(one), -np.linalg.det(two))
    # Mirrored twice it is the first part again, but for a shift: the middle of the bounds may have moved.
    shift = mirrored(mirror.regions, press).regions[0].mesh.vertices - regions[0].mesh.vertices
    assert np.ptp(shift, axis=0).max() < 1e-9


def test_shared_faces_stay_identical_when_mirrored():
    vertices, lower, upper = slabs(3.0)
    parts = [TriMesh(vertices, faces).submesh(np.ones(len(faces), dtype=bool)) for faces in (lower, upper)]
    mirror = mirrored([Region("a", part) for part in parts], np.array([0.48, 0.6, -0.64]))
    one = {tuple(row) for row in mirror.regions[0].mesh.vertices.tolist()}
    two = {tuple(row) for row in mirror.regions[1].mesh.vertices.tolist()}
    assert len(one & two) == 1600


def test_mesh_hash_follows_the_stated_rule():
    """SHA-256 over int64 counts, then uint32 corners, little endian, worked out here by hand with struct."""
    import hashlib
    import struct

    body = pack_bodies([Region("a", TriMesh(TETRA, TETRA_FACES))])[0]
    data = b"".join(struct.pack("<3q", *(round(value * 10_000) for value in row)) for row in TETRA.tolist())
    data += b"".join(struct.pack("<3I", *row) for row in TETRA_FACES.tolist())
    assert body.mesh_sha256 == hashlib.sha256(data).hexdigest()
    assert replace(body, counts=body.counts + 1).mesh_sha256 != body.mesh_sha256
