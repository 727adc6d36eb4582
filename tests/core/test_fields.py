import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.fields import (
    chains,
    face_gradients,
    harmonic,
    pieces,
    smoothed,
    stiffness,
    vertex_gradients,
)


def plane(count: int = 41, half: float = 20.0, jitter: float = 0.0, seed: int = 0) -> TriMesh:
    """A square in the plane z = 0.3 x - 0.2 y, its inner vertices moved at random by a share of the spacing."""
    axis = np.linspace(-half, half, count)
    x, y = (part.ravel() for part in np.meshgrid(axis, axis, indexing="ij"))
    inner = (np.abs(x) < half - 1e-9) & (np.abs(y) < half - 1e-9)
    move = np.random.default_rng(seed).uniform(-1, 1, (2, len(x))) * jitter * (axis[1] - axis[0]) * inner
    x, y = x + move[0], y + move[1]
    index = np.arange(count * count).reshape(count, count)
    a, b, c, d = index[:-1, :-1].ravel(), index[1:, :-1].ravel(), index[1:, 1:].ravel(), index[:-1, 1:].ravel()
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    return TriMesh(np.stack([x, y, 0.3 * x - 0.2 * y], 1), faces)


def is_inner(mesh: TriMesh) -> np.ndarray:
    inner = np.ones(len(mesh.vertices), dtype=bool)
    inner[mesh.boundary_edges.ravel()] = False
    return inner


def test_the_cotangent_laplacian_of_a_linear_field_vanishes():
    mesh = plane(jitter=0.3)
    field = 2.0 * mesh.vertices[:, 0] - mesh.vertices[:, 1] + 5.0
    assert np.abs((stiffness(mesh) @ field)[is_inner(mesh)]).max() < 1e-10


def test_the_cotangent_laplacian_is_that_of_libigl():
    import igl

    mesh = plane(15, jitter=0.35)
    # libigl's sign is the opposite: its matrix is negative semidefinite
    assert np.abs((stiffness(mesh) + igl.cotmatrix(mesh.vertices, mesh.faces.astype(np.int64))).toarray()).max() < 1e-12


def test_an_unknown_kind_of_laplacian_is_refused():
    with pytest.raises(InputError, match='Kind "cotan" of stiffness is not known'):
        stiffness(plane(3), "cotan")


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


def test_the_harmonic_field_of_linear_border_values_is_linear():
    mesh = plane(21)
    field = mesh.vertices[:, 0] - 3.0 * mesh.vertices[:, 1]
    assert harmonic(mesh, ~is_inner(mesh), field) == pytest.approx(field, abs=1e-3)


def test_gradients_of_a_linear_field_are_exact():
    mesh = plane(jitter=0.4)
    slope = np.array([1.0, 2.0, -0.5])
    across = slope - mesh.face_normals * (mesh.face_normals @ slope)[:, None]
    assert face_gradients(mesh, mesh.vertices @ slope) == pytest.approx(across, abs=1e-10)
    assert vertex_gradients(mesh, mesh.vertices @ slope) == pytest.approx(np.tile(across[0], (41**2, 1)), abs=1e-10)


def test_chains_join_links_into_open_and_closed_paths():
    paths = chains(np.array([5, 1, 2, 8, 9]), np.array([6, 2, 3, 9, 8]))
    assert sorted(map(tuple, paths), key=len) == [(5, 6), (1, 2, 3), (8, 9, 8)]


def test_pieces_follow_labels():
    mesh = plane(9)
    label = np.sign(np.round(mesh.vertices[:, 0], 6)).astype(int) * np.sign(mesh.vertices[:, 1] + 0.1).astype(int)
    found = pieces(mesh, label)
    # four quadrants, whose labels agree only across the corner, and the line x = 0 between them
    assert len(np.unique(found)) == 5
    assert len(np.unique(pieces(mesh))) == 1
